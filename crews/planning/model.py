"""The problem turned into numbers that both searches share: options, what is allowed where, costs. Pure.

An *option* is one way to serve a visit: one interval of starts with its extra cost. Windows that no shift
separates are merged first, since fewer options make better plans in less time.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from .kit import KitAtShift, kit_at_shifts
from .limits import NO_LIMITS, Limits
from .problem import Priority, Problem, Shift, Visit, Window, Yard
from .serving import BoolArray, served_by, skilled_at
from .travel import Travel

IntArray = npt.NDArray[np.int64]
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


class Model:
    """Arrays by shift and visit, within `limits`. With `known`, a model of the same problem within fewer limits, what
    the limits do not touch is taken from that."""

    def __init__(
        self, problem: Problem, travel: Travel, limits: Limits = NO_LIMITS, known: Model | None = None
    ) -> None:
        self.problem, self.travel, self.limits = problem, travel, limits
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
        self.penalty: IntArray
        if known is None:
            latest_s = self.horizon.latest_s
            self.penalty = np.array([unplanned_cost(problem, v, latest_s) for v in self.visits], dtype=np.int64)
            self.kit = kit_at_shifts(problem)
            self.skilled = skilled_at(problem)
            self.own = served_by(self.visits, [at.truck for at in self.kit]) & self.skilled
            self.fetched = served_by(self.visits, [at.truck + at.yard for at in self.kit]) & self.skilled
            self.fetched[[s for s, yard in enumerate(self.yard) if yard is None]] = False
        else:
            self.penalty, self.kit = known.penalty, list(known.kit)
            self.skilled, self.own, self.fetched = known.skilled, known.own, known.fetched.copy()
        self._limit_kit()
        self._build_parts()
        self._build_allowed()
        self.fair_s = self._fair_share()
        self._build_options()

    def _limit_kit(self) -> None:
        """Take away what the limits leave no call at the yard to fetch."""
        denied: dict[int, set[str]] = defaultdict(set)
        for s, item_id in self.limits.denied:
            denied[s].add(item_id)
        for s, gone in denied.items():
            here = self.kit[s]
            yard = tuple(item for item in here.yard if item.id not in gone)
            if len(yard) < len(here.yard):
                self.kit[s] = KitAtShift(here.truck, yard)
                self.fetched[s] &= served_by(self.visits, [here.truck + yard])[0]

    def _build_parts(self) -> None:
        """`day_stock` is what the truck has on the shift's day for all shifts of that day, `stock` what the limits
        leave this one of it."""
        kinds = sorted({kind for visit in self.visits for kind, count in visit.parts.items() if count})
        shape = (len(self.shifts), len(kinds))
        self.part_kinds = kinds
        self.parts: IntArray = np.array(
            [[v.parts.get(k, 0) for k in kinds] for v in self.visits], dtype=np.int64
        ).reshape(len(self.visits), len(kinds))
        self.day_stock: IntArray = np.array(
            [[self._on_truck(shift, kind) for kind in kinds] for shift in self.shifts], dtype=np.int64
        ).reshape(shape)
        self.stock = self.day_stock.copy()
        for (s, k), most in self.limits.pieces.items():
            self.stock[s, k] = min(self.stock[s, k], most)
        self.stocked: BoolArray = np.array(
            [[bool(y and k in y.part_kinds) for k in kinds] for y in self.yard], dtype=bool
        ).reshape(shape)

    def _on_truck(self, shift: Shift, kind: str) -> int:
        gone = self.problem.parts_gone.get((shift.crew_id, shift.day), {})
        return max(0, self.crew[shift.crew_id].parts.get(kind, 0) - gone.get(kind, 0))

    def _build_allowed(self) -> None:
        """`allowed`: with what is on the truck, or with a call at the yard as well."""
        on_truck, with_call = np.ones_like(self.own), np.ones_like(self.own)
        if self.part_kinds:
            enough = self.parts[None] <= self.stock[:, None]
            on_truck[:] = enough.all(2)
            with_call[:] = (enough | self.stocked[:, None]).all(2)
        self.fetched = self.fetched & with_call
        self.allowed: BoolArray = self.skilled & ((self.own & on_truck) | self.fetched)

    def _build_options(self) -> None:
        self._known_spans: dict[bytes, list[tuple[int, int]]] = {}
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
            tiers = [(plain, 0, True, False), (renewed, weights.renewal, True, True)]
        else:
            tiers = [
                (cross(plain, visit.promised), 0, True, False),
                (plain, weights.missed_promise, False, False),
                (cross(renewed, visit.promised), weights.renewal, True, True),
                (renewed, weights.renewal + weights.missed_promise, False, True),
            ]
        return [step for tier in tiers for step in self._sooner(visit, *tier)] if visit.sooner_s else tiers

    def _sooner(
        self, visit: Visit, windows: tuple[Window, ...], cost: int, promised: bool, renewed: bool
    ) -> Iterator[tuple[tuple[Window, ...], int, bool, bool]]:
        """A tier in steps, each with all earlier starts and the cost of its latest."""
        before: tuple[Window, ...] = ()
        for missed, mark in enumerate((*visit.sooner_s, self.horizon.latest_s)):
            within = (
                cross(windows, (Window(self.horizon.earliest_s, mark),)) if mark >= self.horizon.earliest_s else ()
            )
            if within != before:
                yield within, cost + missed * self.problem.weights.missed_promise, promised, renewed
            before = within

    def _merged(self, v: int, windows: tuple[Window, ...]) -> list[Window]:
        """Windows cut to the shifts that may serve the visit; neighbours that no shift tells apart become one."""
        spans = self._spans(self.allowed[:, v])
        live = [w for w in windows if any(w.earliest_s <= last and w.latest_s >= start for start, last in spans)]
        out: list[Window] = []
        for window in live:
            gap = (out[-1].latest_s, window.earliest_s) if out else None
            if gap and (gap[1] <= gap[0] or not any(start < gap[1] and last > gap[0] for start, last in spans)):
                out[-1] = Window(out[-1].earliest_s, max(out[-1].latest_s, window.latest_s))
            else:
                out.append(window)
        return out

    def _spans(self, allowed: BoolArray) -> list[tuple[int, int]]:
        """First and last instants of the shifts allowed; most visits are allowed what others are."""
        key = allowed.tobytes()
        if key not in self._known_spans:
            shifts = (self.shifts[s] for s in np.flatnonzero(allowed).tolist())
            self._known_spans[key] = sorted({(shift.start_s, shift.last_s) for shift in shifts})
        return self._known_spans[key]

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
