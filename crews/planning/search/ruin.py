"""Compiled: which visits a round takes out. Pure.

Strings of neighbouring visits, after J. Christiaens and G. Vanden Berghe, "Slack induction by string removals for
vehicle routing problems", Transportation Science 54(2), 2020, section 5; besides, whole tours, and whole tours that
change shifts.
"""

from __future__ import annotations

from .compiled import compiled
from .dice import below, chance
from .facts import (
    BASE,
    CLOSED,
    COUNT,
    DIRTY,
    FROM,
    GONE,
    KEY,
    MAY,
    OPENED,
    ORDER,
    PLACE,
    POOL,
    POOL_END,
    QUEUE,
    TOUCHED,
    VISIT,
    WHERE,
    Desk,
    Facts,
    Plans,
    Words,
)
from .order import drop, refresh, sometimes_followers, widen
from .runs import least_cost
from .touched import touch
from .tours import rebuild

MEAN_TAKEN = 10.0
LONGEST = 10.0


@compiled
def ruin(facts: Facts, plans: Plans, desk: Desk, state: Words, time_share: float) -> None:
    """Mark and take out some visits that stand near one another."""
    desk.sum[CLOSED] = desk.sum[OPENED] = -1
    used, planned = 0, 0
    for s in range(len(plans.tour)):
        if plans.tour[s, COUNT]:
            desk.pad[ORDER, used] = s
            used += 1
            planned += plans.tour[s, COUNT]
    if used == 0:
        return
    for v in range(len(facts.visit)):
        desk.pad[GONE, v] = 0
    kind = chance(state)
    if kind < 0.1:
        s = desk.pad[ORDER, below(state, used)]
        for k in range(plans.tour[s, COUNT]):
            desk.pad[GONE, facts.option[plans.seq[s, k], VISIT]] = 1
        if kind < 0.06 and used > 1:
            desk.sum[CLOSED] = s
    else:
        if kind < 0.18:
            _exchange_shifts(facts, plans, desk, state, desk.pad[ORDER, below(state, used)])
        centre = _centre(facts, plans, desk, state, used, kind > 0.93)
        _strings(facts, plans, desk, state, centre, planned / used, chance(state) < time_share)
    sometimes_followers(facts, plans, desk, state)
    take_out(facts, plans, desk)


@compiled
def _centre(facts: Facts, plans: Plans, desk: Desk, state: Words, used: int, opens: bool) -> int:
    """The visit around which to ruin: one left out, one near an unused shift that is to be opened, or any."""
    visits, shifts = len(plans.spot), len(plans.tour)
    if opens and used < shifts:
        turn = below(state, shifts - used)
        for s in range(shifts):
            if plans.tour[s, COUNT] == 0:
                if turn == 0:
                    desk.sum[OPENED] = s
                    return _near_start(facts, state, s)
                turn -= 1
    if chance(state) < 0.5:
        left = 0
        for v in range(visits):
            if plans.spot[v, WHERE] < 0 and facts.visit[v, POOL] < facts.visit[v, POOL_END]:
                desk.pad[KEY, left] = v
                left += 1
        if left:
            return desk.pad[KEY, below(state, left)]
    return below(state, visits)


