"""Writes of what operators answered and what the crew saw."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from tickets import evidence
from tickets.models import Answer, Job, SiteSighting, TicketOperator
from tickets.services.refusals import Faults, need_office, need_person
from tickets.services.writing import conclude, open_job, open_ticket
from tickets.states import Act, Outcome, SightingKind

HOLDS = frozenset({Outcome.ASKED_MORE_TIME, Outcome.AGREED_SCHEDULE})


@transaction.atomic
def record_answer(
    *,
    operator: TicketOperator,
    actor: Any,
    now: datetime,
    outcome: str,
    answered_at: datetime | None = None,
    holds_until: datetime | None = None,
    note: str = "",
) -> Answer:
    """One answer of one operator; `answered_at` is now when not given. A wrong one is corrected by the
    next: the latest governs, and all stay on file."""
    need_office(actor)
    ticket = open_ticket(operator.ticket, Act.RECORD)
    at = answered_at or now
    faults = Faults()
    known = faults.word("outcome", outcome, Outcome)
    since = (ticket.received_at, "the notice was received")
    faults.instant("answered_at", at, not_before=since, not_after=(now, "now"))
    if holds_until is not None and known is not None and known not in HOLDS:
        faults.add("holds_until", "belongs to asking for more time or an agreed schedule only; leave it empty.")
    elif "answered_at" not in faults.by_field:
        faults.instant("holds_until", holds_until, not_before=(at, "the answer"))
    faults.refuse()
    answer = Answer.objects.create(
        operator=operator,
        outcome=outcome,
        answered_at=at,
        holds_until=holds_until,
        note=note.strip(),
        recorded_by=actor,
        recorded_at=now,
    )
    payload = {
        "ticket": ticket.number,
        "operator": operator.name,
        "outcome": outcome,
        "answered_at": at,
        "holds_until": holds_until,
        "note": answer.note,
    }
    evidence.append(job=ticket.job, kind="answer_recorded", actor=actor, at=now, payload=payload)
    conclude(job=ticket.job, actor=actor, now=now)
    return answer


@transaction.atomic
def record_sighting(
    *,
    job: Job,
    actor: Any,
    now: datetime,
    kind: str,
    seen_at: datetime | None = None,
    operator: TicketOperator | None = None,
    note: str = "",
) -> SiteSighting:
    """What the crew saw on site, of one operator's marks or of the whole site's; `seen_at` is now when not
    given."""
    need_person(actor)
    job = open_job(job, Act.RECORD)
    at = seen_at or now
    faults = Faults()
    faults.word("kind", kind, SightingKind)
    faults.instant("seen_at", at, not_before=(job.created_at, "the job was entered"), not_after=(now, "now"))
    if operator is not None and operator.ticket.job_id != job.pk:
        faults.add("operator", f"{operator.name} is on another job's ticket.")
    faults.refuse()
    sighting = SiteSighting.objects.create(
        job=job, operator=operator, kind=kind, seen_at=at, note=note.strip(), by=actor, recorded_at=now
    )
    payload = {
        "kind": kind,
        "operator": None if operator is None else operator.name,
        "seen_at": at,
        "note": sighting.note,
    }
    evidence.append(job=job, kind="site_seen", actor=actor, at=now, payload=payload)
    conclude(job=job, actor=actor, now=now)
    return sighting
