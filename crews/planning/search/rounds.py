"""Compiled: put visits back, weigh the outcome, and go on; many rounds at a time. Pure.

Greedy insertion with blinks after Christiaens and Vanden Berghe (see `ruin.py`); accepted by simulated annealing,
S. Kirkpatrick, C. D. Gelatt, M. P. Vecchi, "Optimization by simulated annealing", Science 220, 1983.
"""

from __future__ import annotations

import math

from .compiled import compiled, compiled_entry
from .dice import chance, shuffle
from .facts import (
    ABLE,
    BEST,
    BLINK,
    CLOSED,
    COST,
    COUNT,
    DEAREST,
    EARLIEST,
    HOPED,
    KEY,
    LATEST,
    LINKS,
    LINKS_END,
    MAY,
    OPENED,
    OPENS,
    PENALTY,
    POOL,
    POOL_END,
    RANK,
    ROUNDS,
    TOUCHED,
    TOUR_COST,
    TURN,
    VISIT,
    WAITING,
    WHERE,
    WIDTH,
    Desk,
    Facts,
    Ints,
    Plans,
    Short,
    Words,
)
from .order import drop_orphans, insert_linked, settle
from .prices import cheapest
from .ruin import ruin
from .touched import forget, touch
from .tours import copy_shift, insert_at, rebuild


@compiled_entry
def rounds(
    facts: Facts,
    trial: Plans,
    current: Plans,
    best: Plans,
    desk: Desk,
    state: Words,
    count: int,
    hot: float,
    cool: float,
    time_share: float,
) -> None:
    """Run `count` rounds, the temperature (in cost) falling from `hot` to `cool`. `current` and `best` are brought
    up to date; `trial` is as `current` before and after."""
    for turn in range(count):
        heat = hot * (cool / hot) ** (turn / count)
        desk.sum[TURN] += 1
        desk.sum[ROUNDS] += 1
        forget(desk)
        ruin(facts, trial, desk, state, time_share)
        recreate(facts, trial, desk, state)
        cost = _cost_now(facts, trial, current, desk)
        if cost < desk.sum[COST] - heat * math.log(max(chance(state), 1e-300)):
            desk.sum[COST] = cost
            _take_over(trial, current, desk)
            if cost < desk.sum[BEST]:
                desk.sum[BEST] = cost
                copy_plan(current, best)
        else:
            _take_over(current, trial, desk)


@compiled_entry
def begin(
    facts: Facts,
    trial: Plans,
    current: Plans,
    best: Plans,
    desk: Desk,
    state: Words,
    wanted: Short,
    counts: Ints,
    bound: bool,
) -> None:
    """A first plan in all three: the `wanted` sequences as far as they can be run, then what is left put in. With
    `bound`, the boxes in `trial` hold the order of linked visits already."""
    for s in range(len(counts)):
        trial.tour[s, COUNT] = 0
        rebuild(facts, trial, desk, s)
    for s in range(len(counts)):
        _load(facts, trial, desk, s, wanted[s], counts[s])
    if len(facts.link) and not bound:
        settle(facts, trial, desk)
    _sync(facts, trial, current, best, desk)
    recreate(facts, trial, desk, state)
    if total_cost(facts, trial) > desk.sum[BEST]:
        copy_plan(best, trial)
        for s in range(len(counts)):
            rebuild(facts, trial, desk, s)
    _sync(facts, trial, current, best, desk)


@compiled
def _load(facts: Facts, plans: Plans, desk: Desk, s: int, seq: Short, count: int) -> None:
    """Run shift `s` as wanted, or as much of it as can be; what does not fit is left out, not forced."""
    fits = count <= plans.seq.shape[1]
    for k in range(count):
        v = facts.option[seq[k], VISIT]
        fits = fits and facts.pair[s, v] & MAY != 0 and plans.spot[v, WHERE] < 0
    if fits:
        for k in range(count):
            plans.seq[s, k] = seq[k]
        plans.tour[s, COUNT] = count
        if rebuild(facts, plans, desk, s):
            for k in range(count):
                plans.spot[facts.option[seq[k], VISIT], WHERE] = s
            return
        plans.tour[s, COUNT] = 0
        rebuild(facts, plans, desk, s)
    for k in range(count):
        v = facts.option[seq[k], VISIT]
        if facts.pair[s, v] & MAY and plans.spot[v, WHERE] < 0:
            insert_at(facts, plans, desk, s, seq[k], plans.tour[s, COUNT])


@compiled
def _sync(facts: Facts, trial: Plans, current: Plans, best: Plans, desk: Desk) -> None:
    """The trial plan becomes the current and the best one."""
    forget(desk)
    for s in range(len(trial.tour)):
        copy_shift(trial, current, s)
    copy_plan(trial, current)
    copy_plan(trial, best)
    desk.sum[COST] = desk.sum[BEST] = total_cost(facts, trial)


