"""What the planner gave back, as rows; and rows as a plan that the independent checker can read again."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from datetime import datetime

from crews.gather_plan import Gathered, Work
from crews.models import Plan as PlanRow
from crews.models import PlanState, PlanStop, StopKind
from crews.planning.check import violations_of
from crews.planning.kit import choose_items, kit_at_shift
from crews.planning.plan import Plan, PlannedTour, Stop, Unplanned
from crews.planning.plan import StopKind as EngineStop
from crews.planning.problem import Place, Problem, Shift
from crews.planning.travel import Travel
from crews.services.plan_moves import tell_moves
from crews.services.plan_notes import holiday_notice
from crews.services.plan_times import plan_of, settled, totals_of, tour_of
from crews.services.plan_travel import notice_of
from tickets.states import State
from tickets.verdict import verdict
from tickets.verdict.words import instant_words

_KINDS = {
    EngineStop.VISIT: StopKind.VISIT,
    EngineStop.YARD_CALL: StopKind.YARD_CALL,
    EngineStop.BREAK: StopKind.BREAK,
}
_ENGINE_KINDS = {str(row): engine for engine, row in _KINDS.items()}


def store_result(row: PlanRow, gathered: Gathered, travel: Travel, result: Plan, now: datetime) -> None:
    """The proposal in rows: stops, what is left out and why, totals before and after."""
    shifts = {shift.id: shift for shift in gathered.problem.shifts}
    tours = settled(result.tours, gathered, travel)
    stops = [_row(row, gathered, shifts[tour.shift_id], stop) for tour in tours for stop in tour.stops]
    tell_moves(gathered, travel, stops)
    PlanStop.objects.bulk_create(stops)
    row.state = PlanState.PROPOSED
    row.computed_at = now
    row.facts = gathered.snapshot
    row.before = totals_before(gathered, travel)
    row.unplanned = _left_rows(gathered, travel, result.unplanned)
    row.after = totals_after(row, tours, result.totals.cost)
    notice = notice_of(travel)
    row.notes = (
        [notice, *(note for note in result.notes if not note.startswith("Travel: "))] if notice else [*result.notes]
    )
    row.notes = [*holiday_notice(stops, now), *row.notes]
    row.save()


def totals_after(row: PlanRow, tours: Iterable[PlannedTour], cost: int | None) -> dict[str, int | None]:
    """The sums of the proposal; a visit that stays where it stands still has its crew and hour."""
    staying = sum(bool(line["stands"]) for line in row.unplanned)
    found = totals_of(tours, len(row.unplanned) - staying, cost)
    return {**found, "visits": (found["visits"] or 0) + staying}


def _row(row: PlanRow, gathered: Gathered, shift: Shift, stop: Stop) -> PlanStop:
    span, crew = gathered.span, gathered.team.crew_of_shift[shift.id]
    made = PlanStop(
        plan=row,
        stop=_KINDS[stop.kind],
        crew=crew,
        shift=shift.id,
        starts_at=span.instant(stop.start_s),
        ends_at=span.instant(stop.end_s),
        drive_s=stop.drive_s,
        latitude=stop.place.y,
        longitude=stop.place.x,
        fetches=", ".join(stop.kit_ids)[:300],
    )
    if stop.visit_id is not None:
        work = gathered.work[stop.visit_id]
        made.key, made.job, made.kind = work.key, work.job, work.kind
        made.visit, made.pinned = work.visit, work.pinned
        made.needs_renewal, made.promise_kept = stop.needs_renewal, stop.in_promised_window
        made.assumes = assumption(work, made.starts_at, gathered.span.now, stop.needs_renewal)[:500]
    return made


def assumption(work: Work, starts_at: datetime, now: datetime, needs_renewal: bool) -> str:
    """What must still come before the crew may dig then; empty when nothing is missing."""
    if not work.breaks_ground:
        return ""
    zone = work.facts.time_zone
    if needs_renewal:
        by = verdict(work.facts, now).renew_by
        until = "" if by is None else f" by {instant_words(by, zone)}"
        return f"Renew the ticket first{until}; accept this visit once the renewal is entered."
    found = verdict(work.facts, starts_at)
    if found.may_dig:
        return ""
    if found.state == State.EMERGENCY:
        return found.sentence
    return f"Counts on what is missing to come in time. As it stands now, that day would read: {found.sentence}"


_STAYS = "Its visit stays where it is, and its crew's hours are kept free for it, until a person moves or cancels it."
_IN_THE_WAY = "Its visit stands in the hours of an emergency: move or cancel it before the plan is accepted."


def _left_rows(gathered: Gathered, travel: Travel, unplanned: Sequence[Unplanned]) -> list[dict[str, object]]:
    """What has no place in the plan and why; `stands` where it has a visit all the same."""
    found = [(one.work, one.reason, one.words, _STAYS) for one in gathered.left]
    for gone in unplanned:
        work = gathered.work[gone.visit_id]
        stays = work.visit is None or not gathered.covered(work.visit)
        found.append((work, gone.reason, gone.words, _STAYS if stays else _IN_THE_WAY))
    rows: list[dict[str, object]] = []
    for work, reason, words, stands in sorted(found, key=lambda line: line[0].key):
        row = {"key": work.key, "job": work.job.pk, "reason": reason, "words": words}
        if reason in _TIME_ALONE:
            row["words"] = " ".join([words, *_near_but_lacking(gathered, travel, work.key)])
        visit = work.visit
        rows.append({**row, "stands": "" if visit is None else stands, "visit": None if visit is None else visit.pk})
    return rows


_TIME_ALONE = frozenset({"too_far", "no_room"})
NEAR_S = 2 * 3600  # of driving; common practice, no source


def _near_but_lacking(gathered: Gathered, travel: Travel, key: str) -> list[str]:
    """Crews near enough that lack a skill or kit: what a person can mend when the others have no time."""
    visit = gathered.visits.get(key)
    if visit is None:
        return []
    said = []
    for crew in gathered.problem.crews:
        shifts = [shift for shift in gathered.problem.shifts if shift.crew_id == crew.id]
        if not shifts or travel.seconds(shifts[0].start_place, visit.place) > NEAR_S:
            continue
        lacking = sorted(visit.skills - crew.skills)
        if lacking:
            said.append(f"{crew.id} is near but lacks {', '.join(lacking)}.")
            continue
        at_hand = [kit_at_shift(gathered.problem, shift) for shift in shifts]
        if visit.kit and not any(choose_items(visit.kit, (*at.truck, *at.yard)) for at in at_hand):
            kinds = " and ".join(need.kind.replace("_", " ") for need in visit.kit)
            said.append(f"{crew.id} is near but has no {kinds} that may go out together.")
    return said[:2]


def totals_before(gathered: Gathered, travel: Travel) -> dict[str, int | None]:
    """The same sums of the visits as they stand, each on its shift; one outside every shift is not driven to."""
    span = gathered.span
    by_shift: dict[str, list[Stop]] = {}
    visits = gathered.visits
    for key, at in gathered.problem.previous.items():
        end_s = at.start_s + visits[key].duration_s
        place = visits[key].place
        stop = Stop(EngineStop.VISIT, place, at.start_s, at.start_s, end_s, 0, visit_id=key)
        by_shift.setdefault(at.shift_id, []).append(stop)
    shifts = {shift.id: shift for shift in gathered.problem.shifts}
    tours = [tour_of(shifts[shift_id], stops, travel) for shift_id, stops in by_shift.items()]
    standing = sum(work.visit is not None for work in gathered.work.values())
    found = totals_of(tours, len(gathered.work) - standing, None)
    assert span is not None
    return {**found, "visits": standing}


def engine_stop(stop: PlanStop, gathered: Gathered) -> Stop:
    """A row as the engine's stop; its driving is filled in by `tour_of`."""
    span = gathered.span
    start_s, end_s = span.seconds(stop.starts_at), span.seconds(stop.ends_at)
    return Stop(
        _ENGINE_KINDS[stop.stop],
        Place.geographic(stop.latitude, stop.longitude),
        start_s,
        start_s,
        end_s,
        0,
        visit_id=stop.key or None,
        in_promised_window=stop.promise_kept,
        needs_renewal=stop.needs_renewal,
        kit_ids=tuple(part for part in stop.fetches.split(", ") if part),
    )


