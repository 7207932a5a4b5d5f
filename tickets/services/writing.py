"""The frame of every write: lock the job, check that the step is possible; afterwards derive all anew.

`conclude` is called at the end of every write and by the sweep. It depends on the facts alone, so calling
it again changes nothing and logs nothing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import datetime
from typing import Any

import rfc8785

from tickets import deadlines, evidence
from tickets.models import Job, Ticket
from tickets.selectors import fresh_job
from tickets.states import JOB, TICKET, Act, after
from tickets.verdict import Verdict, verdict


def open_job(job: Job, act: Act) -> Job:
    """The job, locked; refused when its state does not allow the act."""
    locked = evidence.lock_job(job.pk)
    after(JOB, locked.life, act, what=f"Job {locked.number}")
    return locked


def open_ticket(ticket: Ticket, act: Act) -> Ticket:
    """The ticket as it is now, its job locked; refused when either does not allow the act."""
    job = open_job(Job(pk=ticket.job_id), Act.CORRECT if act is Act.CORRECT else Act.RECORD)
    found = Ticket.objects.select_related("renews", "follows").get(pk=ticket.pk)
    found.job = job
    after(TICKET, found.life, act, what=f"Ticket {found.number}")
    return found


def conclude(*, job: Job, actor: Any, now: datetime) -> Verdict:
    """Windows, verdict, its stored copy, the log and the follow-ups, all as the facts now ask. The job
    comes from `evidence.lock_job` (or was made just now), so that it is as the database has it."""
    for ticket in deadlines.derive_windows(job):
        evidence.append(job=job, kind="window_computed", actor=actor, at=now, payload=window_payload(ticket))
    loaded, facts = fresh_job(job.pk)
    found = verdict(facts, now)
    digest = verdict_digest(found)
    if digest != job.verdict_digest:
        evidence.append(
            job=job, kind="verdict_given", actor=actor, at=now, payload=verdict_payload(job, found, digest)
        )
    tickets = list(loaded.tickets.all())
    _store(job, found, digest, now, {ticket.number: ticket.pk for ticket in tickets})
    deadlines.derive_follow_ups(job, found, now, tickets)
    return found


def window_payload(ticket: Ticket) -> dict[str, Any]:
    """The computed window with the rule's version, digest and trace."""
    return {
        "ticket": ticket.number,
        **{name: getattr(ticket, name) for name in deadlines.WINDOW_FIELDS},
    }


def verdict_digest(found: Verdict) -> str:
    """SHA-256 of what the verdict says, apart from when it may change next."""
    said = {key: value for key, value in found.as_json().items() if key != "next_change_at"}
    return hashlib.sha256(rfc8785.dumps(said)).hexdigest()


def verdict_payload(job: Job, found: Verdict, digest: str) -> dict[str, Any]:
    """What was said, and on which versions of the law it rests."""
    rules = job.tickets.exclude(rule_version="").order_by("pk").values("number", "rule_version", "rule_digest")
    return {**found.as_json(), "verdict_digest": digest, "rules": list(rules)}


def _store(job: Job, found: Verdict, digest: str, now: datetime, tickets: Mapping[str, int]) -> None:
    stored = {
        "verdict_state": str(found.state),
        "verdict_sentence": found.sentence[:400],
        "verdict_at": now,
        "verdict_next_change_at": found.next_change_at,
        "verdict_digest": digest,
        "governing_ticket_id": tickets.get(found.tickets[0]) if found.tickets else None,
    }
    Job.objects.filter(pk=job.pk).update(**stored)
    for name, value in stored.items():
        setattr(job, name, value)
