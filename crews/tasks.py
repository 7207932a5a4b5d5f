"""Thin tasks of the field: claim due rows, call a service. Safe to run twice and to lose."""

from __future__ import annotations

import logging

from celery import shared_task
from celery.signals import worker_ready

from crews import services
from crews.planning.search.warm import compile_ahead
from crews.services.push import claim_pushes, send_push
from crews.services.register_money import keep_money
from crews.services.reminders import claim_reminders, send_reminder
from locates import clock

log = logging.getLogger(__name__)


@worker_ready.connect  # type: ignore[untyped-decorator]
def get_planner_ready(**_: object) -> None:
    """A worker of its own (with Redis) has the planner's search compiled before the first plan is asked for."""
    compile_ahead()


@shared_task(name="crews.tasks.sweep_reminders")  # type: ignore[untyped-decorator]
def sweep_reminders() -> int:
    """Send what is due about equipment, by letter and to people's browsers; how many went out. A fault stays on
    its row and is tried again. Last, the register's money is reckoned where it has changed."""
    sent = 0
    for claim in claim_reminders(now=clock.now()):
        try:
            sent += send_reminder(reminder_id=claim.reminder_id, token=claim.token, now=clock.now())
        except Exception:
            log.exception("reminder %s could not be sent; it will be tried again", claim.reminder_id)
    for taken in claim_pushes(now=clock.now()):
        try:
            sent += send_push(message_id=taken.message_id, token=taken.token, now=clock.now())
        except Exception:
            log.exception("message %s to a browser could not be sent; it will be tried again", taken.message_id)
    keep_money(now=clock.now())
    return sent


@shared_task(name="crews.tasks.sweep_plans")  # type: ignore[untyped-decorator]
def sweep_plans() -> int:
    """Hand every waiting plan to `compute_plan`; how many. Beat calls it."""
    waiting = services.plans_waiting(clock.now())
    for plan_id in waiting:
        compute_plan.delay(plan_id)
    return len(waiting)


@shared_task(name="crews.tasks.compute_plan")  # type: ignore[untyped-decorator]
def compute_plan(plan_id: int) -> bool:
    """Compute one plan; a second delivery finds it claimed and does nothing."""
    return services.compute_plan(plan_id=plan_id, tick=clock.now)
