"""Due rows: claimed one by one with a lease, settled exactly once in effect, tried again after a fault.

A claim is a conditional update that must change exactly one row. Settling writes the log entry and
`done_at` in one transaction and only while the claim's token still stands, so a second worker, a second
delivery or a claim whose lease ran out changes nothing.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import F, Q

from tickets import evidence
from tickets.models import FollowUp
from tickets.services.writing import conclude
from tickets.states import FOLLOW_UP, Act, Life

LEASE = timedelta(minutes=5)
FIRST_RETRY = timedelta(seconds=30)
LONGEST_RETRY = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Claim:
    """A due row taken by one worker. The token proves the claim."""

    follow_up_id: int
    token: str


def claim_due(*, now: datetime, limit: int = 100) -> list[Claim]:
    """Claim up to `limit` rows that are due, not settled and not held by a live claim, oldest first."""
    free = _free(now)
    candidates = FollowUp.objects.filter(free, due_at__lte=now).order_by("due_at", "pk")
    claims = []
    for pk in list(candidates.values_list("pk", flat=True)[:limit]):
        token = secrets.token_hex(16)
        changed = FollowUp.objects.filter(free, pk=pk).update(
            claimed_at=now, claim_token=token, attempts=F("attempts") + 1
        )
        if changed == 1:
            claims.append(Claim(pk, token))
    return claims


def _free(now: datetime) -> Q:
    assert FOLLOW_UP[Life.OPEN, Act.CLAIM] is Life.CLAIMED
    unheld = Q(claimed_at=None) | Q(claimed_at__lte=now - LEASE)
    rested = Q(next_attempt_at=None) | Q(next_attempt_at__lte=now)
    return unheld & rested & Q(done_at=None, superseded_at=None)


def settle_follow_up(*, follow_up_id: int, claim_token: str, now: datetime) -> bool:
    """Do what the row asks, once: whether this call did it. A fault is kept on the row, which then rests
    twice as long after each attempt, and is raised."""
    try:
        with transaction.atomic():
            return _settle(follow_up_id, claim_token, now)
    except Exception as fault:
        _note_fault(follow_up_id, claim_token, fault, now)
        raise


def _settle(follow_up_id: int, claim_token: str, now: datetime) -> bool:
    held = FollowUp.objects.filter(pk=follow_up_id, claim_token=claim_token, done_at=None, superseded_at=None)
    row = held.select_related("ticket").first()
    if row is None:
        return False
    job = evidence.lock_job(row.job_id)
    if held.update(done_at=now, last_error="") != 1:
        return False
    payload = {
        "kind": row.kind,
        "ticket": None if row.ticket is None else row.ticket.number,
        "due_at": row.due_at,
        "message": row.message,
    }
    evidence.append(job=job, kind="follow_up_due", actor=None, at=now, payload=payload)
    conclude(job=job, actor=None, now=now)
    return True


def _note_fault(follow_up_id: int, claim_token: str, fault: Exception, now: datetime) -> None:
    row = FollowUp.objects.filter(pk=follow_up_id, claim_token=claim_token, done_at=None)
    attempts = row.values_list("attempts", flat=True).first()
    if attempts is None:
        return
    rest = min(FIRST_RETRY * 2 ** min(attempts - 1, 20), LONGEST_RETRY)
    row.update(
        claimed_at=None,
        claim_token="",
        next_attempt_at=now + rest,
        last_error=f"{type(fault).__name__}: {fault}"[:2000],
    )
