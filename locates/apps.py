"""The project's own app: loads the Celery app and the system checks once Django is ready."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig


class LocatesConfig(AppConfig):
    name = "locates"
    label = "locates"

    def ready(self) -> None:
        # Here and not in locates/__init__.py: importing locates.law must load neither Django nor Celery.
        for module in ("locates.celery", "locates.checks"):
            import_module(module)
