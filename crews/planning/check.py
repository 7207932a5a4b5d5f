"""Independent checker: verifies any plan against the problem, sharing nothing with the searches. Pure.

It reads only the problem, the travel table and the plan's own times, and names each violation in a sentence. A
violation begins with a stable word and a colon.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import combinations

from .plan import Plan, PlannedTour, Stop, StopKind
from .problem import Crew, Kit, KitNeed, Problem, Shift, Visit, Window, Yard
from .travel import Travel


@dataclass(slots=True)
class _Facts:
    """The problem by id."""

    problem: Problem
    travel: Travel
    visits: dict[str, Visit] = field(default_factory=dict)
    shifts: dict[str, Shift] = field(default_factory=dict)
    crews: dict[str, Crew] = field(default_factory=dict)
    yards: dict[str, Yard] = field(default_factory=dict)
    kit: dict[str, Kit] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.visits = {v.id: v for v in self.problem.visits}
        self.shifts = {s.id: s for s in self.problem.shifts}
        self.crews = {c.id: c for c in self.problem.crews}
        self.yards = {y.id: y for y in self.problem.yards}
        self.kit = {k.id: k for k in self.problem.kit}


def violations_of(problem: Problem, travel: Travel, plan: Plan) -> tuple[str, ...]:
    """Everything in the plan that the problem forbids; an empty tuple is a plan that may be carried out."""
    facts = _Facts(problem, travel)
    out: list[str] = []
    used: set[str] = set()
    for tour in plan.tours:
        shift = facts.shifts.get(tour.shift_id)
        if shift is None:
            out.append(f"unknown shift: {tour.shift_id} is not in the problem")
            continue
        if shift.id in used:
            out.append(f"shift twice: {shift.id} has two tours")
        used.add(shift.id)
        out.extend(_tour_violations(facts, shift, tour))
    out.extend(_count_violations(facts, plan))
    out.extend(_order_violations(facts, plan))
    out.extend(_shared_kit_violations(facts, plan))
    out.extend(_parts_violations(facts, plan))
    return tuple(out)


def _tour_violations(facts: _Facts, shift: Shift, tour: PlannedTour) -> Iterator[str]:
    yield from _time_violations(facts, shift, tour)
    yield from _break_violations(shift, tour)
    yield from _kit_violations(facts, shift, tour)
    skills = facts.crews[shift.crew_id].skills
    for stop in tour.stops:
        if stop.kind is not StopKind.VISIT:
            continue
        visit = facts.visits.get(stop.visit_id or "")
        if visit is None:
            yield f"unknown visit: {stop.visit_id} on {shift.id} is not in the problem"
            continue
        if not visit.skills <= skills:
            yield f"skill: {visit.id} needs {', '.join(sorted(visit.skills - skills))}, which {shift.crew_id} lacks"
        if visit.pin is not None and visit.pin.shift_id != shift.id:
            yield f"pin: {visit.id} is pinned to {visit.pin.shift_id} but stands on {shift.id}"
        if visit.pin is not None and visit.pin.start_s is not None and visit.pin.start_s != stop.start_s:
            yield f"pin: {visit.id} is pinned to start at {visit.pin.start_s} s but starts at {stop.start_s} s"
        yield from _window_violations(visit, stop)


def _time_violations(facts: _Facts, shift: Shift, tour: PlannedTour) -> Iterator[str]:
    if tour.leave_s < shift.start_s:
        yield f"shift: {shift.id} leaves at {tour.leave_s} s, before its start at {shift.start_s} s"
    if not shift.free_start and tour.leave_s != shift.start_s:
        yield f"shift: {shift.id} must count its time from {shift.start_s} s, not from {tour.leave_s} s"
    if tour.return_s > shift.end_s + shift.overtime_max_s:
        yield f"shift: {shift.id} returns at {tour.return_s} s, after {shift.end_s + shift.overtime_max_s} s"
    here, clock, drive = shift.start_place, tour.leave_s, 0
    for stop in tour.stops:
        if stop.kind is StopKind.BREAK and stop.place != here:
            yield f"break: a break of {shift.id} stands at a place where the crew is not"
        leg = facts.travel.seconds(here, stop.place)
        drive += leg
        name = stop.visit_id or stop.kind.value
        if stop.drive_s != leg or stop.arrive_s < clock + leg:
            yield f"travel: {name} on {shift.id} is reached at {stop.arrive_s} s, by road not before {clock + leg} s"
        if stop.start_s < stop.arrive_s or stop.end_s < stop.start_s:
            yield f"time: {name} on {shift.id} starts before arrival or ends before its start"
        here, clock = stop.place, max(clock + leg, stop.end_s)
    leg = facts.travel.seconds(here, shift.end_place)
    if tour.return_s < clock + leg:
        yield f"travel: {shift.id} returns at {tour.return_s} s, but not before {clock + leg} s by road"
    if tour.drive_s != drive + leg:
        yield f"total: driving of {shift.id} is given as {tour.drive_s} s but sums to {drive + leg} s"
    if tour.overtime_s != max(0, tour.return_s - tour.leave_s - (shift.end_s - shift.start_s)):
        yield f"total: overtime of {shift.id} is given as {tour.overtime_s} s, which is wrong"


def _within(start_s: int, windows: tuple[Window, ...]) -> bool:
    return any(w.earliest_s <= start_s <= w.latest_s for w in windows)


def _window_violations(visit: Visit, stop: Stop) -> Iterator[str]:
    if stop.end_s - stop.start_s != visit.duration_s:
        yield f"duration: {visit.id} is given {stop.end_s - stop.start_s} s but takes {visit.duration_s} s"
    lawful = (not visit.lawful or _within(stop.start_s, visit.lawful)) and (
        visit.expires_s is None or stop.start_s + visit.duration_s <= visit.expires_s
    )
    if stop.needs_renewal:
        if not _within(stop.start_s, visit.renewed):
            yield f"window: {visit.id} starts at {stop.start_s} s, outside its windows after renewal"
    elif not lawful:
        yield f"window: {visit.id} starts at {stop.start_s} s, outside its lawful windows or past its ticket's end"
    if stop.in_promised_window and visit.promised and not _within(stop.start_s, visit.promised):
        yield f"promise: {visit.id} is said to be in a promised window but starts at {stop.start_s} s outside it"


def _break_violations(shift: Shift, tour: PlannedTour) -> Iterator[str]:
    stops = [stop for stop in tour.stops if stop.kind is StopKind.BREAK]
    for rest in shift.breaks:
        taken = next(
            (
                stop
                for stop in stops
                if rest.earliest_s <= stop.start_s <= rest.latest_s and stop.end_s - stop.start_s >= rest.duration_s
            ),
            None,
        )
        if taken is not None:
            stops.remove(taken)
        elif not (tour.return_s <= rest.latest_s or tour.leave_s >= rest.earliest_s + rest.duration_s):
            yield f"break: {shift.id} gets no {rest.duration_s} s off from {rest.earliest_s} s to {rest.latest_s} s"


def _kit_violations(facts: _Facts, shift: Shift, tour: PlannedTour) -> Iterator[str]:
    """Follow the truck: what is on it, what the yard call adds."""
    on_truck = [item for item in facts.problem.kit if item.crew_id == shift.crew_id and _usable(item, shift)]
    for stop in tour.stops:
        if stop.kind is StopKind.YARD_CALL:
            yield from _call_violations(facts, shift, stop)
            on_truck += [facts.kit[i] for i in stop.kit_ids if i in facts.kit]
        visit = facts.visits.get(stop.visit_id or "")
        if visit is not None and not _serves(visit.kit, on_truck):
            yield f"kit: {visit.id} on {shift.id} needs {', '.join(n.kind for n in visit.kit)}, not all on the truck"


def _parts_violations(facts: _Facts, plan: Plan) -> Iterator[str]:
    """Use up each truck's parts over the whole of a day, whatever pieces its shift is cut into; what the yard keeps
    is without end from a call there to the end of that tour."""
    days: dict[tuple[str, int], list[tuple[Shift, PlannedTour]]] = {}
    for tour in plan.tours:
        shift = facts.shifts.get(tour.shift_id)
        if shift is not None:
            days.setdefault((shift.crew_id, shift.day), []).append((shift, tour))
    for (crew_id, day), tours in days.items():
        crew, gone = facts.crews[crew_id], facts.problem.parts_gone.get((crew_id, day), {})
        left = {kind: max(0, count - gone.get(kind, 0)) for kind, count in crew.parts.items()}
        for shift, tour in sorted(tours, key=lambda one: one[1].leave_s):
            endless: frozenset[str] = frozenset()
            for stop in tour.stops:
                if stop.kind is StopKind.YARD_CALL and crew.yard_id in facts.yards:
                    endless = facts.yards[crew.yard_id].part_kinds
                visit = facts.visits.get(stop.visit_id or "")
                if visit is not None:
                    yield from _use_parts(visit, shift, left, endless)


def _use_parts(visit: Visit, shift: Shift, left: dict[str, int], endless: frozenset[str]) -> Iterator[str]:
    for kind, count in visit.parts.items():
        if kind in endless:
            continue
        left[kind] = left.get(kind, 0) - count
        if count and left[kind] < 0:
            yield f"parts: {visit.id} on {shift.id} finds {-left[kind]} pieces of {kind} too few on the truck"


def _usable(item: Kit, shift: Shift) -> bool:
    if item.out_of_service or shift.day in item.unfit_days:
        return False
    return item.fit_until_s is None or item.fit_until_s >= shift.end_s + shift.overtime_max_s


def _call_violations(facts: _Facts, shift: Shift, stop: Stop) -> Iterator[str]:
    yard = facts.yards.get(facts.crews[shift.crew_id].yard_id or "")
    if yard is None or stop.place != yard.place:
        yield f"yard: the call of {shift.id} is not at its crew's yard"
        return
    if stop.end_s - stop.start_s < yard.call_s:
        yield f"yard: the call of {shift.id} takes {yard.call_s} s but is given {stop.end_s - stop.start_s} s"
    at_work = {other.crew_id for other in facts.problem.shifts if other.day == shift.day}
    for item_id in stop.kit_ids:
        item = facts.kit.get(item_id)
        lies_there = item is not None and (
            item.yard_id == yard.id
            or (
                item.movable
                and item.crew_id is not None
                and item.crew_id not in at_work
                and facts.crews[item.crew_id].yard_id == yard.id
            )
        )
        if item is None or not lies_there or not _usable(item, shift):
            yield f"kit: {item_id} is fetched by {shift.id} but is not at the yard or not fit for use then"


def _serves(needs: tuple[KitNeed, ...], items: list[Kit]) -> bool:
    """Whether distinct items meet the needs: every choice is tried."""
    if not needs:
        return True
    choices: list[tuple[Kit, ...]] = [()]
    for need in needs:
        choices = [
            (*chosen, item)
            for chosen in choices
            for item in items
            if item.kind == need.kind
            and item not in chosen
            and (need.frequency_hz is None or need.frequency_hz in item.frequencies_hz)
        ]
    for chosen in choices:
        pairs = combinations(range(len(needs)), 2)
        if all(
            chosen[i].frequencies_hz & chosen[j].frequencies_hz
            for i, j in pairs
            if needs[i].common_frequency_with == needs[j].kind or needs[j].common_frequency_with == needs[i].kind
        ):
            return True
    return False


def _count_violations(facts: _Facts, plan: Plan) -> Iterator[str]:
    seen: dict[str, int] = {}
    for tour in plan.tours:
        for visit_id in tour.visit_ids:
            seen[visit_id] = seen.get(visit_id, 0) + 1
    left = {gone.visit_id for gone in plan.unplanned}
    for visit_id, visit in facts.visits.items():
        if seen.get(visit_id, 0) > 1:
            yield f"twice: {visit_id} is planned {seen[visit_id]} times"
        if visit_id not in seen and visit_id not in left:
            yield f"lost: {visit_id} is neither planned nor listed as left out"
        if visit_id in seen and visit_id in left:
            yield f"lost: {visit_id} is planned and listed as left out"
        if visit.required and visit_id not in seen:
            yield f"required: {visit_id} must be planned and is not"


def _order_violations(facts: _Facts, plan: Plan) -> Iterator[str]:
    at: Mapping[str, Stop] = {s.visit_id: s for t in plan.tours for s in t.stops if s.visit_id is not None}
    for link in facts.problem.links:
        before, after = at.get(link.before_id), at.get(link.after_id)
        if after is None:
            continue
        if before is None:
            yield f"order: {link.after_id} is planned but {link.before_id}, which must come before, is not"
            continue
        gap = after.start_s - before.end_s
        if gap < link.gap_min_s:
            yield f"gap: {link.after_id} starts {gap} s after {link.before_id} ends; needed are {link.gap_min_s} s"
        if link.gap_max_s is not None and gap > link.gap_max_s:
            yield f"gap: {link.after_id} starts {gap} s after {link.before_id} ends; allowed are {link.gap_max_s} s"


def _shared_kit_violations(facts: _Facts, plan: Plan) -> Iterator[str]:
    fetched = [
        (facts.shifts[t.shift_id], i)
        for t in plan.tours
        if t.shift_id in facts.shifts
        for s in t.stops
        for i in s.kit_ids
    ]
    for (first, item), (second, other) in combinations(fetched, 2):
        if (
            item == other
            and first.id != second.id
            and first.start_s < second.last_s
            and second.start_s < first.last_s
        ):
            yield f"kit: {item} is fetched by {first.id} and by {second.id} at the same time"
