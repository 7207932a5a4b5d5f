"""One crew's tour on one shift: its cheapest timing with a yard call and breaks, and what inserting a visit costs.

A tour is a sequence of options. Times are kept as segments (duration, earliest start, latest start), which
join in constant time with the least waiting: T. Vidal, T. G. Crainic, M. Gendreau, C. Prins, "A hybrid genetic
algorithm with adaptive diversity management for a large class of vehicle routing problems with time-windows",
Computers & Operations Research 40(1), 2013, section 4. All insertions into a tour are priced at once with
numpy and kept, since most tours live on unchanged. Pure.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .model import FAR_S, Model

FloatArray = npt.NDArray[np.float64]
Clip = tuple[int, int]
IMPOSSIBLE = 1e18
VISIT, YARD, REST = 0, 1, 2


@dataclass(slots=True)
class Node:
    """A stop before it has a time: what, where (-1: wherever the crew is), how long, allowed starts, option."""

    what: int
    loc: int
    duration: int
    earliest: int
    latest: int
    option: int = -1


@dataclass(slots=True)
class Way:
    """One way to run a sequence: its stops, segments up to and from each stop, its cost, the latest return."""

    nodes: list[Node]
    before: list[tuple[int, int, int, int, int]]
    after: list[tuple[int, int, int, int, int]]
    cost: int
    last_s: int


class Tour:
    """A feasible tour; `gain` and `place` say what it costs to insert each option, and where."""

    __slots__ = ("cost", "gain", "place", "rows", "seq", "shift", "way")

    def __init__(self, shift: int, seq: tuple[int, ...], cost: int, way: Way | None, gain: FloatArray,
                 place: npt.NDArray[np.int64]) -> None:
        self.shift, self.seq, self.cost, self.way, self.gain, self.place = shift, seq, cost, way, gain, place


class _Side:
    """What a shift's tours share: its columns (options that fit), their travel times and kit."""

    def __init__(self, model: Model, s: int) -> None:
        shift = model.shifts[s]
        fits = model.allowed[s][model.opt_visit] & (model.opt_earliest <= shift.last_s)
        fits &= model.opt_latest >= shift.start_s
        self.cols = np.flatnonzero(fits)
        visit = model.opt_visit[self.cols]
        self.travel = np.ascontiguousarray(model.time[:, model.loc[visit]].astype(float))
        self.back = np.ascontiguousarray(model.time.T[:, model.loc[visit]].astype(float))
        self.earliest = model.opt_earliest[self.cols].astype(float)
        self.latest = model.opt_latest[self.cols].astype(float)
        self.duration = model.duration[visit].astype(float)
        self.extra = (model.opt_cost[self.cols] + model.moved[s][visit]).astype(float)
        self.own, self.fetched = model.own[s][visit], model.fetched[s][visit]
        self.parts = model.parts[visit]
        self.stock = model.stock[s]
        self.after_yard = np.where(model.stocked[s], FAR_S, model.stock[s])
        self.any_kit = bool((~self.own).any() or self.parts.any())
        self.range = np.arange(len(self.cols))