@compiled
def _near_start(facts: Facts, state: Words, s: int) -> int:
    """Of a few visits at random, the one nearest to where shift `s` starts."""
    best = below(state, len(facts.visit))
    for _ in range(min(20, len(facts.visit) // 4)):
        v = below(state, len(facts.visit))
        start = facts.shift[s, FROM]
        if facts.time[start, facts.visit[v, PLACE]] < facts.time[start, facts.visit[best, PLACE]]:
            best = v
    return best


@compiled
def _strings(facts: Facts, plans: Plans, desk: Desk, state: Words, centre: int, mean: float, in_time: bool) -> None:
    """Mark a run of visits in each of some tours nearest to `centre`."""
    longest = min(LONGEST, mean)
    strings = int(1 + chance(state) * max(1.0, 4 * MEAN_TAKEN / (1 + longest) - 1))
    near = facts.near[1 if in_time else 0, centre]
    hit = 0
    for k in range(len(near)):
        v = near[k]
        s = plans.spot[v, WHERE]
        if s < 0 or desk.pad[DIRTY, s] == 2:
            continue
        desk.pad[DIRTY, s] += 2  # 1: touched by this round, 2 more: a string was taken here
        desk.pad[KEY, hit] = s
        hit += 1
        _string(facts, plans, desk, state, s, v, longest)
        if hit >= strings:
            break
    for k in range(hit):
        desk.pad[DIRTY, desk.pad[KEY, k]] -= 2


@compiled
def _string(facts: Facts, plans: Plans, desk: Desk, state: Words, s: int, v: int, longest: float) -> None:
    """Mark a run of the tour that holds visit `v`; half the time with a stretch in it spared."""
    count, seq = plans.tour[s, COUNT], plans.seq[s]
    size = int(1 + chance(state) * min(float(count), longest))
    size = min(size, count)
    at = 0
    while facts.option[seq[at], VISIT] != v:
        at += 1
    spare = 0
    if chance(state) < 0.5 and count > size:
        spare = 1
        while size + spare < count and chance(state) > 0.5:
            spare += 1
    low, high = max(0, at - size - spare + 1), min(at, count - size - spare)
    start = low + below(state, high - low + 1)
    cut = below(state, size + 1) if spare else size
    for k in range(size + spare):
        if k < cut or k >= cut + spare:
            desk.pad[GONE, facts.option[seq[start + k], VISIT]] = 1


@compiled
def take_out(facts: Facts, plans: Plans, desk: Desk) -> None:
    """Take the marked visits out of their tours."""
    first = desk.pad[TOUCHED, 0]
    for v in range(len(facts.visit)):
        if desk.pad[GONE, v] and plans.spot[v, WHERE] >= 0:
            touch(desk, plans.spot[v, WHERE])
    linked = len(facts.link) > 0
    for t in range(1, desk.pad[TOUCHED, 0] + 1):
        s = desk.pad[TOUCHED, t]
        kept = 0
        for k in range(plans.tour[s, COUNT]):
            o = plans.seq[s, k]
            v = facts.option[o, VISIT]
            if desk.pad[GONE, v]:
                plans.spot[v, WHERE] = -1
            else:
                plans.seq[s, kept] = o
                kept += 1
        if kept < plans.tour[s, COUNT] or t <= first:
            plans.tour[s, COUNT] = kept
    queue = 0
    for t in range(1, desk.pad[TOUCHED, 0] + 1):
        queue = refresh(facts, plans, desk, desk.pad[TOUCHED, t], queue)
    if linked:
        for v in range(len(facts.visit)):
            if desk.pad[GONE, v]:
                queue = widen(facts, plans, desk, v, queue)
    _drop_queue(facts, plans, desk, queue)


@compiled
def _drop_queue(facts: Facts, plans: Plans, desk: Desk, queue: int) -> None:
    """Drop the queued visits; rare: only travel times that break the triangle bring any."""
    for k in range(queue):
        desk.pad[KEY, k] = desk.pad[QUEUE, k]
    for k in range(queue):
        drop(facts, plans, desk, desk.pad[KEY, k])


@compiled
def _exchange_shifts(facts: Facts, plans: Plans, desk: Desk, state: Words, s: int) -> None:
    """Give a whole tour to another shift and take that one's in return, where this is cheapest of ten tried."""
    shifts = len(plans.tour)
    best, chosen = 0, -1
    for _ in range(10):
        other = below(state, shifts)
        if other == s or not _may_take(facts, plans, s, other) or not _may_take(facts, plans, other, s):
            continue
        there = least_cost(facts, plans, desk, other, plans.seq[s], plans.tour[s, COUNT])
        here = (
            least_cost(facts, plans, desk, s, plans.seq[other], plans.tour[other, COUNT])
            if plans.tour[other, COUNT]
            else 0
        )
        if there < 0 or here < 0:
            continue
        change = there + here - plans.tour[s, BASE] - plans.tour[other, BASE]
        if chosen < 0 or change < best:
            best, chosen = change, other
    if chosen >= 0:
        _swap(facts, plans, desk, s, chosen)


@compiled
def _may_take(facts: Facts, plans: Plans, s: int, other: int) -> bool:
    """Whether shift `other` may serve every visit of shift `s`."""
    for k in range(plans.tour[s, COUNT]):  # noqa: SIM110 - no generators in compiled code
        if not facts.pair[other, facts.option[plans.seq[s, k], VISIT]] & MAY:
            return False
    return True


@compiled
def _swap(facts: Facts, plans: Plans, desk: Desk, s: int, other: int) -> None:
    touch(desk, s)
    touch(desk, other)
    most = max(plans.tour[s, COUNT], plans.tour[other, COUNT])
    for k in range(most):
        plans.seq[s, k], plans.seq[other, k] = plans.seq[other, k], plans.seq[s, k]
    plans.tour[s, COUNT], plans.tour[other, COUNT] = plans.tour[other, COUNT], plans.tour[s, COUNT]
    for t in (s, other):
        for k in range(plans.tour[t, COUNT]):
            plans.spot[facts.option[plans.seq[t, k], VISIT], WHERE] = t
        rebuild(facts, plans, desk, t)
