"""Thin tasks of the field: claim due rows, call a service. Safe to run twice and to lose."""

from __future__ import annotations

import logging

from celery import shared_task

from crews.services.reminders import claim_reminders, send_reminder
from locates import clock

log = logging.getLogger(__name__)


@shared_task(name="crews.tasks.sweep_reminders")  # type: ignore[untyped-decorator]
def sweep_reminders() -> int:
    """Send what is due about equipment; how many letters. A fault stays on its row and is tried again."""
    sent = 0
    for claim in claim_reminders(now=clock.now()):
        try:
            sent += send_reminder(reminder_id=claim.reminder_id, token=claim.token, now=clock.now())
        except Exception:
            log.exception("reminder %s could not be sent; it will be tried again", claim.reminder_id)
    return sent