class TourBook:
    """Makes tours and remembers them by shift, sequence and clipped windows."""

    def __init__(self, model: Model, calls_tried: int = 3, remembered: int = 40_000) -> None:
        self.model, self._calls_tried, self._remembered = model, calls_tried, remembered
        self._sides = [_Side(model, s) for s in range(len(model.shifts))]
        self._time: list[list[int]] = model.time.tolist()
        self._option = [(int(model.loc[o.visit]), int(model.duration[o.visit]), o.earliest_s, o.latest_s)
                        for o in model.options]
        self._visit: list[int] = model.opt_visit.tolist()
        self._parts: list[list[int]] = model.parts.tolist()
        self._own: list[list[bool]] = model.own.tolist()
        self._kept: dict[tuple[object, ...], Tour | None] = {}

    def tour(self, s: int, seq: tuple[int, ...], clips: dict[int, Clip] | None = None) -> Tour | None:
        """The tour of shift `s` serving options `seq` in that order, or None when that cannot be done."""
        clipped = tuple((o, clips[v]) for o in seq if (v := self._visit[o]) in clips) if clips else ()
        key = (s, seq, clipped)
        if key in self._kept:
            return self._kept[key]
        if len(self._kept) >= self._remembered:
            self._kept.clear()
        made = self._make(s, seq, dict(clipped))
        self._kept[key] = made
        return made

    def ways(self, s: int, seq: tuple[int, ...], clips: dict[int, Clip] | None = None) -> list[Way]:
        """Every way tried to run the sequence: without a yard call, with one at promising places, breaks placed."""
        nodes = []
        for o in seq:
            loc, duration, earliest, latest = self._option[o]
            if clips and o in clips:
                earliest, latest = max(earliest, clips[o][0]), min(latest, clips[o][1])
                if earliest > latest:
                    return []
            nodes.append(Node(VISIT, loc, duration, earliest, latest, o))
        ways: list[Way] = []
        own_until = self._own_until(s, seq)
        if own_until == len(seq) + 1:
            ways.extend(self._timed(s, nodes))
        if self.model.yard[s] is not None and self._sides[s].any_kit:
            ways.extend(self._with_call(s, nodes, min(own_until, len(seq))))
        return ways

    def _own_until(self, s: int, seq: tuple[int, ...]) -> int:
        """Latest position of a yard call that kit allows; length + 1 when the truck's own kit is enough."""
        own, parts, side = self._own[s], self._parts, self._sides[s]
        if not side.any_kit:
            return len(seq) + 1
        used = [0] * len(side.stock)
        stock = side.stock.tolist()
        for position, o in enumerate(seq):
            v = self._visit[o]
            if not own[v]:
                return position
            if stock:
                used = [a + b for a, b in zip(used, parts[v], strict=True)]
                if any(a > b for a, b in zip(used, stock, strict=True)):
                    return position
        return len(seq) + 1

    def _with_call(self, s: int, nodes: list[Node], last: int) -> list[Way]:
        yard = self.model.yard[s]
        assert yard is not None
        at = self.model.travel.index[yard.place]
        time = self._time
        locs = [self.model.start_loc[s], *(node.loc for node in nodes), self.model.end_loc[s]]
        detours = sorted((time[locs[q]][at] + time[at][locs[q + 1]] - time[locs[q]][locs[q + 1]], q)
                         for q in range(last + 1))
        call = Node(YARD, at, yard.call_s, -FAR_S, FAR_S)
        out: list[Way] = []
        for _, q in detours:
            out.extend(self._timed(s, [*nodes[:q], call, *nodes[q:]]))
            if len(out) >= self._calls_tried:
                break
        return out

    def _timed(self, s: int, nodes: list[Node]) -> list[Way]:
        """Ways to run the stops with the shift's breaks put in; the two cheapest where breaks leave a choice."""
        shift = self.model.shifts[s]
        if not shift.breaks:
            way = self.sweep(s, nodes, shift.last_s)
            return [] if way is None else [way]
        found: list[tuple[list[Node], int]] = [(nodes, shift.last_s)]
        for rest in shift.breaks:
            stop = Node(REST, -1, rest.duration_s, rest.earliest_s, rest.latest_s)
            longer: list[Way] = []
            for stops, last_s in found:
                for position in range(len(stops) + 1):
                    way = self.sweep(s, [*stops[:position], stop, *stops[position:]], last_s)
                    if way is not None:
                        longer.append(way)
                way = self.sweep(s, stops, min(last_s, rest.latest_s))
                if way is not None:
                    longer.append(way)
            longer.sort(key=lambda way: way.cost)
            found = [(way.nodes, way.last_s) for way in longer[:3]]
        return longer[:3]

    def sweep(self, s: int, nodes: list[Node], last_s: int) -> Way | None:
        """Segments of the stops forward and backward; None when they do not fit one after the other."""
        model, time = self.model, self._time
        shift = model.shifts[s]
        start_latest = shift.last_s if shift.free_start else shift.start_s
        loc, d, e, latest, drive = model.start_loc[s], 0, shift.start_s, start_latest, 0
        before = [(d, e, latest, loc, drive)]
        locs = []
        for node in nodes:
            leg = 0
            if node.loc >= 0:
                leg = time[loc][node.loc]
                loc = node.loc
            locs.append(loc)
            delta = d + leg
            if e + delta > node.latest:
                return None
            head = node.earliest - delta
            wait = head - latest if head > latest else 0
            d = delta + node.duration + wait
            e = (head if head > e else e) - wait
            tail = node.latest - delta
            latest = tail if tail < latest else latest
            drive += leg
            before.append((d, e, latest, loc, drive))
        loc = model.end_loc[s]
        d, e, latest, drive = 0, -FAR_S, last_s, 0
        after = [(d, e, latest, loc, drive)]
        for number in range(len(nodes) - 1, -1, -1):
            node, here = nodes[number], locs[number]
            leg = time[here][loc]
            loc = here
            delta = node.duration + leg
            if node.earliest + delta > latest:
                return None
            head = e - delta
            wait = head - node.latest if head > node.latest else 0
            d = delta + d + wait
            e = (head if head > node.earliest else node.earliest) - wait
            tail = latest - delta
            latest = tail if tail < node.latest else node.latest
            drive += leg
            after.append((d, e, latest, loc, drive))
        after.reverse()
        d0, e0, l0, at, _ = before[0]
        d, e, latest, loc, drive = after[0]
        leg = time[at][loc]
        if e0 + leg > latest:
            return None
        total = leg + d + max(e - leg - l0, 0)
        return Way(nodes, before, after, self.tour_cost(s, total, drive + leg), last_s)

    def tour_cost(self, s: int, duration_s: int, drive_s: int) -> int:
        """Cost of a used shift: driving, time, overtime, unevenness and its fixed cost; without visits' extras."""
        shift, weights = self.model.shifts[s], self.model.problem.weights
        return (
            weights.drive * drive_s + weights.duration * duration_s + shift.fixed_cost
            + weights.overtime * max(0, duration_s - (shift.end_s - shift.start_s))
            + weights.unevenness * max(0, duration_s - self.model.fair_s)
        )

    def _make(self, s: int, seq: tuple[int, ...], clips: dict[int, Clip]) -> Tour | None:
        ways = self.ways(s, seq, clips)
        if not ways:
            if seq:
                return None
            size = len(self.model.options)
            return Tour(s, seq, 0, None, np.full(size, IMPOSSIBLE), np.zeros(size, dtype=np.int64))
        best = min(ways, key=lambda way: way.cost)
        extra = 0
        model = self.model
        for o in seq:
            extra += model.options[o].cost + int(model.moved[s, self._visit[o]])
        cost = best.cost + extra if seq else 0
        rows = self._rows(s, seq, ways)
        tour = Tour(s, seq, cost, best if seq else None, *self._priced(s, rows, cost - extra))
        tour.rows = rows
        return tour

    def _rows(self, s: int, seq: tuple[int, ...], ways: list[Way]) -> tuple[list[list[int]], list[list[int]]]:
        """One row for each place an option may go; and the distinct kit states that rows refer to."""
        side = self._sides[s]
        used = [[0] * len(side.stock)]
        for o in seq if side.any_kit else ():
            used.append([a + b for a, b in zip(used[-1], self._parts[self._visit[o]], strict=True)])
        stock, beyond = side.stock.tolist(), side.after_yard.tolist()
        rows, kits = [], []
        for way in ways:
            call = next((k for k, node in enumerate(way.nodes) if node.what == YARD), -1)
            if call >= 0:
                first = sum(node.what == VISIT for node in way.nodes[:call])
                # before the call its own stock counts up to there; what the yard does not keep counts all along
                kits.append([1, *(st - (used[first] if far > st else used[-1])[k]
                                  for k, (st, far) in enumerate(zip(stock, beyond, strict=True)))])
                kits.append([0, *(far - used[-1][k] for k, far in enumerate(beyond))])
            elif side.any_kit:
                kits.append([1, *(st - used[-1][k] for k, st in enumerate(stock))])
            else:
                kits.append([2])
            state = len(kits) - (2 if call >= 0 else 1)
            position = 0
            for k in range(len(way.nodes) + 1):
                run, rest = k, (0, -FAR_S, FAR_S)
                while run < len(way.nodes) and way.nodes[run].what == REST:
                    rest = _join_rest(rest, way.nodes[run])
                    run += 1
                d, e, latest, at, drive = way.before[k]
                d2, e2, latest2, to, drive2 = way.after[run]
                rows.append([d, e, latest, at, d2, e2, latest2, to, drive + drive2, *rest, state, position])
                if k < len(way.nodes):
                    position += way.nodes[k].what == VISIT
                    state += way.nodes[k].what == YARD
        return rows, kits

    def _priced(self, s: int, rows: tuple[list[list[int]], list[list[int]]], base: int,
                clip: tuple[npt.NDArray[np.int64], float, float] | None = None) -> tuple[FloatArray, npt.NDArray[np.int64]]:
        side, size = self._sides[s], len(self.model.options)
        gain, place = np.full(size, IMPOSSIBLE), np.zeros(size, dtype=np.int64)
        pick = side.range if clip is None else np.flatnonzero(np.isin(side.cols, clip[0]))
        if not len(pick):
            return gain, place
        table = np.array(rows[0], dtype=float).T[:, :, None]
        cost = self._cost_of_all(s, table, side, None if clip is None else pick, clip)
        if side.any_kit:
            kits = np.array(rows[1], dtype=np.int64)
            room = (side.parts[pick][None] <= kits[:, None, 1:]).all(2)
            room &= np.where(kits[:, :1] == 1, side.own[pick][None], side.fetched[pick][None])
            cost[~room[table[12, :, 0].astype(np.int64)]] = IMPOSSIBLE
        best = cost.argmin(0)
        value = cost[best, np.arange(len(pick))]
        cols = side.cols[pick]
        gain[cols] = np.where(value < IMPOSSIBLE / 2, value - base + side.extra[pick], IMPOSSIBLE)
        place[cols] = table[13, :, 0].astype(np.int64)[best]
        return gain, place

    def _cost_of_all(self, s: int, table: FloatArray, side: _Side, pick: npt.NDArray[np.int64] | None,
                     clip: tuple[npt.NDArray[np.int64], float, float] | None) -> FloatArray:
        """Cost of the tour with each column's option put in at each row's place; impossible ones marked."""
        pd, pe, pl, at, sd, se, sl, to, drive, rd, re, rl = table[:12]
        there = side.travel[at[:, 0].astype(np.int64)]
        onward = side.back[to[:, 0].astype(np.int64)]
        earliest, latest, duration = side.earliest, side.latest, side.duration
        if pick is not None and clip is not None:
            there, onward = there[:, pick], onward[:, pick]
            earliest, latest = np.maximum(earliest[pick], clip[1]), np.minimum(latest[pick], clip[2])
            duration = duration[pick]
        d = pd + there
        bad = pe + d > latest
        if pick is not None:
            bad |= earliest > latest
        head = earliest - d
        wait = np.maximum(head - pl, 0.0)
        e = np.maximum(head, pe) - wait
        last = np.minimum(latest - d, pl)
        d += wait
        d += duration
        shift, weights = self.model.shifts[s], self.model.problem.weights
        if shift.breaks:
            bad |= e + d > rl
            head = re - d
            wait = np.maximum(head - last, 0.0)
            e = np.maximum(head, e) - wait
            last = np.minimum(rl - d, last)
            d += wait + rd
        d += onward
        bad |= e + d > sl
        d += np.maximum(se - d - last, 0.0)
        d += sd
        cost = d * weights.duration if weights.duration else np.zeros_like(d)
        if weights.drive:
            cost += (there + onward + drive) * weights.drive
        if weights.overtime and shift.overtime_max_s:
            cost += np.maximum(d - (shift.end_s - shift.start_s), 0.0) * weights.overtime
        if weights.unevenness:
            cost += np.maximum(d - self.model.fair_s, 0.0) * weights.unevenness
        if shift.fixed_cost:
            cost += shift.fixed_cost
        cost[bad] = IMPOSSIBLE
        return cost

    def clipped_gain(self, tour: Tour, options: npt.NDArray[np.int64], clip: Clip) -> tuple[FloatArray, npt.NDArray[np.int64]]:
        """As `gain` and `place`, for some options whose starts are cut to `clip`."""
        extra = sum(self.model.options[o].cost + int(self.model.moved[tour.shift, self._visit[o]]) for o in tour.seq)
        return self._priced(tour.shift, tour.rows, tour.cost - extra, (options, float(clip[0]), float(clip[1])))


def _join_rest(rest: tuple[int, int, int], node: Node) -> tuple[int, int, int]:
    """The segment of breaks taken one after the other at one place."""
    d, e, latest = rest
    if d == 0:
        return node.duration, node.earliest, node.latest
    head = node.earliest - d
    wait = max(head - latest, 0)
    return d + node.duration + wait, max(head, e) - wait, min(node.latest - d, latest)
