"""Changes to a proposal by a person: a visit pinned, or moved to another crew or hour and checked on the spot."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from crews.gather_plan import Gathered
from crews.models import Crew, Person, Plan, PlanStop, StopKind
from crews.planning.plan import PlannedTour, Stop
from crews.planning.plan import StopKind as EngineStop
from crews.planning.problem import Shift
from crews.planning.travel import Travel
from crews.services.plan_guards import locked_proposal, locked_stop, refuse_changes, regather
from crews.services.plan_result import assumption, engine_stop, faults_of, totals_after
from crews.services.plan_times import lay_breaks, tour_of
from crews.services.plan_travel import travel_of
from tickets.services import check_dig_visit
from tickets.services.refusals import BadInput, Conflict, need_office
from tickets.verdict.words import instant_words


@transaction.atomic
def pin_stop(*, stop: PlanStop, pinned: bool, actor: Person) -> PlanStop:
    """A pinned visit is accepted as pinned: later plans leave it where it is."""
    need_office(actor)
    locked_proposal(stop.plan)
    stop = locked_stop(stop)
    stop.pinned = pinned
    stop.save(update_fields=["pinned"])
    return stop


@transaction.atomic
def move_stop(*, stop: PlanStop, crew: Crew, starts_at: datetime, actor: Person, now: datetime) -> PlanStop:
    """Move one visit of a proposal. Refused with the reason when the dig would not be lawful, or when the
    independent checker finds anything against the crews' days as they would then be."""
    need_office(actor)
    plan = locked_proposal(stop.plan)
    stop = locked_stop(stop)
    if starts_at.tzinfo is None:
        raise BadInput("Give the time with its offset.", fields={"starts_at": "no offset"})
    gathered = regather(plan)
    refuse_changes(plan, gathered, stop)
    ends_at = starts_at + (stop.ends_at - stop.starts_at)
    _check_lawful(stop, gathered.work[stop.key].breaks_ground, starts_at, ends_at, now)
    shift = _shift(gathered, crew, starts_at, ends_at, stop)
    touched = {stop.shift, shift.id}
    stop.crew, stop.shift, stop.starts_at, stop.ends_at = crew, shift.id, starts_at, ends_at
    travel = travel_of(plan, gathered.problem)
    tours = _tours(plan, stop, touched, gathered, travel)
    faults = faults_of(tours, gathered, travel)
    if faults:
        words = " ".join(faults[:3])
        raise Conflict(f"It cannot stand there. {words}", code="stop_refused", fields={"starts_at": words})
    _store(plan, stop, tours, touched, gathered)
    return stop


def _check_lawful(stop: PlanStop, breaks_ground: bool, starts_at: datetime, ends_at: datetime, now: datetime) -> None:
    assert stop.job is not None
    if starts_at < now:
        here = instant_words(starts_at, stop.job.site.time_zone)
        raise BadInput(f"{here} is past; choose a later time.", fields={"starts_at": "past"})
    if breaks_ground and not stop.needs_renewal:
        check_dig_visit(job=stop.job, starts_at=starts_at, ends_at=ends_at, now=now)


def _shift(gathered: Gathered, crew: Crew, starts_at: datetime, ends_at: datetime, stop: PlanStop) -> Shift:
    span = gathered.span
    shift = gathered.team.shift_at(crew, span.seconds(starts_at), span.seconds(ends_at))
    if shift is None:
        assert stop.job is not None
        when = instant_words(starts_at, stop.job.site.time_zone)
        words = f"{crew.name} has no shift that holds the whole visit from {when}."
        raise Conflict(f"{words} Choose another time or crew.", code="off_shift", fields={"starts_at": words})
    return shift


def _tours(plan: Plan, moved: PlanStop, touched: set[str], gathered: Gathered, travel: Travel) -> list[PlannedTour]:
    """Every tour with the visit at its new place; breaks of the days touched are laid anew."""
    shifts = {shift.id: shift for shift in gathered.problem.shifts}
    by_shift: dict[str, list[Stop]] = {}
    for row in plan.stops.all():
        row = moved if row.pk == moved.pk else row
        if row.stop == StopKind.BREAK and row.shift in touched:
            continue
        if row.shift not in shifts:
            raise Conflict("A shift of the plan is no more; compute a new plan.", code="plan_out_of_date")
        by_shift.setdefault(row.shift, []).append(engine_stop(row, gathered))
    tours = []
    for shift_id, stops in by_shift.items():
        if shift_id in touched:
            stops = [*stops, *lay_breaks(shifts[shift_id], stops, travel)]
        tours.append(tour_of(shifts[shift_id], stops, travel))
    return [tour for tour in tours if tour.visit_ids]


def _store(plan: Plan, moved: PlanStop, tours: Sequence[PlannedTour], touched: set[str], gathered: Gathered) -> None:
    span, work = gathered.span, gathered.work[moved.key]
    moved.assumes = assumption(work, moved.starts_at, span.now, moved.needs_renewal)[:500]
    moved.moved = "Moved by hand in the proposal."
    by_key = {row.key: row for row in plan.stops.filter(stop=StopKind.VISIT)}
    by_key[moved.key] = moved
    plan.stops.filter(stop=StopKind.BREAK, shift__in=touched).delete()
    left_empty = touched - {tour.shift_id for tour in tours}
    plan.stops.filter(stop=StopKind.YARD_CALL, shift__in=left_empty).delete()
    for tour in tours:
        if tour.shift_id not in touched:
            continue
        for stop in tour.stops:
            if stop.visit_id is not None:
                row = by_key[stop.visit_id]
                row.drive_s = stop.drive_s
                row.save()
            elif stop.kind is EngineStop.BREAK:
                _store_break(plan, tour.shift_id, stop, gathered)
    plan.after = {**totals_after(plan, tours, plan.after.get("cost")), "by_hand": True}
    plan.save(update_fields=["after"])


def _store_break(plan: Plan, shift_id: str, stop: Stop, gathered: Gathered) -> None:
    PlanStop.objects.create(
        plan=plan,
        stop=StopKind.BREAK,
        crew=gathered.team.crew_of_shift[shift_id],
        shift=shift_id,
        starts_at=gathered.span.instant(stop.start_s),
        ends_at=gathered.span.instant(stop.end_s),
        latitude=stop.place.y,
        longitude=stop.place.x,
    )
