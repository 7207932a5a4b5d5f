"""Compiled: order between visits of a job; windows are cut so that both ends of a link hold whatever moves. Pure.

While both visits of a link stand in the plan, each has a box of starts; the boxes are chosen so that any pair of
starts in them keeps the order and the gaps. Taking one visit out widens the other's box again.
"""

from __future__ import annotations

from ..model import FAR_S
from .compiled import compiled
from .dice import chance
from .facts import (
    AFTER,
    COUNT,
    EARLIEST,
    GAP_MAX,
    GAP_MIN,
    GONE,
    HOPED,
    LATEST,
    LINKS,
    LINKS_END,
    ON_SITE,
    QUEUE,
    RANK,
    TO_VISIT,
    TURN,
    VISIT,
    WHERE,
    Desk,
    Facts,
    Plans,
    Words,
)
from .prices import cheapest
from .touched import touch
from .tours import insert_at, rebuild


@compiled
def span_of(facts: Facts, plans: Plans, v: int) -> tuple[int, int]:
    """Earliest and latest start that its tour leaves a planned visit."""
    s = plans.spot[v, WHERE]
    for k in range(plans.tour[s, COUNT]):
        if facts.option[plans.seq[s, k], VISIT] == v:
            return plans.span[s, k, 0], plans.span[s, k, 1]
    return FAR_S, -FAR_S


@compiled
def reach(facts: Facts, plans: Plans, desk: Desk, v: int) -> tuple[int, int]:
    """Starts of `v` for which every planned partner still has a start of its own; an empty range (first above last)
    when a visit that must come before stands nowhere and has been tried."""
    low, high = -FAR_S, FAR_S
    for k in range(facts.visit[v, LINKS], facts.visit[v, LINKS_END]):
        u = facts.link[k, TO_VISIT]
        if plans.spot[u, WHERE] < 0:
            if not facts.link[k, AFTER] and not desk.pad[HOPED, u]:
                return FAR_S, -FAR_S
            continue
        first, last = span_of(facts, plans, u)
        if facts.link[k, AFTER]:
            high = min(high, last - facts.link[k, GAP_MIN] - facts.visit[v, ON_SITE])
            low = max(low, first - facts.link[k, GAP_MAX] - facts.visit[v, ON_SITE])
        else:
            low = max(low, first + facts.visit[u, ON_SITE] + facts.link[k, GAP_MIN])
            high = min(high, last + facts.visit[u, ON_SITE] + facts.link[k, GAP_MAX])
    return low, high


@compiled
def box(facts: Facts, plans: Plans, v: int) -> tuple[int, int]:
    """Starts of `v` that suit the boxes of all its planned partners."""
    low, high = -FAR_S, FAR_S
    for k in range(facts.visit[v, LINKS], facts.visit[v, LINKS_END]):
        u = facts.link[k, TO_VISIT]
        if plans.spot[u, WHERE] < 0:
            continue
        first, last = plans.spot[u, EARLIEST], plans.spot[u, LATEST]
        if facts.link[k, AFTER]:
            high = min(high, first - facts.link[k, GAP_MIN] - facts.visit[v, ON_SITE])
            low = max(low, last - facts.link[k, GAP_MAX] - facts.visit[v, ON_SITE])
        else:
            low = max(low, last + facts.visit[u, ON_SITE] + facts.link[k, GAP_MIN])
            high = min(high, first + facts.visit[u, ON_SITE] + facts.link[k, GAP_MAX])
    return low, high


@compiled
def insert_linked(facts: Facts, plans: Plans, desk: Desk, state: Words, v: int) -> bool:
    """Put a linked visit where it is cheapest and cut the boxes; False, nothing changed, when there is no place."""
    low, high = reach(facts, plans, desk, v)
    if low > high:
        return False
    _, s, o, at = cheapest(facts, plans, desk, state, v, low, high, True)
    if s < 0:
        return False
    touch(desk, s)
    plans.spot[v, EARLIEST], plans.spot[v, LATEST] = low, high
    if insert_at(facts, plans, desk, s, o, at):
        if bind(facts, plans, desk, v, low, high, False):
            return True
        drop(facts, plans, desk, v)
    plans.spot[v, EARLIEST], plans.spot[v, LATEST] = -FAR_S, FAR_S
    return False


