"""The problem turned into numbers that both searches share: options, what is allowed where, costs. Pure.

An *option* is one way to serve a visit: one interval of starts with its extra cost. Windows that no shift
separates are merged first, since fewer options make better plans in less time.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from .kit import KitAtShift, choose_items, kit_at_shift
from .problem import Kit, Priority, Problem, Shift, Visit, Window, Yard
from .travel import Travel

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]
FAR_S = 1 << 50
REQUIRED_COST = 10**13


@dataclass(frozen=True, slots=True)
class Option:
    """One interval of starts of a visit, with the extra cost of using it."""

    visit: int
    earliest_s: int
    latest_s: int
    cost: int
    promised: bool
    renewed: bool


def cross(first: tuple[Window, ...], second: tuple[Window, ...]) -> tuple[Window, ...]:
    """Starts that lie in a window of each list."""
    out = []
    for a in first:
        for b in second:
            low, high = max(a.earliest_s, b.earliest_s), min(a.latest_s, b.latest_s)
            if low <= high:
                out.append(Window(low, high))
    return tuple(sorted(set(out), key=lambda window: window.earliest_s))


def lawful_starts(visit: Visit, horizon: Window) -> tuple[Window, ...]:
    """Starts that the law and the ticket's end allow without a renewal; the pin's start kept."""
    latest = (
        horizon.latest_s if visit.expires_s is None else min(horizon.latest_s, visit.expires_s - visit.duration_s)
    )
    if latest < horizon.earliest_s:
        return ()
    return _pinned(visit, cross(visit.lawful or (horizon,), (Window(horizon.earliest_s, latest),)))


def renewed_starts(visit: Visit, horizon: Window) -> tuple[Window, ...]:
    """Starts that are lawful once the ticket is renewed."""
    return _pinned(visit, cross(visit.renewed, (horizon,)))


def _pinned(visit: Visit, windows: tuple[Window, ...]) -> tuple[Window, ...]:
    if visit.pin is None or visit.pin.start_s is None:
        return windows
    return cross(windows, (Window(visit.pin.start_s, visit.pin.start_s),))


def unplanned_cost(problem: Problem, visit: Visit, horizon_end_s: int) -> int:
    """What a plan without this visit is charged: the problem's weights, an expiring ticket before the rest."""
    weights = problem.weights
    if visit.required:
        return REQUIRED_COST
    if visit.priority is Priority.EMERGENCY:
        return weights.unplanned_emergency
    if visit.expires_s is not None and visit.expires_s <= horizon_end_s:
        return weights.unplanned_expiring
    by_priority = {Priority.HIGH: weights.unplanned_high, Priority.NORMAL: weights.unplanned_normal}
    return by_priority.get(visit.priority, weights.unplanned_low)


def _likeness(items: tuple[Kit, ...]) -> frozenset[object]:
    """What decides which needs a set of items serves: how many there are of each kind and frequencies."""
    return frozenset(Counter((item.kind, item.frequencies_hz) for item in items).items())


