"""`manage.py work`: the worker and the clock that wakes it, in one process without Redis."""

from __future__ import annotations

import signal
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from locates.background import Background
from locates.celery import app


class Command(BaseCommand):
    help = "Do due work (reminders, follow-ups) in this process, without Redis. Stop with Ctrl-C."

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.REDIS_URL:
            raise CommandError(
                "REDIS_URL is set: run `celery -A locates.celery worker` and `celery -A locates.celery beat`."
            )
        background = Background(app)
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, lambda _number, _frame: background.ask())
        background.start()
        background.wait()
        if not background.stop():
            raise CommandError("The worker did not stop in time.")