@compiled
def bind(facts: Facts, plans: Plans, desk: Desk, v: int, low: int, high: int, only_before: bool) -> bool:
    """Choose boxes for `v` and its planned partners and run their tours again; when one breaks, all as it was."""
    first, last = span_of(facts, plans, v)
    first, last = max(first, low), min(last, high)
    if first > last:
        return False
    start = last if desk.sum[TURN] % 5 == 0 else first
    low, high, partners = start, last, 0
    for k in range(facts.visit[v, LINKS], facts.visit[v, LINKS_END]):
        u = facts.link[k, TO_VISIT]
        if plans.spot[u, WHERE] < 0 or (only_before and facts.link[k, AFTER]):
            continue
        a, b = span_of(facts, plans, u)
        if facts.link[k, AFTER]:
            a = max(a, start + facts.visit[v, ON_SITE] + facts.link[k, GAP_MIN])
            b = min(b, start + facts.visit[v, ON_SITE] + facts.link[k, GAP_MAX])
            high = min(high, a - facts.link[k, GAP_MIN] - facts.visit[v, ON_SITE])
        else:
            a = max(a, start - facts.link[k, GAP_MAX] - facts.visit[u, ON_SITE])
            b = min(b, start - facts.link[k, GAP_MIN] - facts.visit[u, ON_SITE])
            high = min(high, a + facts.visit[u, ON_SITE] + facts.link[k, GAP_MAX])
        if a > b:
            return False
        partners += 1
        desk.box[u, 0], desk.box[u, 1] = a, b
    if high < low:
        return False
    if partners == 0:  # alone, the visit keeps all its windows: a box would only hinder visits put beside it later
        low, high = -FAR_S, FAR_S
    desk.box[v, 0], desk.box[v, 1] = low, high
    return _cut(facts, plans, desk, v, only_before)


@compiled
def _cut(facts: Facts, plans: Plans, desk: Desk, v: int, only_before: bool) -> bool:
    """Exchange the boxes of `v` and its partners for those in `desk.undo_clip`; back again when a tour breaks."""
    _swap_boxes(facts, plans, desk, v, only_before)
    done = _rebuild_around(facts, plans, desk, v, only_before)
    if not done:
        _swap_boxes(facts, plans, desk, v, only_before)
        _rebuild_around(facts, plans, desk, v, only_before)
    return done


@compiled
def _swap_boxes(facts: Facts, plans: Plans, desk: Desk, v: int, only_before: bool) -> None:
    for k in range(facts.visit[v, LINKS] - 1, facts.visit[v, LINKS_END]):
        u = v if k < facts.visit[v, LINKS] else facts.link[k, TO_VISIT]
        if plans.spot[u, WHERE] < 0 or (u != v and only_before and facts.link[k, AFTER]):
            continue
        for end in range(2):
            plans.spot[u, EARLIEST + end], desk.box[u, end] = desk.box[u, end], plans.spot[u, EARLIEST + end]


@compiled
def _rebuild_around(facts: Facts, plans: Plans, desk: Desk, v: int, only_before: bool) -> bool:
    """Run the tours of `v` and its partners again; False when one cannot be run."""
    done = True
    for k in range(facts.visit[v, LINKS] - 1, facts.visit[v, LINKS_END]):
        u = v if k < facts.visit[v, LINKS] else facts.link[k, TO_VISIT]
        s = plans.spot[u, WHERE]
        if s < 0 or (u != v and only_before and facts.link[k, AFTER]):
            continue
        touch(desk, s)
        done = rebuild(facts, plans, desk, s) and done
    return done


@compiled
def drop(facts: Facts, plans: Plans, desk: Desk, v: int) -> None:
    """Take visit `v` out and widen its partners' boxes; a tour that then breaks is given up whole."""
    desk.pad[QUEUE, 0] = v
    count = 1
    while count:
        count -= 1
        u = desk.pad[QUEUE, count]
        s = plans.spot[u, WHERE]
        if s < 0:
            continue
        touch(desk, s)
        kept = 0
        for k in range(plans.tour[s, COUNT]):
            o = plans.seq[s, k]
            if facts.option[o, VISIT] != u:
                plans.seq[s, kept] = o
                kept += 1
        plans.tour[s, COUNT] = kept
        plans.spot[u, WHERE] = -1
        count = refresh(facts, plans, desk, s, count)
        count = widen(facts, plans, desk, u, count)