def tours_of_rows(rows: Iterable[PlanStop], gathered: Gathered, travel: Travel) -> list[PlannedTour] | None:
    """The proposal's tours again; None when a shift of it is no more."""
    shifts = {shift.id: shift for shift in gathered.problem.shifts}
    by_shift: dict[str, list[Stop]] = {}
    for row in rows:
        by_shift.setdefault(row.shift, []).append(engine_stop(row, gathered))
    if not set(by_shift) <= set(shifts):
        return None
    return [tour_of(shifts[shift_id], stops, travel) for shift_id, stops in by_shift.items()]


def faults_of(tours: Sequence[PlannedTour], gathered: Gathered, travel: Travel) -> list[str]:
    """What the independent checker says against the tours, in sentences for a person."""
    return list(
        dict.fromkeys(_sentence(v) for v in violations_of(gathered.problem, travel, plan_of(tours, gathered)))
    )


_SENTENCES = {
    "travel": "There is not enough time to drive from one stop to the next.",
    "time": "A crew would have to begin before it can be there.",
    "shift": "The crew would be back after the end of its shift, overtime included.",
    "break": "It leaves the crew no time for its break.",
    "window": "It lies outside the lawful window, or past the end of the ticket.",
    "order": "A visit that must come before it is not planned before it.",
    "gap": "The order of the job's visits, or the time wanted between them, is not kept.",
    "pin": "A pinned visit would be moved.",
}


def _sentence(violation: str) -> str:
    sort, _, rest = violation.partition(": ")
    return _SENTENCES.get(sort, f"{rest[:1].upper()}{rest[1:].replace('_', ' ')}.")


def weights_used(problem: Problem) -> dict[str, int]:
    """The weights by name, to be kept with the plan."""
    return {name: int(value) for name, value in asdict(problem.weights).items()}
