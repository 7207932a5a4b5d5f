"""One crew's tour on one shift: its cheapest timing with a yard call and breaks, and what inserting a visit costs.

A tour is a sequence of options. Times are kept as segments (duration, earliest start, latest start), which
join in constant time with the least waiting: T. Vidal, T. G. Crainic, M. Gendreau, C. Prins, "A hybrid genetic
algorithm with adaptive diversity management for a large class of vehicle routing problems with time-windows",
Computers & Operations Research 40(1), 2013, section 4. All insertions into a tour are priced at once with
numpy and kept, since most tours live on unchanged. Pure.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from .model import FAR_S, Model

FloatArray = npt.NDArray[np.float64]
Clip = tuple[int, int]
Segment = tuple[int, int, int, int, int]  # duration, earliest start, latest start, place, driving
Columns = tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]
Rows = tuple[FloatArray, npt.NDArray[np.int64]]
IMPOSSIBLE = 1e18
VISIT, YARD, REST = 0, 1, 2


class Node(NamedTuple):
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
    before: list[Segment]
    after: list[Segment]
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
        self.stock_list: list[int] = self.stock.tolist()
        self.beyond_list: list[int] = self.after_yard.tolist()
        self.any_kit = bool((~self.own).any() or self.parts.any())
        self.range = np.arange(len(self.cols))
        self.columns: Columns = (self.travel, self.back, self.earliest, self.latest, self.duration)
        self.column_of = {int(o): k for k, o in enumerate(self.cols)}


class TourBook:
    """Makes tours and remembers them by shift, sequence and clipped windows."""

    def __init__(self, model: Model, calls_tried: int = 3, remembered: int = 40_000) -> None:
        self.model, self._calls_tried, self._remembered = model, calls_tried, remembered
        self._sides = [_Side(model, s) for s in range(len(model.shifts))]
        self._time: list[list[int]] = model.time.tolist()
        self._node = [Node(VISIT, int(model.loc[o.visit]), int(model.duration[o.visit]), o.earliest_s, o.latest_s, k)
                      for k, o in enumerate(model.options)]
        self._last = [shift.last_s for shift in model.shifts]
        self._first: list[Segment] = [
            (0, shift.start_s, shift.last_s if shift.free_start else shift.start_s, model.start_loc[s], 0)
            for s, shift in enumerate(model.shifts)]
        self._call = [Node(YARD, -1 if y is None else model.travel.index[y.place], 0 if y is None else y.call_s,
                           -FAR_S, FAR_S) for y in model.yard]
        self.visit_of: list[int] = model.opt_visit.tolist()
        self._parts: list[list[int]] = model.parts.tolist()
        self._own: list[list[bool]] = model.own.tolist()
        self._kept: dict[tuple[object, ...], Tour | None] = {}

    def tour(self, s: int, seq: tuple[int, ...], clips: dict[int, Clip] | None = None) -> Tour | None:
        """The tour of shift `s` serving options `seq` in that order, or None when that cannot be done."""
        clipped = tuple((o, clips[v]) for o in seq if (v := self.visit_of[o]) in clips) if clips else ()
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
        nodes = [self._node[o] for o in seq]
        if clips:
            for k, o in enumerate(seq):
                if o in clips:
                    node = nodes[k]
                    nodes[k] = node._replace(earliest=max(node.earliest, clips[o][0]),
                                             latest=min(node.latest, clips[o][1]))
                    if nodes[k].earliest > nodes[k].latest:
                        return []
        own_until = self._own_until(s, seq)
        calls = self.model.yard[s] is not None and self._sides[s].any_kit
        if self.model.shifts[s].breaks:
            ways = self._rested(s, nodes) if own_until > len(seq) else []
            plain = None
        else:
            plain = self.sweep(s, nodes, self._last[s])
            if plain is None:  # a call on the way takes time; it can make no tour possible
                return []
            ways = [plain] if own_until > len(seq) else []
        if calls:
            ways.extend(self._with_call(s, nodes, min(own_until, len(seq)), plain))
        return ways

    def _own_until(self, s: int, seq: tuple[int, ...]) -> int:
        """Latest position of a yard call that kit allows; length + 1 when the truck's own kit is enough."""
        own, parts, side = self._own[s], self._parts, self._sides[s]
        if not side.any_kit:
            return len(seq) + 1
        stock = side.stock_list
        used = [0] * len(stock)
        for position, o in enumerate(seq):
            v = self.visit_of[o]
            if not own[v]:
                return position
            if stock:
                used = [a + b for a, b in zip(used, parts[v], strict=True)]
                if any(a > b for a, b in zip(used, stock, strict=True)):
                    return position
        return len(seq) + 1

    def _with_call(self, s: int, nodes: list[Node], last: int, plain: Way | None) -> list[Way]:
        call = self._call[s]
        at, time = call.loc, self._time
        here, onward = time[self.model.start_loc[s]], self.model.end_loc[s]
        detours = []
        for q in range(last + 1):
            there = nodes[q].loc if q < len(nodes) else onward
            detours.append((here[at] + time[at][there] - here[there], q))
            here = time[there]
        detours.sort()
        out: list[Way] = []
        for _, q in detours:
            stops = [*nodes[:q], call, *nodes[q:]]
            if plain is None:
                out.extend(self._rested(s, stops))
            else:
                way = self.sweep(s, stops, self._last[s], plain, q)
                if way is not None:
                    out.append(way)
            if len(out) >= self._calls_tried:
                break
        return out

    def _rested(self, s: int, nodes: list[Node]) -> list[Way]:
        """Ways to run the stops with the shift's breaks put in; the three cheapest where breaks leave a choice."""
        shift = self.model.shifts[s]
        found: list[tuple[list[Node], int]] = [(nodes, shift.last_s)]
        longer: list[Way] = []
        for rest in shift.breaks:
            stop = Node(REST, -1, rest.duration_s, rest.earliest_s, rest.latest_s)
            longer = []
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

    def sweep(self, s: int, nodes: list[Node], last_s: int, plain: Way | None = None, at: int = 0) -> Way | None:
        """Segments of the stops forward and backward; None when they do not fit one after the other.

        With `plain`, the way of the same stops but the one at position `at`: its segments before and after that
        stop are used again.
        """
        time = self._time
        if plain is None:
            before = [self._first[s]]
            after = [(0, -FAR_S, last_s, self.model.end_loc[s], 0)]
            ahead, back = nodes, nodes
        else:
            before, after = plain.before[:at + 1], plain.after[at:][::-1]
            ahead, back = nodes[at:], nodes[:at + 1]
        d, e, latest, loc, drive = before[-1]
        for _, to, duration, earliest, last, _ in ahead:
            if to >= 0:
                leg = time[loc][to]
                loc = to
                drive += leg
                d += leg
            if e + d > last:
                return None
            head = earliest - d
            tail = last - d
            d += duration
            if head > e:
                e = head
                if head > latest:
                    d += head - latest
                    e = latest
            if tail < latest:
                latest = tail
            before.append((d, e, latest, loc, drive))
        back_locs = [entry[3] for entry in before[1:len(back) + 1]]
        d, e, latest, loc, drive = after[-1]
        for k in range(len(back) - 1, -1, -1):
            _, _, duration, earliest, last, _ = back[k]
            here = back_locs[k]
            leg = time[here][loc]
            loc = here
            drive += leg
            delta = duration + leg
            if earliest + delta > latest:
                return None
            head = e - delta
            d += delta
            e = earliest
            tail = latest - delta
            if head > e:
                e = head
                if head > last:
                    d += head - last
                    e = last
            latest = tail if tail < last else last
            after.append((d, e, latest, loc, drive))
        after.reverse()
        return self._way(s, nodes, before, after, last_s)

    def _way(self, s: int, nodes: list[Node], before: list[Segment], after: list[Segment], last_s: int) -> Way | None:
        """The start joined to the stops after it."""
        _, e0, l0, at, _ = before[0]
        d, e, latest, loc, drive = after[0]
        leg = self._time[at][loc]
        if e0 + leg > latest:
            return None
        wait = e - leg - l0
        total = leg + d + (wait if wait > 0 else 0)
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
            extra += model.options[o].cost + int(model.moved[s, self.visit_of[o]])
        cost = best.cost + extra if seq else 0
        rows = self._rows(s, seq, ways)
        tour = Tour(s, seq, cost, best if seq else None, *self._priced(s, rows, cost - extra))
        tour.rows = rows
        return tour

    def _rows(self, s: int, seq: tuple[int, ...], ways: list[Way]) -> Rows:
        """One row for each place an option may go; and the distinct kit states that rows refer to."""
        kits: list[list[int]] = []
        blocks = []
        used = self._used(s, seq)
        for way in ways:
            stops = len(way.nodes) + 1
            call = next((k for k, node in enumerate(way.nodes) if node.what == YARD), -1)
            block = np.zeros((stops, 15))
            block[:, 0:5] = way.before
            block[:, 12] = len(kits)
            block[:, 13] = np.arange(stops)
            if call >= 0:
                block[call + 1:, 12] += 1
                block[call + 1:, 13] -= 1
            if self.model.shifts[s].breaks:
                self._rest_rows(way, block)
            else:
                block[:, 5:10] = way.after
            kits.extend(self._kit_states(s, used, way, call))
            blocks.append(block)
        return (blocks[0] if len(blocks) == 1 else np.concatenate(blocks)), np.array(kits, dtype=np.int64)

    def _used(self, s: int, seq: tuple[int, ...]) -> list[list[int]]:
        """Parts used up to each position."""
        side = self._sides[s]
        used = [[0] * len(side.stock)]
        if side.any_kit and used[0]:
            for o in seq:
                used.append([a + b for a, b in zip(used[-1], self._parts[self.visit_of[o]], strict=True)])
        return used

    def _kit_states(self, s: int, used: list[list[int]], way: Way, call: int) -> list[list[int]]:
        """Whether own kit must serve (1) or a call has been made (0), and how many pieces of each part are left."""
        side = self._sides[s]
        if not side.any_kit:
            return [[1]]
        stock = side.stock_list
        if call < 0:
            return [[1, *(a - b for a, b in zip(stock, used[-1], strict=True))]]
        first = used[min(len(used) - 1, sum(node.what == VISIT for node in way.nodes[:call]))]
        beyond = side.beyond_list
        # before the call the truck's stock counts up to there; what the yard does not keep counts all along
        early = [a - (x if far > a else y) for a, far, x, y in zip(stock, beyond, first, used[-1], strict=True)]
        return [[1, *early], [0, *(far - y for far, y in zip(beyond, used[-1], strict=True))]]

    @staticmethod
    def _rest_rows(way: Way, block: FloatArray) -> None:
        """Rows of a way with breaks: a break right after the place is joined on its own, since it has no place."""
        for k in range(len(way.nodes) + 1):
            run, rest = k, (0, -FAR_S, FAR_S)
            while run < len(way.nodes) and way.nodes[run].what == REST:
                rest = _join_rest(rest, way.nodes[run])
                run += 1
            block[k, 5:10] = way.after[run]
            block[k, 10], block[k, 11], block[k, 14] = rest
            if k < len(way.nodes) and way.nodes[k].what == REST:
                block[k + 1:, 13] -= 1

    def _priced(self, s: int, rows: Rows, base: int) -> tuple[FloatArray, npt.NDArray[np.int64]]:
        """What inserting each option costs at best, and at which position of the sequence."""
        side, size = self._sides[s], len(self.model.options)
        gain, place = np.full(size, IMPOSSIBLE), np.zeros(size, dtype=np.int64)
        if not len(side.cols):
            return gain, place
        table, kits = rows[0].T[:, :, None], rows[1]
        cost = self._cost_of_all(s, table, side.columns)
        if side.any_kit:
            room = (side.parts[None] <= kits[:, None, 1:]).all(2)
            room &= np.where(kits[:, :1] == 1, side.own[None], side.fetched[None])
            cost[~room[rows[0][:, 12].astype(np.int64)]] = IMPOSSIBLE
        best = cost.argmin(0)
        value = cost[best, side.range]
        gain[side.cols] = np.where(value < IMPOSSIBLE / 2, value - base + side.extra, IMPOSSIBLE)
        place[side.cols] = rows[0][:, 13].astype(np.int64)[best]
        return gain, place

    def clipped_gain(self, tour: Tour, option: int, clip: Clip) -> tuple[float, int]:
        """As `gain` and `place`, for one option whose starts are cut to `clip`."""
        node = self._node[option]
        if clip[0] <= node.earliest and clip[1] >= node.latest:
            return float(tour.gain[option]), int(tour.place[option])
        side = self._sides[tour.shift]
        k = side.column_of[option]
        earliest, latest = max(node.earliest, clip[0]), min(node.latest, clip[1])
        if earliest > latest:
            return IMPOSSIBLE, 0
        there, onward, _, _, duration = side.columns
        one = slice(k, k + 1)
        column = (there[:, one], onward[:, one], np.array([float(earliest)]), np.array([float(latest)]), duration[one])
        rows, kits = tour.rows
        cost = self._cost_of_all(tour.shift, rows.T[:, :, None], column)[:, 0]
        if side.any_kit:
            room = (side.parts[k] <= kits[:, 1:]).all(1)
            room &= np.where(kits[:, 0] == 1, side.own[k], side.fetched[k])
            cost[~room[rows[:, 12].astype(np.int64)]] = IMPOSSIBLE
        best = int(cost.argmin())
        if cost[best] >= IMPOSSIBLE / 2:
            return IMPOSSIBLE, 0
        extra = sum(self.model.options[o].cost + int(self.model.moved[tour.shift, self.visit_of[o]]) for o in tour.seq)
        return float(cost[best]) - (tour.cost - extra) + float(side.extra[k]), int(rows[best, 13])

    def _cost_of_all(self, s: int, table: FloatArray, columns: Columns) -> FloatArray:
        """Cost of the tour with each column's option put in at each row's place; impossible ones marked."""
        pd, pe, pl, at, drive, sd, se, sl, to, more, rd, re = table[:12]
        travel, back, earliest, latest, duration = columns
        there = travel[at[:, 0].astype(np.int64)]
        onward = back[to[:, 0].astype(np.int64)]
        d = pd + there
        bad = pe + d > latest
        head = earliest - d
        wait = np.maximum(head - pl, 0.0)
        e = np.maximum(head, pe) - wait
        last = np.minimum(latest - d, pl)
        d += wait
        d += duration
        shift, weights = self.model.shifts[s], self.model.problem.weights
        if shift.breaks:
            bad |= e + d > table[14]
            head = re - d
            wait = np.maximum(head - last, 0.0)
            e = np.maximum(head, e) - wait
            last = np.minimum(table[14] - d, last)
            d += wait + rd
        d += onward
        bad |= e + d > sl
        d += np.maximum(se - d - last, 0.0)
        d += sd
        cost = d * weights.duration if weights.duration else np.zeros_like(d)
        if weights.drive:
            cost += (there + onward + drive + more) * weights.drive
        if weights.overtime and shift.overtime_max_s:
            cost += np.maximum(d - (shift.end_s - shift.start_s), 0.0) * weights.overtime
        if weights.unevenness:
            cost += np.maximum(d - self.model.fair_s, 0.0) * weights.unevenness
        if shift.fixed_cost:
            cost += shift.fixed_cost
        cost[bad] = IMPOSSIBLE
        return cost


def _join_rest(rest: tuple[int, int, int], node: Node) -> tuple[int, int, int]:
    """The segment of breaks taken one after the other at one place."""
    d, e, latest = rest
    if d == 0:
        return node.duration, node.earliest, node.latest
    head = node.earliest - d
    wait = max(head - latest, 0)
    return d + node.duration + wait, max(head, e) - wait, min(node.latest - d, latest)
