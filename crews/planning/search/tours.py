"""Compiled: a tour with its cost and every place where a further stop may go. Pure.

A *row* is such a place: the segment before it, the segment after it, breaks taken right after it, and the kit that
may be used there (before or after a call at the yard).
"""

from __future__ import annotations

from ..model import FAR_S
from .compiled import compiled
from .facts import (
    ANY_KIT,
    BASE,
    CALLED,
    COUNT,
    EXTRA,
    FREE,
    FROM,
    LAST,
    MOVED,
    P_AT,
    P_D,
    P_DRIVE,
    P_E,
    P_L,
    POSITION,
    R_D,
    R_E,
    R_L,
    ROW_COUNT,
    S_AT,
    S_D,
    S_DRIVE,
    S_E,
    S_L,
    START,
    TO,
    TOUR_COST,
    TOUR_VERSION,
    VERSION,
    VISIT,
    WAY,
    WAY_AT,
    WHERE,
    Desk,
    Facts,
    Plans,
)
from .runs import find_ways, go_on, read_code


@compiled
def rebuild(facts: Facts, plans: Plans, desk: Desk, s: int) -> bool:
    """Work out shift `s` anew from its sequence; False when it cannot be run (the rest is then unchanged)."""
    count, seq = plans.tour[s, COUNT], plans.seq[s]
    ways = find_ways(facts, plans, desk, s, seq, count)
    if ways == 0 and count:
        return False
    desk.sum[VERSION] += 1
    plans.tour[s, TOUR_VERSION] = desk.sum[VERSION]
    best, rows = 0, 0
    for w in range(ways):
        if desk.about[WAY_AT + w, 2] < desk.about[WAY_AT + best, 2]:
            best = w
    for w in range(ways):
        size, last = desk.about[WAY_AT + w, 0], desk.about[WAY_AT + w, 1]
        _sweep(facts, desk, s, w, size, last)
        rows = _write_rows(facts, plans, desk, s, w, size, rows)
        if w == best:
            _write_spans(plans, desk, s, w, size)
        _write_slack(facts, plans, desk, s, w, size)
    plans.tour[s, ROW_COUNT] = rows
    plans.tour[s, BASE] = desk.about[WAY_AT + best, 2] if count else 0
    cost = plans.tour[s, BASE]
    for k in range(count):
        v = facts.option[seq[k], VISIT]
        cost += facts.option[seq[k], EXTRA] + (facts.pair[s, v] >> MOVED)
    plans.tour[s, TOUR_COST] = cost
    return True


@compiled
def _sweep(facts: Facts, desk: Desk, s: int, w: int, size: int, last: int) -> None:
    """Segments up to each stop into `desk.before`, and from each stop on into its second half."""
    shift, time, before, codes = facts.shift[s], facts.time, desk.before, desk.code[WAY_AT + w]
    d, drive, e, at = 0, 0, shift[START], shift[FROM]
    latest = shift[LAST] if shift[FREE] else e
    before[0, 0], before[0, 1], before[0, 2], before[0, 3], before[0, 4] = d, e, latest, at, drive
    for k in range(size):
        to, length, low, high = read_code(facts, desk, s, codes[k])
        if to >= 0:
            leg = int(time[at, to])
            at = to
            d += leg
            drive += leg
        d, e, latest = go_on(d, e, latest, length, low, high)
        row = before[k + 1]
        row[0], row[1], row[2], row[3], row[4] = d, e, latest, at, drive
    half = len(before) // 2
    d, e, latest, at, drive = 0, -FAR_S, last, shift[TO], 0
    end = before[half + size]
    end[0], end[1], end[2], end[3], end[4] = d, e, latest, at, drive
    for k in range(size - 1, -1, -1):
        here = before[k + 1, 3]
        _, length, low, high = read_code(facts, desk, s, codes[k])
        leg = int(time[here, at])
        at = here
        drive += leg
        delta = length + leg
        head = e - delta
        d += delta
        e = low
        tail = latest - delta
        if head > e:
            e = head
            if head > high:
                d += head - high
                e = high
        latest = min(tail, high)
        row = before[half + k]
        row[0], row[1], row[2], row[3], row[4] = d, e, latest, at, drive


