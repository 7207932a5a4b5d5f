"""Compiled: the ways to run one crew's tour, with a call at the yard and breaks, and what each costs. Pure.

The rules are those of `ways.py`, which times the plan in the end; the segments are described there. A way is a row of
codes: a position of the sequence, -1 for the call at the yard, -2 and below for the breaks.
"""

from __future__ import annotations

from ..model import FAR_S
from .compiled import compiled
from .facts import (
    ANY_KIT,
    BREAKS,
    CALL,
    EARLIEST,
    FAIR,
    FIXED,
    FOUND,
    FREE,
    FROM,
    HIGH,
    KEPT,
    KEPT_WAY,
    LAST,
    LATEST,
    LENGTH,
    LOW,
    ON_SITE,
    OWN,
    PLACE,
    START,
    TO,
    VISIT,
    W_DRIVE,
    W_DURATION,
    W_OVERTIME,
    W_UNEVENNESS,
    WAY_AT,
    YARD,
    Desk,
    Facts,
    Plans,
    Short,
)


@compiled
def tour_cost(facts: Facts, s: int, duration: int, drive: int) -> int:
    """Cost of a used shift, without its visits' extras."""
    shift = facts.shift[s]
    cost = shift[W_DRIVE] * drive + shift[W_DURATION] * duration + shift[FIXED]
    if duration > shift[LENGTH]:
        cost += shift[W_OVERTIME] * (duration - shift[LENGTH])
    if shift[W_UNEVENNESS] and duration > shift[FAIR]:
        cost += shift[W_UNEVENNESS] * (duration - shift[FAIR])
    return cost


@compiled
def read_code(facts: Facts, desk: Desk, s: int, code: int) -> tuple[int, int, int, int]:
    """Place of a stop of a way (-1: wherever the crew is), how long it takes, its earliest and latest start."""
    if code >= 0:
        return desk.node[code, 0], desk.node[code, 1], desk.node[code, 2], desk.node[code, 3]
    if code == -1:
        return facts.shift[s, YARD], facts.shift[s, CALL], -FAR_S, FAR_S
    rest = facts.rest[s, -2 - code]
    return -1, rest[0], rest[1], rest[2]


@compiled
def go_on(d: int, e: int, latest: int, length: int, low: int, high: int) -> tuple[int, int, int]:
    """A segment (duration, earliest and latest start) with one more stop at its end, the leg there counted in."""
    head, tail = low - d, high - d
    d += length
    if head > e:
        e = head
        if head > latest:
            d += head - latest
            e = latest
    return d, e, min(latest, tail)


@compiled
def cost_of_codes(facts: Facts, desk: Desk, s: int, row: int, count: int, last: int) -> int:
    """Cost of a way; -1 when its stops do not fit one after the other."""
    shift, time = facts.shift[s], facts.time
    d, drive, e, at = 0, 0, shift[START], shift[FROM]
    latest = shift[LAST] if shift[FREE] else e
    for k in range(count):
        to, length, low, high = read_code(facts, desk, s, desk.code[row, k])
        if to >= 0:
            leg = int(time[at, to])
            at = to
            d += leg
            drive += leg
        if e + d > high:
            return -1
        d, e, latest = go_on(d, e, latest, length, low, high)
    leg = int(time[at, shift[TO]])
    d += leg
    if e + d > last:
        return -1
    return tour_cost(facts, s, d, drive + leg)


@compiled
def copy_way(desk: Desk, row: int, to: int) -> None:
    """Copy a way from one row of `desk.code` to another; `desk.about` holds its stops, latest end and cost."""
    for c in range(3):
        desk.about[to, c] = desk.about[row, c]
    for k in range(desk.about[row, 0]):
        desk.code[to, k] = desk.code[row, k]


@compiled
def describe(desk: Desk, row: int, size: int, last: int, cost: int) -> None:
    """Note how many stops the way of a row has, when it must end, and what it costs."""
    desk.about[row, 0], desk.about[row, 1], desk.about[row, 2] = size, last, cost


@compiled
def keep_best(desk: Desk, first: int, have: int, most: int, row: int) -> int:
    """Put the way of `row` among the cheapest from row `first` on, dearest last; gives how many there are now."""
    cost = desk.about[row, 2]
    if have == most and (most == 0 or cost >= desk.about[first + have - 1, 2]):
        return have
    at = first + (have if have < most else have - 1)
    while at > first and desk.about[at - 1, 2] > cost:
        copy_way(desk, at - 1, at)
        at -= 1
    copy_way(desk, row, at)
    return min(have + 1, most)


@compiled
def with_breaks(facts: Facts, desk: Desk, s: int, count: int) -> int:
    """From the way of row 0, the cheapest with the shift's breaks put in, from row `FOUND` on; gives how many."""
    breaks, last = facts.shift[s, BREAKS], facts.shift[s, LAST]
    describe(desk, 0, count, last, 0)
    copy_way(desk, 0, FOUND)
    have = 1
    if breaks == 0:
        desk.about[FOUND, 2] = cost_of_codes(facts, desk, s, FOUND, count, last)
        return 1 if desk.about[FOUND, 2] >= 0 else 0
    for b in range(breaks):
        now = 0
        for f in range(have):
            now = _with_break(facts, desk, s, b, FOUND + f, now)
        have = now
        for f in range(have):
            copy_way(desk, KEPT_WAY + f, FOUND + f)
    return have


