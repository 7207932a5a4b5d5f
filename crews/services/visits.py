"""Writes of visits. A dig outside its lawful window is refused with the first lawful instant."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import QuerySet

from crews.equipment.custody import Where
from crews.models import MOVES_EARTH, Crew, Equipment, Person, Visit, VisitKind
from crews.register.availability import NEEDED, days_of
from crews.register.visit_kit import kinds_needed, lacks_of
from tickets.models import Job, Ticket
from tickets.services import check_dig_visit, plan_next_dig
from tickets.services.refusals import BadInput, Conflict, Faults, need_office
from tickets.verdict.words import instant_words

LONGEST = timedelta(hours=24)
FARTHEST = timedelta(days=366)


@transaction.atomic
def schedule_visit(
    *,
    job: Job,
    crew: Crew,
    kind: str,
    starts_at: datetime,
    ends_at: datetime,
    actor: Person,
    now: datetime,
    ticket: Ticket | None = None,
    note: str = "",
    pinned: bool = False,
    surface_only: bool = False,
    kit: Sequence[str] = (),
) -> Visit:
    """Place a visit on a crew's day. `kit` are the kinds of equipment it needs; empty: the usual of its kind.

    Refused: times in the past, too far ahead or the wrong way round, a closed job, an inactive crew, a
    second visit of the crew at the same time, a day on which nothing that the crew can take along may go out
    (due that day or before, stopped, lost, away) unless the owner has given the word, and a dig that the law,
    the ticket or the answers do not allow for the whole of the visit (the refusal then offers the first
    lawful instant).
    """
    need_office(actor)
    _hold_spares(kit or NEEDED.get(kind, ()))
    crew = _locked_crews(crew)[crew.pk]
    job = _locked_job(job.pk)
    visit = Visit(
        job=job,
        crew=crew,
        kind=kind,
        starts_at=starts_at,
        ends_at=ends_at,
        ticket=ticket,
        note=note.strip(),
        pinned=pinned,
        surface_only=surface_only,
        created_by=actor,
        created_at=now,
    )
    _check(visit, now, is_new_start=True)
    _check_kit(visit, kit or kinds_needed(visit))
    visit.save()
    _tell_the_office(job, actor, now)
    return visit


@transaction.atomic
def move_visit(
    *,
    visit: Visit,
    actor: Person,
    now: datetime,
    starts_at: datetime | None = None,
    ends_at: datetime | None = None,
    crew: Crew | None = None,
    trading_with: Collection[int] = (),
) -> Visit:
    """Move a visit in time, to another crew, or both; the same refusals as for a new one. With a new start
    alone the visit keeps its length. `trading_with` are visits that the caller moves in the same transaction;
    it must see with `is_double_booked` that no two overlap in the end."""
    need_office(actor)
    _hold_spares(kinds_needed(visit))
    crews = _locked_crews(crew or visit.crew, visit.crew)
    visit = (
        Visit.objects.select_for_update(of=("self",))
        .select_related("job__site", "crew", "ticket", "wanted")
        .get(pk=visit.pk)
    )
    was = (visit.crew_id, days_of(visit.starts_at, visit.ends_at, visit.crew.time_zone))
    _check_open(visit, now)
    visit.job = _locked_job(visit.job_id)
    length = visit.ends_at - visit.starts_at
    visit.starts_at = starts_at or visit.starts_at
    visit.ends_at = ends_at or (visit.starts_at + length if starts_at else visit.ends_at)
    visit.crew = crews[(crew or visit.crew).pk]
    _check(visit, now, is_new_start=starts_at is not None, trading_with=trading_with)
    if was != (visit.crew_id, days_of(visit.starts_at, visit.ends_at, visit.crew.time_zone)):
        _check_kit(visit, kinds_needed(visit), trading_with)
    visit.save(update_fields=["starts_at", "ends_at", "crew"])
    _tell_the_office(visit.job, actor, now)
    return visit


@transaction.atomic
def cancel_visit(*, visit: Visit, reason: str, actor: Person, now: datetime) -> Visit:
    """Take a visit off the day; it stays in the records with the reason."""
    need_office(actor)
    visit = Visit.objects.select_for_update(of=("self",)).select_related("job__site", "crew").get(pk=visit.pk)
    _check_open(visit, now)
    faults = Faults()
    faults.need(reason=reason)
    faults.refuse()
    visit.cancelled_at = now
    visit.cancel_reason = reason.strip()
    visit.save(update_fields=["cancelled_at", "cancel_reason"])
    _tell_the_office(visit.job, actor, now)
    return visit


@transaction.atomic
def change_visit_note(*, visit: Visit, actor: Person, note: str | None = None, pinned: bool | None = None) -> Visit:
    """Change what the crew reads, or whether the visit may be moved by a plan."""
    need_office(actor)
    visit = Visit.objects.select_for_update(of=("self",)).select_related("job__site", "crew").get(pk=visit.pk)
    if note is not None:
        visit.note = note.strip()
    if pinned is not None:
        visit.pinned = pinned
    visit.save(update_fields=["note", "pinned"])
    return visit


def _hold_spares(kinds: Sequence[str]) -> None:
    """What lies at the yard, held to the end of the transaction, so that two visits cannot count on one spare.
    Before crews and job, as a hand-over and a result lock them."""
    spares = Equipment.objects.select_for_update().filter(kind__in=kinds, place=Where.YARD)
    if kinds:
        list(spares.order_by("pk").values_list("pk", flat=True))


def _locked_crews(*crews: Crew) -> dict[int, Crew]:
    """Held to the end of the transaction, so that two people cannot fill one hour of a crew at once."""
    rows = Crew.objects.select_for_update().filter(pk__in={crew.pk for crew in crews})
    return {crew.pk: crew for crew in rows.order_by("pk")}


def _locked_job(job_id: int) -> Job:
    """Held too: no ticket of the job is cancelled or corrected between the check and the visit."""
    return Job.objects.select_for_update(of=("self",)).select_related("site").get(pk=job_id)


def is_double_booked(visit: Visit) -> bool:
    """Whether the crew has another visit in the same hours."""
    return _clashes(visit, ()).exists()


def _check(visit: Visit, now: datetime, *, is_new_start: bool, trading_with: Collection[int] = ()) -> None:
    _check_input(visit, now, is_new_start)
    if visit.job.closed_at is not None:
        raise Conflict(
            f"Job {visit.job.number} is closed; reopen it first.", code="job_closed", fields={"job": "closed"}
        )
    if not visit.crew.active:
        raise Conflict(
            f"{visit.crew.name} is not active; choose another crew.",
            code="crew_inactive",
            fields={"crew": "not active"},
        )
    _check_overlap(visit, trading_with)
    if visit.breaks_ground:
        check_dig_visit(job=visit.job, starts_at=visit.starts_at, ends_at=visit.ends_at, now=now)


def _check_input(visit: Visit, now: datetime, is_new_start: bool) -> None:
    faults = Faults()
    for field in ("starts_at", "ends_at"):
        if getattr(visit, field).tzinfo is None:
            raise BadInput("Give the times with their offset.", fields={field: "no offset"})
    if visit.kind not in VisitKind.values:
        faults.add("kind", f"{visit.kind!r} is not a kind of visit; use one of {', '.join(VisitKind.values)}.")
    if is_new_start and visit.starts_at < now:
        here = visit.job.site.time_zone
        faults.add("starts_at", f"{instant_words(visit.starts_at, here)} is past; choose a later time.")
    elif visit.starts_at - now > FARTHEST:
        faults.add("starts_at", "More than a year ahead; check the year.")
    if visit.ends_at <= visit.starts_at:
        faults.add("ends_at", "The end must come after the start.")
    elif visit.ends_at <= now and not is_new_start:
        faults.add("ends_at", "The end is past; choose a later time.")
    elif visit.ends_at - visit.starts_at > LONGEST:
        faults.add("ends_at", "Longer than a day; place one visit a day.")
    if visit.surface_only and visit.kind != VisitKind.RESTORE:
        faults.add("surface_only", "Only a restoration can be said to stay on the surface.")
    if visit.ticket is not None and visit.ticket.job_id != visit.job_id:
        faults.add("ticket", f"Ticket {visit.ticket.number} belongs to another job.")
    faults.refuse()


def _clashes(visit: Visit, trading_with: Collection[int]) -> QuerySet[Visit]:
    same_hours = Visit.objects.filter(
        crew=visit.crew, cancelled_at=None, starts_at__lt=visit.ends_at, ends_at__gt=visit.starts_at
    )
    return same_hours.exclude(pk=visit.pk).exclude(pk__in=trading_with)


def _check_overlap(visit: Visit, trading_with: Collection[int]) -> None:
    clash = _clashes(visit, trading_with).select_related("job").first()
    if clash is None:
        return
    here = visit.crew.time_zone
    raise Conflict(
        f"{visit.crew.name} is already on job {clash.job.number} from {instant_words(clash.starts_at, here)} to "
        f"{instant_words(clash.ends_at, here)}. Choose another time or crew.",
        code="crew_busy",
        fields={"starts_at": "the crew is busy then"},
    )


def _check_kit(visit: Visit, kinds: Sequence[str], leaving_out: Collection[int] = ()) -> None:
    """Nobody goes out with an instrument past its date, unless the owner has said so by name."""
    lacks = lacks_of(visit, kinds, leaving_out=leaving_out)
    if not lacks:
        return
    said = " ".join(lack.words for lack in lacks[:2])
    what = (
        "Enter a good result, hand the crew one that is good, take another day or crew, or ask the owner to let an "
        "item go out all the same."
    )
    raise Conflict(f"{said} {what}", code="kit_unavailable", fields={"crew": "lacks what the visit needs that day"})


def _check_open(visit: Visit, now: datetime) -> None:
    if visit.cancelled_at is not None:
        raise Conflict("This visit was cancelled; place a new one.", code="visit_cancelled")
    if visit.ends_at <= now:
        raise Conflict("This visit is over and stays in the records as it was.", code="visit_over")


def _tell_the_office(job: Job, actor: Person, now: datetime) -> None:
    """The office re-checks a job before its next dig, so it must know when that is."""
    ahead = job.visits.filter(MOVES_EARTH, cancelled_at=None, starts_at__gte=now)
    first = ahead.order_by("starts_at").values_list("starts_at", flat=True).first()
    plan_next_dig(job=job, starts_at=first, actor=actor, now=now)
