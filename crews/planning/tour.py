"""One crew's tour on one shift, and what inserting each further visit costs, and where.

All insertions into a tour are priced at once with numpy and kept, since most tours live on unchanged. Pure.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from .model import FAR_S, Model
from .ways import REST, VISIT, YARD, Clip, Way, WayBook, join_rest

FloatArray = npt.NDArray[np.float64]
Columns = tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray, npt.NDArray[np.int64]]
Rows = tuple[FloatArray, npt.NDArray[np.int64]]
IMPOSSIBLE = 1e18


class Tour:
    """A feasible tour; `gain` and `place` say what it costs to insert each option, and where."""

    __slots__ = ("cost", "gain", "place", "rows", "seq", "shift", "way")

    def __init__(
        self,
        shift: int,
        seq: tuple[int, ...],
        cost: int,
        way: Way | None,
        gain: FloatArray,
        place: npt.NDArray[np.int64],
        rows: Rows,
    ) -> None:
        self.shift, self.seq, self.cost, self.way = shift, seq, cost, way
        self.gain, self.place, self.rows = gain, place, rows


def bare_tour(model: Model, s: int, seq: tuple[int, ...], way: Way | None) -> Tour:
    """A tour with its cost, without prices of insertions: for plans too large to keep those for."""
    cost = 0 if way is None else way.cost
    for o in seq:
        cost += model.options[o].cost + int(model.moved[s, model.options[o].visit])
    nothing = np.zeros(0)
    return Tour(
        s, seq, cost, way, nothing, nothing.astype(np.int64), (np.zeros((0, 15)), np.zeros((0, 1), dtype=np.int64))
    )


class _Side:
    """What a shift's tours share: its columns (options that fit), their travel times and kit."""

    def __init__(self, model: Model, s: int) -> None:
        shift = model.shifts[s]
        fits = model.allowed[s][model.opt_visit] & (model.opt_earliest <= shift.last_s)
        fits &= model.opt_latest >= shift.start_s
        self.cols = np.flatnonzero(fits)
        visit = model.opt_visit[self.cols]
        # with many places, a table a shift would fill the memory: legs are then read where they are needed
        wide = len(model.time) > 400
        self.at = model.loc[visit]
        none = np.zeros((0, len(visit)))
        self.travel = none if wide else np.ascontiguousarray(model.time[:, self.at].astype(float))
        self.back = none if wide else np.ascontiguousarray(model.time.T[:, self.at].astype(float))
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
        self.columns: Columns = (self.travel, self.back, self.earliest, self.latest, self.duration, self.at)
        self.column_of = {int(o): k for k, o in enumerate(self.cols)}


class TourBook(WayBook):
    """Makes tours and remembers them by shift, sequence and clipped windows."""

    def __init__(self, model: Model, calls_tried: int = 3, remembered: int = 40_000) -> None:
        super().__init__(model, calls_tried)
        self._remembered = remembered
        self._sides = [_Side(model, s) for s in range(len(model.shifts))]
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

    def _make(self, s: int, seq: tuple[int, ...], clips: dict[int, Clip]) -> Tour | None:
        ways = self.ways(s, seq, clips)
        if not ways:
            if seq:
                return None
            size = len(self.model.options)
            nothing = (np.zeros((0, 15)), np.zeros((0, 1), dtype=np.int64))
            return Tour(s, seq, 0, None, np.full(size, IMPOSSIBLE), np.zeros(size, dtype=np.int64), nothing)
        best = min(ways, key=lambda way: way.cost)
        extra = 0
        model = self.model
        for o in seq:
            extra += model.options[o].cost + int(model.moved[s, self.visit_of[o]])
        cost = best.cost + extra if seq else 0
        rows = self._rows(s, seq, ways)
        tour = Tour(s, seq, cost, best if seq else None, *self._priced(s, rows, cost - extra), rows)
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
                block[call + 1 :, 12] += 1
                block[call + 1 :, 13] -= 1
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
                rest = join_rest(rest, way.nodes[run])
                run += 1
            block[k, 5:10] = way.after[run]
            block[k, 10], block[k, 11], block[k, 14] = rest
            if k < len(way.nodes) and way.nodes[k].what == REST:
                block[k + 1 :, 13] -= 1

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
        there, onward, _, _, duration, place = side.columns
        one = slice(k, k + 1)
        column = (
            there[:, one] if len(there) else there,
            onward[:, one] if len(onward) else onward,
            np.array([float(earliest)]),
            np.array([float(latest)]),
            duration[one],
            place[one],
        )
        rows, kits = tour.rows
        cost = self._cost_of_all(tour.shift, rows.T[:, :, None], column)[:, 0]
        if side.any_kit:
            room = (side.parts[k] <= kits[:, 1:]).all(1)
            room &= np.where(kits[:, 0] == 1, side.own[k], side.fetched[k])
            cost[~room[rows[:, 12].astype(np.int64)]] = IMPOSSIBLE
        best = int(cost.argmin())
        if cost[best] >= IMPOSSIBLE / 2:
            return IMPOSSIBLE, 0
        extra = sum(
            self.model.options[o].cost + int(self.model.moved[tour.shift, self.visit_of[o]]) for o in tour.seq
        )
        return float(cost[best]) - (tour.cost - extra) + float(side.extra[k]), int(rows[best, 13])

    def _cost_of_all(self, s: int, table: FloatArray, columns: Columns) -> FloatArray:
        """Cost of the tour with each column's option put in at each row's place; impossible ones marked."""
        pd, pe, pl, at, drive, sd, se, sl, to, more, rd, re = table[:12]
        travel, back, earliest, latest, duration, place = columns
        from_places, to_places = at[:, 0].astype(np.int64), to[:, 0].astype(np.int64)
        if len(travel):
            there, onward = travel[from_places], back[to_places]
        else:
            there = self.model.time[np.ix_(from_places, place)].astype(float)
            onward = self.model.time[np.ix_(place, to_places)].T.astype(float)
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