@compiled
def _write_rows(facts: Facts, plans: Plans, desk: Desk, s: int, w: int, size: int, rows: int) -> int:
    """One row for each place of way `w`; gives the number of rows now."""
    codes, before, half = desk.code[WAY_AT + w], desk.before, len(desk.before) // 2
    called, position = 0, 0
    for k in range(size + 1):
        if k > 0:
            if codes[k - 1] >= 0:
                position += 1
            elif codes[k - 1] == -1:
                called = 1
        run, rd, re, rl = k, 0, -FAR_S, FAR_S
        while run < size and codes[run] < -1:  # breaks after the place are taken where the new stop is
            rest = facts.rest[s, -2 - codes[run]]
            length, low, high = rest[0], rest[1], rest[2]
            if rd == 0:
                rd, re, rl = length, low, high
            else:
                head = low - rd
                wait = max(head - rl, 0)
                re = max(head, re) - wait
                rl = min(high - rd, rl)
                rd += length + wait
            run += 1
        row, p, q = plans.rows[s, rows], before[k], before[half + run]
        row[P_D], row[P_E], row[P_L], row[P_AT], row[P_DRIVE] = p[0], p[1], p[2], p[3], p[4]
        row[S_D], row[S_E], row[S_L], row[S_AT], row[S_DRIVE] = q[0], q[1], q[2], q[3], q[4]
        row[R_D], row[R_E], row[R_L] = rd, re, rl
        row[CALLED], row[POSITION], row[WAY] = called, position, w
        rows += 1
    return rows


@compiled
def _write_spans(plans: Plans, desk: Desk, s: int, w: int, size: int) -> None:
    """Earliest and latest start that the rest of the cheapest way leaves each visit."""
    best, half, codes = desk.before, len(desk.before) // 2, desk.code[WAY_AT + w]
    for k in range(size):
        code = codes[k]
        if code >= 0:
            leg = best[k + 1, 4] - best[k, 4]
            plans.span[s, code, 0] = max(best[k, 1] + best[k, 0] + leg, desk.node[code, 2])
            plans.span[s, code, 1] = best[half + k, 2]


@compiled
def _write_slack(facts: Facts, plans: Plans, desk: Desk, s: int, w: int, size: int) -> None:
    """Pieces of each part left for one more stop, before and after the call of way `w`."""
    if not facts.shift[s, ANY_KIT]:
        return
    codes, count = desk.code[WAY_AT + w], plans.tour[s, COUNT]
    first, call = 0, False
    for k in range(size):
        if codes[k] == -1:
            call = True
            break
        if codes[k] >= 0:
            first += 1
    for kind in range(facts.parts.shape[1]):
        stock, beyond, used = facts.store[s, 0, kind], facts.store[s, 1, kind], desk.used[count, kind]
        early = used
        if call and beyond > stock:  # the yard keeps it: what is used after the call does not count before it
            early = desk.used[first, kind]
        plans.slack[s, w, 0, kind] = stock - early
        plans.slack[s, w, 1, kind] = beyond - used


@compiled
def insert_at(facts: Facts, plans: Plans, desk: Desk, s: int, o: int, position: int) -> bool:
    """Put option `o` into shift `s`; False, and nothing changed, when the tour refuses."""
    seq, count = plans.seq[s], plans.tour[s, COUNT]
    if count >= len(seq):
        return False
    for k in range(count, position, -1):
        seq[k] = seq[k - 1]
    seq[position] = o
    plans.tour[s, COUNT] = count + 1
    if rebuild(facts, plans, desk, s):
        plans.spot[facts.option[o, VISIT], WHERE] = s
        return True
    for k in range(position, count):
        seq[k] = seq[k + 1]
    plans.tour[s, COUNT] = count
    return False


@compiled
def copy_shift(source: Plans, target: Plans, s: int) -> None:
    """Make shift `s` of one plan that of another."""
    count, rows = source.tour[s, COUNT], source.tour[s, ROW_COUNT]
    target.tour[s, COUNT], target.tour[s, ROW_COUNT] = count, rows
    target.tour[s, BASE], target.tour[s, TOUR_COST], target.tour[s, TOUR_VERSION] = (
        source.tour[s, BASE],
        source.tour[s, TOUR_COST],
        source.tour[s, TOUR_VERSION],
    )
    for w in range(source.slack.shape[1]):
        for kind in range(source.slack.shape[3]):
            for called in range(2):
                target.slack[s, w, called, kind] = source.slack[s, w, called, kind]
    for k in range(count):
        target.seq[s, k] = source.seq[s, k]
        target.span[s, k, 0], target.span[s, k, 1] = source.span[s, k, 0], source.span[s, k, 1]
    for r in range(rows):
        for c in range(target.rows.shape[2]):
            target.rows[s, r, c] = source.rows[s, r, c]
