"""What the planner gives back: tours with times, what is left out and why, and what it all costs. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from .kit import choose_items
from .model import Model, Option
from .problem import Kit, Place
from .state import Tour
from .ways import VISIT, YARD, Way


class StopKind(StrEnum):
    """What happens at a stop of a tour."""

    VISIT = "visit"
    YARD_CALL = "yard_call"
    BREAK = "break"


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop: arrival, start and end in seconds of the horizon, and the driving that led to it."""

    kind: StopKind
    place: Place
    arrive_s: int
    start_s: int
    end_s: int
    drive_s: int
    visit_id: str | None = None
    in_promised_window: bool = True
    needs_renewal: bool = False
    kit_ids: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlannedTour:
    """One crew's day: when it leaves and returns, what it does, its driving and overtime in seconds."""

    shift_id: str
    leave_s: int
    return_s: int
    stops: tuple[Stop, ...]
    drive_s: int
    drive_m: int
    overtime_s: int

    @property
    def duration_s(self) -> int:
        """Seconds from leaving to returning."""
        return self.return_s - self.leave_s

    @property
    def visit_ids(self) -> tuple[str, ...]:
        """The visits in the order in which they are made."""
        return tuple(stop.visit_id for stop in self.stops if stop.visit_id is not None)


@dataclass(frozen=True, slots=True)
class Unplanned:
    """A visit left out, a stable word for the reason and a sentence that a person understands."""

    visit_id: str
    reason: str
    words: str


@dataclass(frozen=True, slots=True)
class Totals:
    """Sums over a plan; `cost` is in the problem's weights."""

    cost: int
    planned: int
    unplanned: int
    drive_s: int
    drive_m: int
    duration_s: int
    overtime_s: int
    shifts_used: int
    missed_promises: int
    renewals: int


@dataclass(frozen=True, slots=True)
class Plan:
    """A proposal. `violations` is what the independent checker found, empty for a plan that may be accepted;
    `complete` is false when a visit that the problem calls required is missing."""

    tours: tuple[PlannedTour, ...]
    unplanned: tuple[Unplanned, ...]
    totals: Totals
    complete: bool
    violations: tuple[str, ...] = ()
    seed: int = 0
    seconds: float = 0.0
    rounds: int = 0
    called_off: bool = False
    notes: tuple[str, ...] = field(default=())

    @property
    def feasible(self) -> bool:
        """Whether the plan is complete and the checker found nothing."""
        return self.complete and not self.violations


def way_of(model: Model, tour: Tour) -> Way | None:
    """The way a tour is run, None when it is not used."""
    return tour.way if tour.seq else None


def timed_tour(model: Model, s: int, way: Way, taken: tuple[Kit, ...] = ()) -> PlannedTour:
    """The stops of a way with times: everything as early as it can be for the shortest tour."""
    shift, travel = model.shifts[s], model.travel
    leave = _leave(model, s, way)
    clock, here, drive_s, drive_m = leave, shift.start_place, 0, 0
    stops = []
    for node in way.nodes:
        place = here
        if node.what == VISIT:
            place = model.visits[model.options[node.option].visit].place
        elif node.what == YARD:
            yard = model.yard[s]
            assert yard is not None
            place = yard.place
        leg = travel.seconds(here, place)
        drive_s, drive_m = drive_s + leg, drive_m + travel.metres(here, place)
        arrive = clock + leg
        start = max(arrive, node.earliest)
        option = model.options[node.option] if node.what == VISIT else None
        stops.append(_stop(model, node.what, option, place, arrive, start, start + node.duration, leg, taken))
        clock, here = start + node.duration, place
    back = travel.seconds(here, shift.end_place)
    drive_s, drive_m = drive_s + back, drive_m + travel.metres(here, shift.end_place)
    overtime = max(0, clock + back - leave - (shift.end_s - shift.start_s))
    return PlannedTour(shift.id, leave, clock + back, tuple(stops), drive_s, drive_m, overtime)


def _leave(model: Model, s: int, way: Way) -> int:
    shift = model.shifts[s]
    if not shift.free_start:
        return shift.start_s
    _, e0, l0, at, _ = way.before[0]
    _, e, _, loc, _ = way.after[0]
    return min(l0, max(e0, e - int(model.time[at, loc])))


def _stop(
    model: Model,
    what: int,
    option: Option | None,
    place: Place,
    arrive: int,
    start: int,
    end: int,
    leg: int,
    taken: tuple[Kit, ...],
) -> Stop:
    if option is None:
        kind = StopKind.YARD_CALL if what == YARD else StopKind.BREAK
        return Stop(kind, place, arrive, start, end, leg, kit_ids=tuple(k.id for k in taken) if what == YARD else ())
    visit = model.visits[option.visit]
    inside = not visit.promised or any(w.earliest_s <= start <= w.latest_s for w in visit.promised)
    return Stop(
        StopKind.VISIT,
        place,
        arrive,
        start,
        end,
        leg,
        visit_id=visit.id,
        in_promised_window=inside,
        needs_renewal=option.renewed,
    )


def yard_kit_needed(model: Model, s: int, way: Way, free: tuple[Kit, ...]) -> tuple[Kit, ...] | None:
    """Items that the yard call must fetch for the visits after it, the truck's own items used first; None when
    the `free` ones are not enough."""
    truck = model.kit[s].truck
    taken: list[Kit] = []
    after_call = False
    for node in way.nodes:
        after_call = after_call or node.what == YARD
        if node.what != VISIT:
            continue
        needs = model.visits[model.options[node.option].visit].kit
        if not needs or choose_items(needs, truck) is not None:
            continue
        chosen = choose_items(needs, (*truck, *taken, *free)) if after_call else None
        if chosen is None:
            return None
        taken += [item for item in chosen if item not in truck and item not in taken]
    return tuple(taken)
