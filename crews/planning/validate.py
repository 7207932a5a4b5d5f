"""Refuses a problem that contradicts itself, with one clear sentence for each kind of contradiction. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from itertools import pairwise

from .errors import BadProblem
from .problem import Place, Problem, Shift, Visit, Window


def checked(problem: Problem) -> Problem:
    """The same problem, or `BadProblem` for the first contradiction found; nothing is repaired silently."""
    _unique("crew", (crew.id for crew in problem.crews))
    _unique("shift", (shift.id for shift in problem.shifts))
    _unique("visit", (visit.id for visit in problem.visits))
    _unique("yard", (yard.id for yard in problem.yards))
    _unique("kit item", (item.id for item in problem.kit))
    _check_crews(problem)
    for shift in problem.shifts:
        _check_shift(problem, shift)
    _check_overlap(problem)
    longest_s = max((shift.last_s - shift.start_s for shift in problem.shifts), default=None)
    for visit in problem.visits:
        _check_visit(problem, visit, longest_s)
    _check_kit(problem)
    _check_links(problem)
    _check_weights(problem)
    return problem


def _unique(what: str, ids: Iterable[str]) -> None:
    twice = [key for key, count in Counter(ids).items() if count > 1]
    if twice:
        raise BadProblem(f"The {what} {twice[0]} is given twice; give each {what} once.", fields={"id": twice[0]})


def _check_crews(problem: Problem) -> None:
    yards = {yard.id for yard in problem.yards}
    for crew in problem.crews:
        if crew.yard_id is None:
            raise BadProblem(
                f"Crew {crew.id} has no yard; say which yard its truck and kit belong to.",
                code="crew_without_yard",
                fields={"yard": "missing"},
            )
        if crew.yard_id not in yards:
            raise BadProblem(
                f"Crew {crew.id} belongs to yard {crew.yard_id}, which is not among the yards given.",
                code="crew_without_yard",
                fields={"yard": "unknown"},
            )
        if any(count < 0 for count in crew.parts.values()):
            raise BadProblem(
                f"Crew {crew.id} has less than no pieces of a part; count again.", fields={"parts": "negative"}
            )
    for (crew_id, day), gone in problem.parts_gone.items():
        if any(count < 0 for count in gone.values()):
            raise BadProblem(
                f"Crew {crew_id} has used less than no pieces of a part on day {day}; count again.",
                fields={"parts_gone": "negative"},
            )
    for yard in problem.yards:
        _check_place(problem, yard.place, f"Yard {yard.id}")
        if yard.call_s < 0:
            raise BadProblem(f"Yard {yard.id}: a call cannot take {yard.call_s} s.", fields={"call_s": "negative"})


def _check_shift(problem: Problem, shift: Shift) -> None:
    if shift.crew_id not in {crew.id for crew in problem.crews}:
        raise BadProblem(
            f"Shift {shift.id} is of crew {shift.crew_id}, which is not among the crews given.",
            fields={"crew": "unknown"},
        )
    if shift.end_s <= shift.start_s:
        raise BadProblem(
            f"Shift {shift.id} ends at or before its start; give an end after the start.",
            code="shift_backwards",
            fields={"end_s": "not after start_s"},
        )
    if shift.start_s < 0:
        raise BadProblem(
            f"Shift {shift.id} starts before the horizon does; count seconds from the horizon's start.",
            fields={"start_s": "negative"},
        )
    if shift.overtime_max_s < 0 or shift.fixed_cost < 0:
        raise BadProblem(
            f"Shift {shift.id}: overtime and cost cannot be negative.", fields={"overtime_max_s": "negative"}
        )
    for place, what in ((shift.start_place, "start"), (shift.end_place, "end")):
        _check_place(problem, place, f"The {what} of shift {shift.id}")
    for rest in shift.breaks:
        if rest.duration_s <= 0 or rest.latest_s < rest.earliest_s:
            raise BadProblem(
                f"A break of shift {shift.id} has no length or ends before it may start.",
                fields={"breaks": "impossible"},
            )
        if rest.earliest_s < shift.start_s or rest.latest_s + rest.duration_s > shift.last_s:
            raise BadProblem(
                f"A break of shift {shift.id} lies outside the shift.", fields={"breaks": "outside the shift"}
            )


def _check_overlap(problem: Problem) -> None:
    by_crew: dict[str, list[Shift]] = {}
    for shift in problem.shifts:
        by_crew.setdefault(shift.crew_id, []).append(shift)
    for crew_id, shifts in by_crew.items():
        for first, second in pairwise(sorted(shifts, key=lambda shift: shift.start_s)):
            if second.start_s < first.last_s:
                raise BadProblem(
                    f"Shifts {first.id} and {second.id} of crew {crew_id} overlap (overtime counted); "
                    "end the first before the second starts.",
                    code="overlapping_shifts",
                    fields={"shifts": f"{first.id}, {second.id}"},
                )


def _check_windows(visit: Visit, windows: tuple[Window, ...], name: str) -> None:
    for window in windows:
        if window.latest_s < window.earliest_s:
            raise BadProblem(
                f"Visit {visit.id}: a {name} window has its latest start before its earliest; "
                "it may be shorter than the work takes.",
                code="window_backwards",
                fields={name: "latest before earliest"},
            )


def _check_visit(problem: Problem, visit: Visit, longest_s: int | None) -> None:
    if visit.duration_s < 0:
        raise BadProblem(
            f"Visit {visit.id} takes {visit.duration_s} s; a visit cannot take less than no time.",
            code="negative_duration",
            fields={"duration_s": "negative"},
        )
    if longest_s is not None and visit.duration_s > longest_s:
        raise BadProblem(
            f"Visit {visit.id} takes {visit.duration_s / 3600:.1f} h, longer than any shift "
            f"({longest_s / 3600:.1f} h with overtime); split it into visits that fit.",
            code="visit_longer_than_shift",
            fields={"duration_s": "longer than any shift"},
        )
    _check_place(problem, visit.place, f"Visit {visit.id}")
    _check_windows(visit, visit.lawful, "lawful")
    _check_windows(visit, visit.promised, "promised")
    _check_windows(visit, visit.renewed, "renewed")
    if any(later <= earlier for earlier, later in pairwise(visit.sooner_s)):
        raise BadProblem(f"Visit {visit.id}: the instants of sooner_s must rise.", fields={"sooner_s": "not rising"})
    if any(count < 0 for count in visit.parts.values()):
        raise BadProblem(f"Visit {visit.id} needs less than no pieces of a part.", fields={"parts": "negative"})
    kinds = {need.kind for need in visit.kit}
    for need in visit.kit:
        if need.common_frequency_with is not None and need.common_frequency_with not in kinds:
            raise BadProblem(
                f"Visit {visit.id}: {need.kind} must share a frequency with {need.common_frequency_with}, "
                "but the visit does not need one; add it to the kit.",
                fields={"kit": "partner missing"},
            )
    if visit.pin is not None and visit.pin.shift_id not in {shift.id for shift in problem.shifts}:
        raise BadProblem(
            f"Visit {visit.id} is pinned to shift {visit.pin.shift_id}, which is not among the shifts "
            "given; take the pin off or add the shift.",
            code="pin_without_shift",
            fields={"pin": "unknown shift"},
        )


def _check_place(problem: Problem, place: Place, what: str) -> None:
    if place.planar:
        return
    if not (-90 <= place.y <= 90 and -180 <= place.x <= 180):
        raise BadProblem(
            f"{what} lies at {place.y}, {place.x}, which is nowhere on earth; give degrees north and east.",
            code="outside_country",
            fields={"place": "not on earth"},
        )
    if problem.country and not any(box.holds(place) for box in problem.country):
        raise BadProblem(
            f"{what} lies at {place.y:.4f}, {place.x:.4f}, outside the country; check latitude and longitude.",
            code="outside_country",
            fields={"place": "outside the country"},
        )


def _check_kit(problem: Problem) -> None:
    crews = {crew.id for crew in problem.crews}
    yards = {yard.id for yard in problem.yards}
    for item in problem.kit:
        if (item.crew_id is None) == (item.yard_id is None):
            raise BadProblem(
                f"Kit item {item.id} must be on one truck or at one yard.", fields={"kit": "place unclear"}
            )
        if item.crew_id is not None and item.crew_id not in crews:
            raise BadProblem(
                f"Kit item {item.id} is on the truck of crew {item.crew_id}, which is not given.",
                fields={"kit": "unknown crew"},
            )
        if item.yard_id is not None and item.yard_id not in yards:
            raise BadProblem(
                f"Kit item {item.id} lies at yard {item.yard_id}, which is not given.", fields={"kit": "unknown yard"}
            )


def _check_links(problem: Problem) -> None:
    ids = {visit.id for visit in problem.visits}
    after: dict[str, list[str]] = {}
    for link in problem.links:
        for end in (link.before_id, link.after_id):
            if end not in ids:
                raise BadProblem(
                    f"An order names visit {end}, which is not among the visits given.", fields={"links": end}
                )
        if link.gap_min_s < 0 or (link.gap_max_s is not None and link.gap_max_s < link.gap_min_s):
            raise BadProblem(
                f"Between {link.before_id} and {link.after_id} the longest gap is shorter than the shortest.",
                code="gap_backwards",
                fields={"links": f"{link.before_id}, {link.after_id}"},
            )
        after.setdefault(link.before_id, []).append(link.after_id)
    state: dict[str, int] = {}

    def walk(visit_id: str) -> None:
        state[visit_id] = 1
        for follower in after.get(visit_id, ()):
            if state.get(follower) == 1:
                raise BadProblem(
                    f"Visits {visit_id} and {follower} each wait for the other; break the circle.",
                    code="order_in_a_circle",
                    fields={"links": f"{visit_id}, {follower}"},
                )
            if follower not in state:
                walk(follower)
        state[visit_id] = 2

    for visit_id in after:
        if visit_id not in state:
            walk(visit_id)


def _check_weights(problem: Problem) -> None:
    for name in problem.weights.__dataclass_fields__:
        value = getattr(problem.weights, name)
        if isinstance(value, bool) or not isinstance(value, int) or value < 0:
            raise BadProblem(
                f"Weight {name} is {value!r}; give a whole number, nought or more.",
                code="bad_weight",
                fields={name: "not a whole number from 0"},
            )
