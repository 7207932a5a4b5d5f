"""The planner's tours at hours that a person would write down, and their sums."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from crews.gather_plan import Gathered
from crews.planning.check import violations_of
from crews.planning.plan import Plan, PlannedTour, Stop, Totals, Unplanned
from crews.planning.plan import StopKind as EngineStop
from crews.planning.problem import Shift, Visit
from crews.planning.travel import Travel

ROUND_S = 5 * 60
# What a tour by itself cannot be blamed for.
_OF_THE_WHOLE = ("lost", "required", "order", "gap")


def settled(tours: Sequence[PlannedTour], gathered: Gathered, travel: Travel) -> list[PlannedTour]:
    """Starts rounded up to five minutes, and a visit that stays on its crew's day kept at its hour, wherever
    the independent checker agrees; the planner's own times where it does not."""
    shifts = {shift.id: shift for shift in gathered.problem.shifts}
    linked = {key for link in gathered.problem.links for key in (link.before_id, link.after_id)}
    own = list(tours)
    best = [_settle(tour, shifts[tour.shift_id], gathered, travel) for tour in own]
    some = [raw if linked & set(raw.visit_ids) else better for raw, better in zip(own, best, strict=True)]
    for tried in (best, some):
        if not violations_of(gathered.problem, travel, plan_of(tried, gathered)):
            return tried
    return own


def _settle(tour: PlannedTour, shift: Shift, gathered: Gathered, travel: Travel) -> PlannedTour:
    """The sound way of running the tour that costs least, every visit counted that leaves its hour so far."""
    ways = [
        _as_it_stood(tour, shift, gathered, travel),
        _in_old_order(tour, shift, gathered, travel),
        _early(tour, shift, gathered, travel),
        *(tour_of(shift, _later(tour, shift, gathered, travel, keep), travel) for keep in (True, False)),
    ]
    sound = [way for way in ways if way is not None and _sound(way, gathered, travel)]
    return min(sound, key=lambda way: (_cost(way, gathered), way.return_s), default=tour)


def _cost(tour: PlannedTour, gathered: Gathered) -> int:
    weights, previous = gathered.problem.weights, gathered.problem.previous
    at = {stop.visit_id: stop.start_s for stop in tour.stops if stop.visit_id is not None}
    moved = sum(
        key in at and was.shift_id == tour.shift_id and at[key] != was.start_s for key, was in previous.items()
    )
    missed = sum(not stop.in_promised_window for stop in tour.stops if stop.visit_id is not None)
    driven = weights.drive * tour.drive_s + weights.overtime * tour.overtime_s
    return driven + weights.moved * moved + weights.missed_promise * missed


def _in_old_order(tour: PlannedTour, shift: Shift, gathered: Gathered, travel: Travel) -> PlannedTour | None:
    """Visits that stay on the day in their order so far, each at its hour or, where it cannot be reached by then, as
    soon as it can; new ones where the planner put them. None when nothing stays."""
    stays = {key: at for key, at in gathered.problem.previous.items() if at.shift_id == shift.id}
    work = [stop for stop in tour.stops if stop.kind is not EngineStop.BREAK]
    if not any(stop.visit_id in stays for stop in work):
        return None

    def hour(stop: Stop) -> int:
        was = stays.get(stop.visit_id or "")
        return stop.start_s if was is None else was.start_s

    stops: list[Stop] = []
    here, clock = shift.start_place, shift.start_s
    for stop in sorted(work, key=hour):
        visit = gathered.visits.get(stop.visit_id or "")
        low = 0 if visit is None else _opens(visit, stop)
        low = max(low, hour(stop)) if stop.visit_id in stays else low
        start_s = _on_the_step(max(low, clock + travel.seconds(here, stop.place)), low)
        end_s = start_s + stop.end_s - stop.start_s
        kept = _promised(stop, start_s, gathered)
        stops.append(replace(stop, arrive_s=start_s, start_s=start_s, end_s=end_s, in_promised_window=kept))
        here, clock = stop.place, end_s
    return tour_of(shift, [*stops, *lay_breaks(shift, stops, travel)], travel)