@compiled
def _cost_now(facts: Facts, trial: Plans, current: Plans, desk: Desk) -> int:
    """Cost of the trial plan: what changed against the current one."""
    cost = desk.sum[COST]
    for t in range(1, desk.pad[TOUCHED, 0] + 1):
        s = desk.pad[TOUCHED, t]
        cost += trial.tour[s, TOUR_COST] - current.tour[s, TOUR_COST]
    for v in range(len(trial.spot)):
        if (trial.spot[v, WHERE] < 0) != (current.spot[v, WHERE] < 0):
            cost += facts.visit[v, PENALTY] if trial.spot[v, WHERE] < 0 else -facts.visit[v, PENALTY]
    return cost


@compiled
def _take_over(source: Plans, target: Plans, desk: Desk) -> None:
    """Bring the touched shifts of one plan into another."""
    for t in range(1, desk.pad[TOUCHED, 0] + 1):
        copy_shift(source, target, desk.pad[TOUCHED, t])
    for v in range(len(source.spot)):
        target.spot[v, WHERE] = source.spot[v, WHERE]
        target.spot[v, EARLIEST], target.spot[v, LATEST] = source.spot[v, EARLIEST], source.spot[v, LATEST]


@compiled
def copy_plan(source: Plans, target: Plans) -> None:
    """The sequences and boxes of a plan, without the places for further stops."""
    for s in range(len(source.tour)):
        target.tour[s, COUNT] = source.tour[s, COUNT]
        for k in range(source.tour[s, COUNT]):
            target.seq[s, k] = source.seq[s, k]
    for v in range(len(source.spot)):
        target.spot[v, WHERE] = source.spot[v, WHERE]
        target.spot[v, EARLIEST], target.spot[v, LATEST] = source.spot[v, EARLIEST], source.spot[v, LATEST]


@compiled
def total_cost(facts: Facts, plans: Plans) -> int:
    """Cost of a plan from its tours and what is left out."""
    cost = 0
    for s in range(len(plans.tour)):
        cost += plans.tour[s, TOUR_COST]
    for v in range(len(plans.spot)):
        if plans.spot[v, WHERE] < 0:
            cost += facts.visit[v, PENALTY]
    return cost


@compiled
def recreate(facts: Facts, plans: Plans, desk: Desk, state: Words) -> None:
    """Put visits that stand nowhere back, one by one, each where it is cheapest."""
    waiting = 0
    for v in range(len(plans.spot)):
        if plans.spot[v, WHERE] < 0 and facts.visit[v, POOL] < facts.visit[v, POOL_END]:
            desk.pad[WAITING, waiting] = v
            waiting += 1
    _sort(facts, desk, state, waiting)
    share = chance(state)
    desk.sum[BLINK] = 0 if share < 0.6 else (30 if share < 0.85 or len(plans.tour) > 30 else 200)
    linked = len(facts.link) > 0
    for attempt in range(2 if linked else 1):
        for k in range(waiting):
            desk.pad[HOPED, desk.pad[WAITING, k]] = 1 if attempt == 0 else 0
        later = 0
        for k in range(waiting):
            v = desk.pad[WAITING, k]
            done = _insert(facts, plans, desk, state, v)
            desk.pad[HOPED, v] = 0
            if not done:
                desk.pad[WAITING, later] = v
                later += 1
        waiting = later
        if waiting == 0:
            break
    desk.sum[CLOSED] = desk.sum[OPENED] = -1
    if linked:
        drop_orphans(facts, plans, desk)


@compiled
def _insert(facts: Facts, plans: Plans, desk: Desk, state: Words, v: int) -> bool:
    if facts.visit[v, LINKS] < facts.visit[v, LINKS_END]:
        return insert_linked(facts, plans, desk, state, v)
    _, s, o, at = cheapest(facts, plans, desk, state, v, 0, 0, False)
    if s < 0:
        return False
    touch(desk, s)
    return insert_at(facts, plans, desk, s, o, at)


@compiled
def _sort(facts: Facts, desk: Desk, state: Words, count: int) -> None:
    """Random, narrow windows first, early ones first, or those few shifts can serve first; jobs in order; mostly the
    dear ones before the rest."""
    shuffle(state, desk.pad[WAITING], count)
    by = chance(state)
    if by < 0.2:
        _sort_by(facts, desk, count, WIDTH, 1)
    elif by < 0.4:
        _sort_by(facts, desk, count, OPENS, 1)
    elif by < 0.6:
        _sort_by(facts, desk, count, ABLE, 1)
    if len(facts.link):
        turn = desk.sum[TURN] % 4
        # mostly the earlier visit first; at times the later one, which then says by when the earlier must be done
        _sort_by(facts, desk, count, RANK, 0 if turn == 1 else (-1 if turn == 3 else 1))
    if chance(state) < 0.75:
        _sort_by(facts, desk, count, DEAREST, -1)


@compiled
def _sort_by(facts: Facts, desk: Desk, count: int, column: int, sign: int) -> None:
    """Stable insertion sort of the visits waiting by a column of theirs; they are few and often in order."""
    items, key = desk.pad[WAITING], desk.pad[KEY]
    for k in range(count):
        key[k] = sign * facts.visit[items[k], column]
    for k in range(1, count):
        item, own, at = items[k], key[k], k
        while at > 0 and key[at - 1] > own:
            items[at], key[at] = items[at - 1], key[at - 1]
            at -= 1
        items[at], key[at] = item, own
