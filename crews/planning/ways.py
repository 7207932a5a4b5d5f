"""Ways to run one crew's tour on one shift: its stops in order with a yard call and breaks, timed at least cost.

Times are kept as segments (duration, earliest start, latest start), which join in constant time with the least
waiting: T. Vidal, T. G. Crainic, M. Gendreau, C. Prins, "A hybrid genetic algorithm with adaptive diversity
management for a large class of vehicle routing problems with time-windows", Computers & Operations Research
40(1), 2013, section 4. Pure.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from .model import FAR_S, Model

Clip = tuple[int, int]
Segment = tuple[int, int, int, int, int]  # duration, earliest start, latest start, place, driving
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


class WayBook:
    """Finds the ways to run a sequence of options on a shift."""

    def __init__(self, model: Model, calls_tried: int) -> None:
        self.model, self._calls_tried = model, calls_tried
        self._time: list[list[int]] = model.time.tolist()
        self._node = [
            Node(VISIT, int(model.loc[o.visit]), int(model.duration[o.visit]), o.earliest_s, o.latest_s, k)
            for k, o in enumerate(model.options)
        ]
        self._last = [shift.last_s for shift in model.shifts]
        self._first: list[Segment] = [
            (0, shift.start_s, shift.last_s if shift.free_start else shift.start_s, model.start_loc[s], 0)
            for s, shift in enumerate(model.shifts)
        ]
        self._call = [
            Node(YARD, -1 if y is None else model.travel.index[y.place], 0 if y is None else y.call_s, -FAR_S, FAR_S)
            for y in model.yard
        ]
        self.visit_of: list[int] = model.opt_visit.tolist()
        self._parts: list[list[int]] = model.parts.tolist()
        self._own: list[list[bool]] = model.own.tolist()
        self._stock: list[list[int]] = model.stock.tolist()
        self._kept_at_yard: list[list[bool]] = model.stocked.tolist()
        self._any_kit = [bool((~model.own[s]).any() or model.parts.any()) for s in range(len(model.shifts))]

    def ways(self, s: int, seq: tuple[int, ...], clips: dict[int, Clip] | None = None) -> list[Way]:
        """Every way tried to run the sequence: without a yard call, with one at promising places, breaks placed."""
        nodes = [self._node[o] for o in seq]
        if clips:
            for k, o in enumerate(seq):
                if o in clips:
                    node = nodes[k]
                    nodes[k] = node._replace(
                        earliest=max(node.earliest, clips[o][0]), latest=min(node.latest, clips[o][1])
                    )
                    if nodes[k].earliest > nodes[k].latest:
                        return []
        own_until = self._own_until(s, seq)
        calls = self.model.yard[s] is not None and self._any_kit[s] and self._call_serves(s, seq)
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

    def plain(self, s: int, seq: tuple[int, ...]) -> Way | None:
        """The way without a call at the yard and without breaks: no other is shorter."""
        return self.sweep(s, [self._node[o] for o in seq], self._last[s])

    def with_stop(self, s: int, plain: Way, k: int, o: int) -> int | None:
        """Cost of a plain way with one more option at position `k`; None when it does not fit in."""
        _, place, duration, earliest, last, _ = self._node[o]
        d, e, latest, at, drive = plain.before[k]
        onward, soonest, until, to, ahead = plain.after[k]
        leg, further = self._time[at][place], self._time[place][to]
        d += leg
        if e + d > last:
            return None
        head, tail = earliest - d, last - d
        d += duration
        if head > e:
            d += max(0, head - latest)
            e = min(head, latest)
        latest = min(latest, tail)
        d += further
        if e + d > until:
            return None
        total = d + onward + max(0, soonest - d - latest)
        return self.tour_cost(s, total, drive + leg + further + ahead)

    def _own_until(self, s: int, seq: tuple[int, ...]) -> int:
        """Latest position of a yard call that kit allows; length + 1 when the truck's own kit is enough."""
        own, parts, stock = self._own[s], self._parts, self._stock[s]
        if not self._any_kit[s]:
            return len(seq) + 1
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

    def _call_serves(self, s: int, seq: tuple[int, ...]) -> bool:
        """Whether truck and yard together have the kit: parts that the yard does not keep must last for all."""
        if not all(self.model.allowed[s, self.visit_of[o]] for o in seq):
            return False
        for k, (stock, kept) in enumerate(zip(self._stock[s], self._kept_at_yard[s], strict=True)):
            if not kept and sum(self._parts[self.visit_of[o]][k] for o in seq) > stock:
                return False
        return True

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
            before, after = plain.before[: at + 1], plain.after[at:][::-1]
            ahead, back = nodes[at:], nodes[: at + 1]
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
        back_locs = [entry[3] for entry in before[1 : len(back) + 1]]
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
            weights.drive * drive_s
            + weights.duration * duration_s
            + shift.fixed_cost
            + weights.overtime * max(0, duration_s - (shift.end_s - shift.start_s))
            + weights.unevenness * max(0, duration_s - self.model.fair_s)
        )


def join_rest(rest: tuple[int, int, int], node: Node) -> tuple[int, int, int]:
    """The segment of breaks taken one after the other at one place."""
    d, e, latest = rest
    if d == 0:
        return node.duration, node.earliest, node.latest
    head = node.earliest - d
    wait = max(head - latest, 0)
    return d + node.duration + wait, max(head, e) - wait, min(node.latest - d, latest)
