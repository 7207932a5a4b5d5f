"""Compiled: what a further stop costs on a shift, and where it is cheapest. Pure."""

from __future__ import annotations

from .compiled import compiled
from .dice import chance
from .facts import (
    ANY_KIT,
    BASE,
    BLINK,
    CALLED,
    CLOSED,
    COUNT,
    EXTRA,
    FETCHED,
    GAIN,
    GAIN_AT,
    GAIN_VERSION,
    HIGH,
    IMPOSSIBLE,
    LOW,
    MOVED,
    ON_SITE,
    OPENED,
    OPTIONS,
    OPTIONS_END,
    OWN,
    P_AT,
    P_D,
    P_DRIVE,
    P_E,
    P_L,
    PENALTY,
    PLACE,
    POOL,
    POOL_END,
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
    TOUR_VERSION,
    VISIT,
    WAY,
    Desk,
    Facts,
    Ints,
    Plans,
    Words,
)
from .runs import tour_cost


@compiled
def price(facts: Facts, plans: Plans, s: int, o: int, low: int, high: int) -> tuple[int, int]:
    """Least cost of putting option `o` into shift `s` with its starts cut to `low` .. `high`, and the position."""
    v = facts.option[o, VISIT]
    may, place, length = facts.pair[s, v], facts.visit[v, PLACE], facts.visit[v, ON_SITE]
    low, high = max(low, facts.option[o, LOW]), min(high, facts.option[o, HIGH])
    best, position = IMPOSSIBLE, 0
    if low > high:
        return best, position
    time, kit = facts.time, facts.shift[s, ANY_KIT]
    for r in range(plans.tour[s, ROW_COUNT]):
        row = plans.rows[s, r]
        if kit and not _kit_serves(facts, plans, s, v, may, row):
            continue
        there = int(time[row[P_AT], place])
        d = row[P_D] + there
        if row[P_E] + d > high:
            continue
        head = low - d
        wait = max(head - row[P_L], 0)
        e = max(head, row[P_E]) - wait
        latest = min(high - d, row[P_L])
        d += wait + length
        if row[R_D]:
            if e + d > row[R_L]:
                continue
            head = row[R_E] - d
            wait = max(head - latest, 0)
            e = max(head, e) - wait
            latest = min(row[R_L] - d, latest)
            d += wait + row[R_D]
        onward = int(time[place, row[S_AT]])
        d += onward
        if e + d > row[S_L]:
            continue
        wait = row[S_E] - d - latest
        if wait > 0:
            d += wait
        cost = tour_cost(facts, s, d + row[S_D], row[P_DRIVE] + there + onward + row[S_DRIVE])
        if cost < best:
            best, position = cost, row[POSITION]
    if best < IMPOSSIBLE:
        best += facts.option[o, EXTRA] + (facts.pair[s, v] >> MOVED) - plans.tour[s, BASE]
    return best, position


@compiled
def _kit_serves(facts: Facts, plans: Plans, s: int, v: int, may: int, row: Ints) -> bool:
    """Whether kit and parts at this place of the tour are enough for visit `v`."""
    called = row[CALLED]
    if not may & (FETCHED if called else OWN):
        return False
    for kind in range(facts.parts.shape[1]):  # noqa: SIM110 - no generators in compiled code
        if facts.parts[v, kind] > plans.slack[s, row[WAY], called, kind]:
            return False
    return True


@compiled
def kept_price(facts: Facts, plans: Plans, desk: Desk, s: int, o: int) -> int:
    """As `price` with all starts, remembered while the tour stays as it is."""
    if desk.gain[o, s, GAIN_VERSION] != plans.tour[s, TOUR_VERSION]:
        gain, position = price(facts, plans, s, o, facts.option[o, LOW], facts.option[o, HIGH])
        desk.gain[o, s, GAIN], desk.gain[o, s, GAIN_AT], desk.gain[o, s, GAIN_VERSION] = (
            gain,
            position,
            plans.tour[s, TOUR_VERSION],
        )
    return desk.gain[o, s, GAIN]


@compiled
def cheapest(
    facts: Facts, plans: Plans, desk: Desk, state: Words, v: int, low: int, high: int, cut: bool
) -> tuple[int, int, int, int]:
    """Cheapest place for visit `v`: cost, shift, option, position; shift -1 when none beats leaving it out.

    With `cut`, only starts in `low` .. `high` count; prices without the cut are then lower bounds.
    """
    best, best_s, best_o, best_at = facts.visit[v, PENALTY], -1, -1, 0
    blink, closed, opened = desk.sum[BLINK], desk.sum[CLOSED], desk.sum[OPENED]
    for p in range(facts.visit[v, POOL], facts.visit[v, POOL_END]):
        s = facts.pool[p]
        if s == closed or (blink and chance(state) * 1000.0 < blink):
            continue
        for o in range(facts.visit[v, OPTIONS], facts.visit[v, OPTIONS_END]):
            gain = kept_price(facts, plans, desk, s, o)
            position = int(desk.gain[o, s, GAIN_AT])
            if gain >= IMPOSSIBLE:
                continue
            free = s == opened and plans.tour[s, COUNT] == 0  # this round opens the shift whatever it costs
            if gain >= best and not free:
                continue
            if cut:
                gain, position = price(facts, plans, s, o, low, high)
                if gain >= IMPOSSIBLE:
                    continue
            if free:
                gain = min(gain, 0)
            if gain >= best:
                continue
            best, best_s, best_o, best_at = gain, s, o, position
    return best, best_s, best_o, best_at