@compiled
def _with_break(facts: Facts, desk: Desk, s: int, b: int, row: int, now: int) -> int:
    """Try break `b` at each place of the way of `row`; the cheapest go to the rows from `KEPT_WAY` on."""
    code, size, last = desk.code, desk.about[row, 0], desk.about[row, 1]
    for position in range(size + 1):
        for k in range(size):
            code[1, k if k < position else k + 1] = code[row, k]
        code[1, position] = -2 - b
        cost = cost_of_codes(facts, desk, s, 1, size + 1, last)
        if cost >= 0:
            describe(desk, 1, size + 1, last, cost)
            now = keep_best(desk, KEPT_WAY, now, KEPT, 1)
    early = min(last, facts.rest[s, b, 2])  # back before the break must begin: it is taken at home
    cost = cost_of_codes(facts, desk, s, row, size, early)
    if cost >= 0:
        describe(desk, row, size, early, cost)
        now = keep_best(desk, KEPT_WAY, now, KEPT, row)
    return now


@compiled
def read_nodes(facts: Facts, plans: Plans, desk: Desk, seq: Short, count: int) -> bool:
    """Place, length and starts of each stop into `desk.node`; False when a box leaves a visit no start."""
    for k in range(count):
        o = seq[k]
        v = facts.option[o, VISIT]
        low, high = (
            max(facts.option[o, LOW], plans.spot[v, EARLIEST]),
            min(facts.option[o, HIGH], plans.spot[v, LATEST]),
        )
        if low > high:
            return False
        desk.node[k, 0], desk.node[k, 1] = facts.visit[v, PLACE], facts.visit[v, ON_SITE]
        desk.node[k, 2], desk.node[k, 3] = low, high
    return True


@compiled
def own_until(facts: Facts, desk: Desk, s: int, seq: Short, count: int) -> int:
    """Latest position of a call at the yard that kit allows; length + 1 when the truck's own kit is enough; -1 when
    truck and yard together lack parts. Counts the parts used up to each position into `desk.used`."""
    kinds = facts.parts.shape[1]
    if not facts.shift[s, ANY_KIT]:
        return count + 1
    until = count + 1
    for k in range(count):
        v = facts.option[seq[k], VISIT]
        if until > count and not facts.pair[s, v] & OWN:
            until = k
        for kind in range(kinds):
            used = desk.used[k, kind] + facts.parts[v, kind]
            desk.used[k + 1, kind] = used
            if used > facts.store[s, 1, kind]:
                return -1
            if until > count and used > facts.store[s, 0, kind]:
                until = k
    return until


@compiled
def find_ways(facts: Facts, plans: Plans, desk: Desk, s: int, seq: Short, count: int) -> int:
    """The cheapest ways to run a sequence from row `WAY_AT` on; gives how many, 0 when it cannot be run."""
    if not read_nodes(facts, plans, desk, seq, count):
        return 0
    until = own_until(facts, desk, s, seq, count)
    if until < 0:
        return 0
    shift, ways = facts.shift[s], 0
    for k in range(count):
        desk.code[0, k] = k
    if until > count:
        ways = with_breaks(facts, desk, s, count)
        for f in range(ways):
            copy_way(desk, FOUND + f, WAY_AT + f)
    elif not shift[BREAKS] and cost_of_codes(facts, desk, s, 0, count, shift[LAST]) < 0:
        return 0  # a call on the way takes time; it can make no tour possible
    if shift[YARD] < 0 or not shift[ANY_KIT]:
        return ways
    return ways + _ways_with_call(facts, desk, s, count, min(until, count), ways)


@compiled
def _ways_with_call(facts: Facts, desk: Desk, s: int, count: int, until: int, ways: int) -> int:
    """The cheapest ways with a call at the yard at or before position `until`, put after the first `ways` ones."""
    have, most, breaks = 0, len(desk.code) - WAY_AT - ways, facts.shift[s, BREAKS]
    for q in range(until + 1):
        for k in range(count):
            desk.code[0, k if k < q else k + 1] = k
        desk.code[0, q] = -1
        found = with_breaks(facts, desk, s, count + 1)
        if breaks and count > 3:
            found = min(found, 1)
        for f in range(found):
            have = keep_best(desk, WAY_AT + ways, have, most, FOUND + f)
    return have


@compiled
def least_cost(facts: Facts, plans: Plans, desk: Desk, s: int, seq: Short, count: int) -> int:
    """Cost of the cheapest way without the visits' extras; -1 when the sequence cannot be run."""
    ways = find_ways(facts, plans, desk, s, seq, count)
    best = -1
    for w in range(ways):
        if best < 0 or desk.about[WAY_AT + w, 2] < best:
            best = desk.about[WAY_AT + w, 2]
    return best
