"""The Celery app. Its settings are the CELERY_ names of locates.settings."""

from __future__ import annotations

import os

from celery import Celery
from celery.signals import setup_logging

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "locates.settings")

app = Celery("firstspade")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
app.set_default()


def keep_django_logging(**_: object) -> None:
    """Celery adds no handlers of its own; LOGGING in the settings stands."""


setup_logging.connect(keep_django_logging)
