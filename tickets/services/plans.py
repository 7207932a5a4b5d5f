"""What the field asks of the office: may a dig be planned then, who has seen the verdict, when is the next."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from tickets import evidence
from tickets.models import Job
from tickets.selectors import fresh_facts, verdict_of
from tickets.services.refusals import WindowRefused, need_person
from tickets.services.writing import conclude, verdict_digest
from tickets.verdict import Facts, Verdict, Window, dig_windows, first_lawful_start, verdict
from tickets.verdict.emergency import open_emergency
from tickets.verdict.words import instant_words


def check_dig_visit(*, job: Job, starts_at: datetime, ends_at: datetime, now: datetime) -> Verdict:
    """The verdict as it would stand at the visit's start if nothing more is learnt, when the visit lies
    inside a window; the answers may still come. Raises WindowRefused with the reasons and the first lawful
    instant for a visit of that length. Under an open emergency any time is let through."""
    facts = fresh_facts(job.pk)
    windows = dig_windows(facts, now)
    lawful = any(window.holds(starts_at, ends_at) for window in windows)
    if not lawful and open_emergency(facts, now) is None:
        raise _refusal(facts, windows, starts_at, ends_at, now)
    return verdict(facts, max(starts_at, now))


def _refusal(
    facts: Facts, windows: tuple[Window, ...], starts_at: datetime, ends_at: datetime, now: datetime
) -> WindowRefused:
    zone = facts.time_zone
    first = first_lawful_start(windows, now, ends_at - starts_at)
    reasons = _reasons(facts, windows, starts_at, ends_at, now)
    if first is not None:
        offer = f"The first lawful start for a visit of this length is {instant_words(first, zone)}."
    elif windows:
        offer = "No window on file is long enough from now on: renew, give a new notice, or plan less."
    else:
        offer = "No lawful start is known: " + " ".join(verdict(facts, now).would_change[:2])
    return WindowRefused(
        f"A dig cannot be planned from {instant_words(starts_at, zone)} to {instant_words(ends_at, zone)}. "
        f"{' '.join(reasons)} {offer}",
        reasons=tuple(reasons),
        first_lawful_at=first,
    )


def _reasons(
    facts: Facts, windows: tuple[Window, ...], starts_at: datetime, ends_at: datetime, now: datetime
) -> list[str]:
    zone = facts.time_zone
    if not windows:
        return [reason.words for reason in verdict(facts, now).reasons if reason.blocks]
    reasons = []
    for window in windows:
        numbers = ", ".join(window.tickets)
        if starts_at < window.opens_at:
            opens = instant_words(window.opens_at, zone)
            reasons.append(f"Under ticket {numbers} digging may begin {opens}, not before.")
        elif window.closes_at is not None and ends_at > window.closes_at:
            reasons.append(f"Ticket {numbers} ends {instant_words(window.closes_at, zone)}.")
    return reasons


@transaction.atomic
def plan_next_dig(*, job: Job, starts_at: datetime | None, actor: Any, now: datetime) -> None:
    """Tell the office when the next dig is planned, None when none is: a re-check falls due before it."""
    need_person(actor)
    job = evidence.lock_job(job.pk)
    if job.next_dig_at == starts_at:
        return
    job.next_dig_at = starts_at
    job.save(update_fields=["next_dig_at"])
    evidence.append(job=job, kind="dig_planned", actor=actor, at=now, payload={"starts_at": starts_at})
    conclude(job=job, actor=actor, now=now)


@transaction.atomic
def acknowledge_verdict(*, job: Job, actor: Any, now: datetime) -> Verdict:
    """Log that this person saw the verdict as it stands now."""
    need_person(actor)
    job = evidence.lock_job(job.pk)
    found = verdict_of(job, now)
    payload = {
        "state": found.state,
        "sentence": found.sentence,
        "verdict_digest": verdict_digest(found),
        "tickets": found.tickets,
    }
    evidence.append(job=job, kind="verdict_seen", actor=actor, at=now, payload=payload)
    return found


@transaction.atomic
def refresh_job(*, job: Job, now: datetime, actor: Any = None) -> Verdict:
    """Derive everything anew, as after a change of the law's data; logs only what has changed."""
    return conclude(job=evidence.lock_job(job.pk), actor=actor, now=now)