class Model:
    """Arrays by shift and visit. `denied` holds (shift, item) pairs that yard kit already taken rules out."""

    def __init__(
        self,
        problem: Problem,
        travel: Travel,
        denied: frozenset[tuple[str, str]] = frozenset(),
        parent: tuple[Model, Sequence[int], Sequence[int]] | None = None,
    ) -> None:
        self.problem, self.travel = problem, travel
        self.shifts, self.visits = problem.shifts, problem.visits
        self.visit_no = {visit.id: number for number, visit in enumerate(self.visits)}
        self.shift_no = {shift.id: number for number, shift in enumerate(self.shifts)}
        self.crew = {crew.id: crew for crew in problem.crews}
        yards = {yard.id: yard for yard in problem.yards}
        self.yard: list[Yard | None] = [yards.get(self.crew[s.crew_id].yard_id or "") for s in self.shifts]
        first = min((s.start_s for s in self.shifts), default=0)
        self.horizon = Window(first, max((s.last_s for s in self.shifts), default=first))
        self.time: IntArray = travel.time_s
        self.loc = np.array([travel.index[v.place] for v in self.visits], dtype=np.int64)
        self.duration = np.array([v.duration_s for v in self.visits], dtype=np.int64)
        self.start_loc = [travel.index[s.start_place] for s in self.shifts]
        self.end_loc = [travel.index[s.end_place] for s in self.shifts]
        self.skilled: BoolArray
        self.own: BoolArray
        self.fetched: BoolArray
        self.allowed: BoolArray
        self.penalty: IntArray
        self.parts: IntArray
        self.stock: IntArray
        self.stocked: BoolArray
        self.part_kinds: list[str]
        self.kit: list[KitAtShift]
        if parent is None:
            self.penalty = np.array(
                [unplanned_cost(problem, v, self.horizon.latest_s) for v in self.visits], dtype=np.int64
            )
            self.kit = [self._kit(shift, denied) for shift in self.shifts]
            self._build_parts()
            self._build_allowed()
            self.fair_s = self._fair_share()
        else:
            self._take_from(*parent)
        self._build_options()

    def _take_from(self, parent: Model, shifts: Sequence[int], visits: Sequence[int]) -> None:
        """A part of a larger model keeps what the whole decides: penalties, kit, who may do what, the fair share."""
        s, v = np.array(shifts, dtype=np.int64), np.array(visits, dtype=np.int64)
        both = np.ix_(s, v)
        self.penalty = parent.penalty[v].copy()
        self.kit = [parent.kit[k] for k in shifts]
        self.part_kinds, self.parts = parent.part_kinds, parent.parts[v]
        self.stock, self.stocked = parent.stock[s], parent.stocked[s]
        self.skilled, self.own, self.fetched = parent.skilled[both], parent.own[both], parent.fetched[both]
        self.allowed = parent.allowed[both]
        self.fair_s = parent.fair_s

    def _kit(self, shift: Shift, denied: frozenset[tuple[str, str]]) -> KitAtShift:
        found = kit_at_shift(self.problem, shift)
        return KitAtShift(found.truck, tuple(item for item in found.yard if (shift.id, item.id) not in denied))

    def _build_parts(self) -> None:
        kinds = sorted({kind for visit in self.visits for kind, count in visit.parts.items() if count})
        self.part_kinds = kinds
        self.parts = np.array([[v.parts.get(k, 0) for k in kinds] for v in self.visits], dtype=np.int64).reshape(
            len(self.visits), len(kinds)
        )
        self.stock = np.array(
            [[self.crew[s.crew_id].parts.get(k, 0) for k in kinds] for s in self.shifts], dtype=np.int64
        ).reshape(len(self.shifts), len(kinds))
        self.stocked = np.array(
            [[bool(y and k in y.part_kinds) for k in kinds] for y in self.yard], dtype=bool
        ).reshape(len(self.shifts), len(kinds))

    def _build_allowed(self) -> None:
        """`skilled`, `own` (kit on the truck) and `fetched` (kit with a call at the yard), by shift and visit."""
        shape = (len(self.shifts), len(self.visits))
        self.skilled, self.own, self.fetched = (np.zeros(shape, dtype=bool) for _ in range(3))
        known: dict[tuple[object, ...], bool] = {}

        def serves(visit: Visit, items: tuple[Kit, ...], alike: object) -> bool:
            key = (visit.kit, alike)
            if key not in known:
                known[key] = choose_items(visit.kit, items) is not None
            return known[key]

        for s, shift in enumerate(self.shifts):
            skills = self.crew[shift.crew_id].skills
            truck, both = self.kit[s].truck, self.kit[s].truck + self.kit[s].yard
            truck_like, both_like = _likeness(truck), _likeness(both)
            for v, visit in enumerate(self.visits):
                pinned_here = visit.pin is None or visit.pin.shift_id == shift.id
                self.skilled[s, v] = visit.skills <= skills and pinned_here
                if not self.skilled[s, v]:
                    continue
                self.own[s, v] = not visit.kit or serves(visit, truck, truck_like)
                self.fetched[s, v] = self.yard[s] is not None and (not visit.kit or serves(visit, both, both_like))
            if self.part_kinds:
                enough = self.parts <= self.stock[s]
                self.fetched[s] &= (enough | self.stocked[s]).all(1)
        enough = (self.parts[None] <= self.stock[:, None]).all(2) if self.part_kinds else True
        self.allowed = self.skilled & ((self.own & enough) | self.fetched)

    def _build_options(self) -> None:
        self.options: list[Option] = []
        self.options_of: list[list[int]] = []
        for v in range(len(self.visits)):
            rows = [
                Option(v, w.earliest_s, w.latest_s, cost, promised, renewed)
                for windows, cost, promised, renewed in self._tiers(v)
                for w in self._merged(v, windows)
            ]
            self.options_of.append(list(range(len(self.options), len(self.options) + len(rows))))
            self.options.extend(rows)
        self.opt_visit = np.array([o.visit for o in self.options], dtype=np.int64)
        self.opt_earliest = np.array([o.earliest_s for o in self.options], dtype=np.int64)
        self.opt_latest = np.array([o.latest_s for o in self.options], dtype=np.int64)
        self.opt_cost = np.array([o.cost for o in self.options], dtype=np.int64)

    def _tiers(self, v: int) -> list[tuple[tuple[Window, ...], int, bool, bool]]:
        visit, weights = self.visits[v], self.problem.weights
        plain, renewed = lawful_starts(visit, self.horizon), renewed_starts(visit, self.horizon)
        if not visit.promised:
            return [(plain, 0, True, False), (renewed, weights.renewal, True, True)]
        return [
            (cross(plain, visit.promised), 0, True, False),
            (plain, weights.missed_promise, False, False),
            (cross(renewed, visit.promised), weights.renewal, True, True),
            (renewed, weights.renewal + weights.missed_promise, False, True),
        ]

    def _merged(self, v: int, windows: tuple[Window, ...]) -> list[Window]:
        """Windows cut to the shifts that may serve the visit; neighbours that no shift tells apart become one."""
        spans = sorted({(self.shifts[s].start_s, self.shifts[s].last_s) for s in np.flatnonzero(self.allowed[:, v])})
        live = [w for w in windows if any(w.earliest_s <= last and w.latest_s >= start for start, last in spans)]
        out: list[Window] = []
        for window in live:
            gap = (out[-1].latest_s, window.earliest_s) if out else None
            if gap and (gap[1] <= gap[0] or not any(start < gap[1] and last > gap[0] for start, last in spans)):
                out[-1] = Window(out[-1].earliest_s, max(out[-1].latest_s, window.latest_s))
            else:
                out.append(window)
        return out

    def _fair_share(self) -> int:
        """Seconds of tour a shift has when all work is spread evenly, a quarter added for driving; a rule of ours."""
        if not self.shifts:
            return 0
        return int(self.duration.sum() * 1.25) // len(self.shifts)

    @cached_property
    def moved(self) -> IntArray:
        """Extra cost by shift and visit for standing elsewhere than in the plan in force."""
        out = np.zeros((len(self.shifts), len(self.visits)), dtype=np.int64)
        for visit_id, was in self.problem.previous.items():
            v, s = self.visit_no.get(visit_id), self.shift_no.get(was.shift_id)
            if v is not None:
                out[:, v] = self.problem.weights.moved
                if s is not None:
                    out[s, v] = 0
        return out

    @cached_property
    def links_of(self) -> dict[int, list[tuple[int, bool, int, int]]]:
        """Visit -> (other visit, whether the other comes after, shortest gap, longest gap)."""
        out: dict[int, list[tuple[int, bool, int, int]]] = defaultdict(list)
        for link in self.problem.links:
            a, b = self.visit_no[link.before_id], self.visit_no[link.after_id]
            longest = FAR_S if link.gap_max_s is None else link.gap_max_s
            out[a].append((b, True, link.gap_min_s, longest))
            out[b].append((a, False, link.gap_min_s, longest))
        return dict(out)
