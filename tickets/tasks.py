"""Thin tasks: claim due rows, hand each to a task, call the service. Safe to run twice and to lose."""

from __future__ import annotations

import logging

from celery import shared_task

from locates import clock
from locates.rest.forget import forget_answered
from tickets.services import claim_due, settle_follow_up

log = logging.getLogger(__name__)


@shared_task(name="tickets.tasks.sweep_due")  # type: ignore[untyped-decorator]
def sweep_due() -> int:
    """Claim what is due and hand each row to `settle_due`; how many. Beat calls it."""
    claims = claim_due(now=clock.now())
    for claim in claims:
        settle_due.delay(claim.follow_up_id, claim.token)
    return len(claims)


@shared_task(name="tickets.tasks.settle_due")  # type: ignore[untyped-decorator]
def settle_due(follow_up_id: int, claim_token: str) -> bool:
    """Settle one claimed row. A fault stays on the row, which the sweep takes up again after its rest."""
    try:
        return settle_follow_up(follow_up_id=follow_up_id, claim_token=claim_token, now=clock.now())
    except Exception:
        log.exception("follow-up %s could not be settled; it will be tried again", follow_up_id)
        return False


@shared_task(name="tickets.tasks.forget_answered_writes")  # type: ignore[untyped-decorator]
def forget_answered_writes() -> int:
    """Let go of answers to writes of long ago, a part at a time; how many. Beat calls it."""
    return forget_answered(now=clock.now())
