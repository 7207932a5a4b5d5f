"""Writes of wanted visits: what a plan is to find a day for."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from crews.models import EquipmentKind, Person, VisitKind, WantedPriority, WantedVisit
from tickets.models import Job
from tickets.services.refusals import Conflict, Faults, need_office

SHORTEST_MINUTES, LONGEST_MINUTES = 5, 24 * 60


@transaction.atomic
def want_visit(
    *,
    job: Job,
    kind: str,
    minutes: int,
    actor: Person,
    now: datetime,
    priority: str = WantedPriority.NORMAL,
    skills: Sequence[str] = (),
    kit: Sequence[str] = (),
    frequency_hz: int | None = None,
    promised_from: datetime | None = None,
    promised_until: datetime | None = None,
    gap_least_hours: int = 0,
    gap_most_hours: int | None = None,
) -> WantedVisit:
    """Ask for a visit. Once a job has a wanted visit, plans take what is asked for and add nothing of their own."""
    need_office(actor)
    wanted = WantedVisit(
        job=job,
        kind=kind,
        minutes=minutes,
        priority=priority,
        skills=[word.strip() for word in skills if word.strip()],
        kit=list(kit),
        frequency_hz=frequency_hz,
        promised_from=promised_from,
        promised_until=promised_until,
        gap_least_hours=gap_least_hours,
        gap_most_hours=gap_most_hours,
        asked_by=actor,
        asked_at=now,
    )
    if job.closed_at is not None:
        raise Conflict(f"Job {job.number} is closed; reopen it first.", code="job_closed", fields={"job": "closed"})
    _check(wanted, now)
    wanted.save()
    return wanted


def _check(wanted: WantedVisit, now: datetime) -> None:
    faults = Faults()
    if wanted.kind not in VisitKind.values:
        faults.add("kind", f"{wanted.kind!r} is not a kind of visit; use one of {', '.join(VisitKind.values)}.")
    if wanted.priority not in WantedPriority.values:
        faults.add("priority", f"{wanted.priority!r} is not known; use one of {', '.join(WantedPriority.values)}.")
    if not SHORTEST_MINUTES <= wanted.minutes <= LONGEST_MINUTES:
        faults.add("minutes", f"Give {SHORTEST_MINUTES} to {LONGEST_MINUTES} minutes.")
    unknown = [kind for kind in wanted.kit if kind not in EquipmentKind.values]
    if unknown:
        faults.add("kit", f"{unknown[0]!r} is not a kind of equipment.")
    start, end = wanted.promised_from, wanted.promised_until
    if (start is None) != (end is None):
        faults.add("promised_until", "Give both ends of the promised window, or neither.")
    elif start is not None and end is not None and end <= start:
        faults.add("promised_until", "The end must come after the start.")
    elif end is not None and end < now:
        faults.add("promised_until", "The promised window is past.")
    if wanted.gap_least_hours < 0:
        faults.add("gap_least_hours", "Give 0 or more hours.")
    if wanted.gap_most_hours is not None and wanted.gap_most_hours < wanted.gap_least_hours:
        faults.add("gap_most_hours", "At most must not be less than at least.")
    faults.refuse()


@transaction.atomic
def drop_wanted(*, wanted: WantedVisit, actor: Person, now: datetime) -> WantedVisit:
    """The visit is not wanted any more. One that has become a visit is cancelled as a visit."""
    need_office(actor)
    wanted = WantedVisit.objects.select_for_update(of=("self",)).get(pk=wanted.pk)
    if wanted.visit_id is not None:
        raise Conflict("It is on a crew's day already; cancel the visit there.", code="wanted_is_placed")
    wanted.dropped_at = now
    wanted.save(update_fields=["dropped_at"])
    return wanted