def _on_the_step(at_s: int, as_it_was_s: int) -> int:
    """The next five minutes; an hour that a person chose stays to the minute."""
    return at_s if at_s == as_it_was_s else -(-at_s // ROUND_S) * ROUND_S


def _early(tour: PlannedTour, shift: Shift, gathered: Gathered, travel: Travel) -> PlannedTour | None:
    """The visits in the same order, each as early as the window allows in which the planner put it, the break where
    it then fits: a crew that has nothing to wait for does not wait. None where a pin or an earlier plan says when."""
    stops: list[Stop] = []
    here, clock = shift.start_place, shift.start_s
    for stop in tour.stops:
        if stop.kind is EngineStop.BREAK:
            continue
        visit = gathered.visits.get(stop.visit_id or "")
        if visit is not None and (visit.pin is not None or visit.id in gathered.problem.previous):
            return None
        low = 0 if visit is None else _opens(visit, stop)
        start_s = -(-max(low, clock + travel.seconds(here, stop.place)) // ROUND_S) * ROUND_S
        end_s = start_s + stop.end_s - stop.start_s
        kept = _promised(stop, start_s, gathered)
        stops.append(replace(stop, arrive_s=start_s, start_s=start_s, end_s=end_s, in_promised_window=kept))
        here, clock = stop.place, end_s
    return tour_of(shift, [*stops, *lay_breaks(shift, stops, travel)], travel)


def _opens(visit: Visit, stop: Stop) -> int:
    """When the windows open in which the planner's start lies."""
    tiers = [visit.renewed if stop.needs_renewal else visit.lawful]
    if stop.in_promised_window:
        tiers.append(visit.promised)
    starts = [w.earliest_s for windows in tiers for w in windows if w.earliest_s <= stop.start_s <= w.latest_s]
    return max(starts, default=0)


def _sound(tour: PlannedTour, gathered: Gathered, travel: Travel) -> bool:
    """The independent check of the tour by itself; what binds it to others is checked of the whole."""
    own = tuple(gathered.visits[visit_id] for visit_id in tour.visit_ids)
    alone = replace(gathered.problem, visits=own, links=())
    totals = Totals(0, len(own), 0, tour.drive_s, tour.drive_m, 0, 0, 1, 0, 0)
    found = violations_of(alone, travel, Plan((tour,), (), totals, True))
    return all(words.startswith(_OF_THE_WHOLE) for words in found)


def _as_it_stood(tour: PlannedTour, shift: Shift, gathered: Gathered, travel: Travel) -> PlannedTour | None:
    """Every visit that stays on the day at its hour so far, the others where the planner put them; None when
    none stays."""
    previous = gathered.problem.previous
    stays = {key: at for key, at in previous.items() if at.shift_id == shift.id and key in tour.visit_ids}
    if not stays:
        return None
    stops = []
    for stop in _later(tour, shift, gathered, travel, keep=False):
        if stop.kind is EngineStop.BREAK:
            continue
        at = stays.get(stop.visit_id or "")
        start_s = stop.start_s if at is None else at.start_s
        end_s = start_s + stop.end_s - stop.start_s
        kept = _promised(stop, start_s, gathered)
        stops.append(replace(stop, arrive_s=start_s, start_s=start_s, end_s=end_s, in_promised_window=kept))
    return tour_of(shift, [*stops, *lay_breaks(shift, stops, travel)], travel)


def _later(tour: PlannedTour, shift: Shift, gathered: Gathered, travel: Travel, keep: bool) -> list[Stop]:
    """The stops in the same order, each at its hour so far (`keep`) or at the next five minutes."""
    here, clock = shift.start_place, shift.start_s
    stops: list[Stop] = []
    for stop in tour.stops:
        earliest = max(stop.start_s, clock + travel.seconds(here, stop.place))
        start_s = -(-earliest // ROUND_S) * ROUND_S
        stood = gathered.problem.previous.get(stop.visit_id or "")
        if keep and stood is not None and stood.shift_id == shift.id and stood.start_s >= earliest:
            start_s = stood.start_s
        visit = gathered.visits.get(stop.visit_id or "")
        if visit is not None and visit.pin is not None and visit.pin.start_s is not None:
            start_s = visit.pin.start_s
        end_s = start_s + stop.end_s - stop.start_s
        stops.append(
            Stop(
                stop.kind,
                stop.place,
                start_s,
                start_s,
                end_s,
                0,
                stop.visit_id,
                _promised(stop, start_s, gathered),
                stop.needs_renewal,
                stop.kit_ids,
            )
        )
        here, clock = stop.place, end_s
    return stops


def _promised(stop: Stop, start_s: int, gathered: Gathered) -> bool:
    visit = gathered.visits.get(stop.visit_id or "")
    if visit is None or not visit.promised:
        return True
    return any(w.earliest_s <= start_s <= w.latest_s for w in visit.promised)


def totals_of(tours: Iterable[PlannedTour], left: int, cost: int | None) -> dict[str, int | None]:
    """The sums that a dispatcher compares."""
    used = [tour for tour in tours if tour.visit_ids]
    return {
        "visits": sum(len(tour.visit_ids) for tour in used),
        "left": left,
        "drive_s": sum(tour.drive_s for tour in used),
        "drive_m": sum(tour.drive_m for tour in used),
        "overtime_s": sum(tour.overtime_s for tour in used),
        "crew_days": len(used),
        "missed": sum(not s.in_promised_window for tour in used for s in tour.stops if s.visit_id),
        "renewals": sum(s.needs_renewal for tour in used for s in tour.stops),
        "cost": cost,
    }


def tour_of(shift: Shift, stops: Sequence[Stop], travel: Travel) -> PlannedTour:
    """The stops at their own times, with the driving between them."""
    here, clock, drive_s, drive_m = shift.start_place, shift.start_s, 0, 0
    timed: list[Stop] = []
    for stop in sorted(stops, key=lambda s: (s.start_s, s.end_s)):
        place = here if stop.kind is EngineStop.BREAK else stop.place
        leg = travel.seconds(here, place)
        drive_s, drive_m = drive_s + leg, drive_m + travel.metres(here, place)
        timed.append(
            Stop(
                stop.kind,
                place,
                clock + leg,
                stop.start_s,
                stop.end_s,
                leg,
                stop.visit_id,
                stop.in_promised_window,
                stop.needs_renewal,
                stop.kit_ids,
            )
        )
        here, clock = place, stop.end_s
    back = travel.seconds(here, shift.end_place)
    drive_s, drive_m = drive_s + back, drive_m + travel.metres(here, shift.end_place)
    ends = clock + back
    overtime = max(0, ends - shift.start_s - (shift.end_s - shift.start_s))
    return PlannedTour(shift.id, shift.start_s, ends, tuple(timed), drive_s, drive_m, overtime)


def plan_of(tours: Sequence[PlannedTour], gathered: Gathered) -> Plan:
    """Tours as a plan: whatever is on none is left out."""
    seen = {visit_id for tour in tours for visit_id in tour.visit_ids}
    left = tuple(Unplanned(v.id, "left", "") for v in gathered.problem.visits if v.id not in seen)
    sums = totals_of(tours, len(left), 0)
    totals = Totals(
        0, len(seen), len(left), int(sums["drive_s"] or 0), int(sums["drive_m"] or 0), 0, 0, len(tours), 0, 0
    )
    return Plan(tuple(tours), left, totals, True)


def lay_breaks(shift: Shift, stops: Sequence[Stop], travel: Travel) -> list[Stop]:
    """Each break in the first gap that holds it; none where no gap does, which the checker then tells."""
    found: list[Stop] = []
    ordered = sorted(stops, key=lambda s: s.start_s)
    for rest in shift.breaks:
        here, clock = shift.start_place, shift.start_s
        for n in range(len(ordered) + 1):
            start_s = max(clock, rest.earliest_s)
            follower = ordered[n] if n < len(ordered) else None
            free = follower is None or (
                start_s + rest.duration_s + travel.seconds(here, follower.place) <= follower.start_s
            )
            if free and start_s <= rest.latest_s:
                end_s = start_s + rest.duration_s
                found.append(Stop(EngineStop.BREAK, here, start_s, start_s, end_s, 0))
                break
            if follower is not None:
                here, clock = follower.place, follower.end_s
    return found