@compiled
def refresh(facts: Facts, plans: Plans, desk: Desk, s: int, count: int) -> int:
    """Run shift `s` again; when that fails (travel times may break the triangle) its visits join the queue."""
    if rebuild(facts, plans, desk, s):
        return count
    given_up = plans.tour[s, COUNT]
    for k in range(given_up):
        plans.spot[facts.option[plans.seq[s, k], VISIT], WHERE] = -1
    plans.tour[s, COUNT] = 0
    rebuild(facts, plans, desk, s)
    for k in range(given_up):
        count = widen(facts, plans, desk, facts.option[plans.seq[s, k], VISIT], count)
    return count


@compiled
def widen(facts: Facts, plans: Plans, desk: Desk, v: int, count: int) -> int:
    """Forget the box of `v`, now out, and widen those of its partners; gives the length of the queue."""
    plans.spot[v, EARLIEST], plans.spot[v, LATEST] = -FAR_S, FAR_S
    for k in range(facts.visit[v, LINKS], facts.visit[v, LINKS_END]):
        u = facts.link[k, TO_VISIT]
        s = plans.spot[u, WHERE]
        if s < 0:
            continue
        plans.spot[u, EARLIEST], plans.spot[u, LATEST] = box(facts, plans, u)
        touch(desk, s)
        if not rebuild(facts, plans, desk, s):
            desk.pad[QUEUE, count] = u
            count += 1
    return count


@compiled
def drop_orphans(facts: Facts, plans: Plans, desk: Desk) -> None:
    """Take out visits whose earlier visit stands nowhere, until none is left."""
    again = len(facts.link) > 0
    while again:
        again = False
        for v in range(len(facts.visit)):
            if plans.spot[v, WHERE] < 0:
                continue
            for k in range(facts.visit[v, LINKS], facts.visit[v, LINKS_END]):
                if not facts.link[k, AFTER] and plans.spot[facts.link[k, TO_VISIT], WHERE] < 0:
                    drop(facts, plans, desk, v)
                    again = True
                    break


@compiled
def settle(facts: Facts, plans: Plans, desk: Desk) -> None:
    """Give boxes to linked visits of tours made without regard to order; visits that break it are taken out."""
    most = 0
    for v in range(len(facts.visit)):
        plans.spot[v, EARLIEST], plans.spot[v, LATEST] = -FAR_S, FAR_S
        most = max(most, facts.visit[v, RANK])
    for rank in range(most + 1):
        for v in range(len(facts.visit)):
            if (
                facts.visit[v, RANK] != rank
                or plans.spot[v, WHERE] < 0
                or facts.visit[v, LINKS] == facts.visit[v, LINKS_END]
            ):
                continue
            low, high, whole = -FAR_S, FAR_S, True
            for k in range(facts.visit[v, LINKS], facts.visit[v, LINKS_END]):
                u = facts.link[k, TO_VISIT]
                if facts.link[k, AFTER]:
                    continue
                if plans.spot[u, WHERE] < 0:
                    whole = False
                    break
                a, b = span_of(facts, plans, u)
                low = max(low, a + facts.visit[u, ON_SITE] + facts.link[k, GAP_MIN])
                high = min(high, b + facts.visit[u, ON_SITE] + facts.link[k, GAP_MAX])
            if not whole or low > high or not bind(facts, plans, desk, v, low, high, True):
                drop(facts, plans, desk, v)
    drop_orphans(facts, plans, desk)


@compiled
def sometimes_followers(facts: Facts, plans: Plans, desk: Desk, state: Words) -> None:
    """Every other time, mark the partners of visits to be taken out."""
    if len(facts.link) == 0 or chance(state) < 0.5:
        return
    for v in range(len(facts.visit)):
        if desk.pad[GONE, v] == 1:
            for k in range(facts.visit[v, LINKS], facts.visit[v, LINKS_END]):
                u = facts.link[k, TO_VISIT]
                if desk.pad[GONE, u] == 0 and plans.spot[u, WHERE] >= 0:
                    desk.pad[GONE, u] = 2
