"""The proposed days lose no more visits than any other choice: held against trying all of them."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from crews.equipment.away import Holding, Leaving, Need, lost_visits, propose


def test_the_free_week_is_found() -> None:
    item = Leaving(1, "receiver", 7, tuple(range(0, 15)), 3)
    needs = [Need(v, day, 7, ("receiver",)) for v, day in enumerate((0, 1, 2, 5, 6, 12, 13, 14, 15, 16))]
    answer = propose([item], needs, [])
    assert answer.lost == ()
    assert answer.proven
    assert answer.proposals[0].day == 9  # the latest of the days that cost nothing (7, 8 and 9)


def test_two_of_a_kind_do_not_share_one_spare() -> None:
    items = [Leaving(i, "receiver", i, (0, 1), 1) for i in (1, 2)]
    needs = [Need(10 * i + day, day, i, ("receiver",)) for i in (1, 2) for day in (0, 1)]
    answer = propose(items, needs, [Holding("receiver", None)])
    assert answer.lost == ()
    assert {p.day for p in answer.proposals} == {0, 1}


def test_what_cannot_be_saved_is_named() -> None:
    item = Leaving(1, "receiver", 7, (0, 1), 1)
    needs = [Need(1, 0, 7, ("receiver",)), Need(2, 0, 7, ("receiver",)), Need(3, 1, 7, ("receiver",))]
    answer = propose([item], needs, [])
    assert answer.lost == (3,)
    assert answer.proposals[0].lost == (3,)


def test_a_spare_that_falls_due_itself_saves_nothing_after() -> None:
    item = Leaving(1, "receiver", 7, (5,), 1)
    need = [Need(1, 5, 7, ("receiver",))]
    assert propose([item], need, [Holding("receiver", None, last_day=4)]).lost == (1,)
    assert propose([item], need, [Holding("receiver", None, last_day=5)]).lost == ()
    assert propose([item], need, [Holding("transmitter", None)]).lost == (1,)


def test_what_is_overdue_is_not_at_hand_before_it_leaves() -> None:
    needs = [Need(1, 2, 7, ("receiver",)), Need(2, 9, 7, ("receiver",))]
    late = Leaving(1, "receiver", 7, (1,), 5, last_day=0)
    assert propose([late], needs, []).lost == (1,)
    waiting = Leaving(1, "receiver", 7, (3, 8), 5, last_day=0)
    answer = propose([waiting], needs, [])
    assert (answer.proposals[0].day, answer.lost) == (3, (1,))  # on the 8th it would lose the 9th too
    allowed = Leaving(1, "receiver", 7, (3, 8), 1, last_day=0, also=frozenset({2}))
    assert propose([allowed], needs, []).lost == ()


def test_what_goes_out_together_goes_away_together() -> None:
    """A visit that needs both is lost once when both are away on the same days."""
    needs = [Need(day, day, 7, ("receiver", "transmitter")) for day in (0, 1, 2)] + [
        Need(10 + n, day, 7, ("receiver",)) for n, day in enumerate((0, 2))
    ]
    items = [Leaving(1, "receiver", 7, (0, 1, 2), 1), Leaving(2, "transmitter", 7, (0, 1, 2), 1)]
    answer = propose(items, needs, [])
    assert answer.lost == (1,)
    assert {p.day for p in answer.proposals} == {1}


def test_a_visit_of_two_days_is_lost_with_either() -> None:
    needs = [Need(1, 0, 7, ("sonde",)), Need(1, 1, 7, ("sonde",)), Need(2, 3, 7, ("sonde",))]
    item = Leaving(1, "sonde", 7, (0, 1, 3), 1)
    assert propose([item], needs, []).lost == (2,)
    assert propose([Leaving(1, "sonde", 7, (0, 1), 1)], needs, []).lost == (1,)


KINDS = ("receiver", "sonde")
ends = st.one_of(st.none(), st.integers(0, 6))
words = st.sets(st.integers(0, 7), max_size=2).map(frozenset)
leavings = st.lists(
    st.builds(
        Leaving,
        item_id=st.just(0),
        kind=st.sampled_from(KINDS),
        crew_id=st.sampled_from([None, 1, 2]),
        days=st.lists(st.integers(0, 5), min_size=1, max_size=4, unique=True).map(tuple),
        away_days=st.integers(1, 3),
        last_day=ends,
        also=words,
    ),
    min_size=1,
    max_size=4,
)
needs = st.lists(
    st.builds(
        Need,
        visit_id=st.integers(0, 6),
        day=st.integers(0, 7),
        crew_id=st.sampled_from([1, 2]),
        kinds=st.lists(st.sampled_from(KINDS), min_size=1, max_size=3).map(tuple),
    ),
    max_size=9,
)
stays = st.lists(
    st.builds(Holding, kind=st.sampled_from(KINDS), crew_id=st.sampled_from([None, 1, 2]), last_day=ends, also=words),
    max_size=3,
)


def plainly(items: list[Leaving], chosen: dict[int, int], visits: list[Need], staying: list[Holding]) -> set[int]:
    """The measure again, in the plainest words: day by day, kind by kind, item by item."""
    lost = set()
    for day in {need.day for need in visits}:
        fit = [
            (one.kind, one.crew_id)
            for one in staying
            if one.last_day is None or day <= one.last_day or day in one.also
        ]
        for item in items:
            start = chosen[item.item_id]
            back = day >= start + item.away_days
            good = item.last_day is None or day <= item.last_day or day in item.also
            if back or (day < start and good):
                fit.append((item.kind, item.crew_id))
        for kind in KINDS:
            asked = [need for need in visits if need.day == day and kind in need.kinds]
            spares = fit.count((kind, None))
            for crew in sorted({n.crew_id for n in asked}, key=lambda c: (-sum(n.crew_id == c for n in asked), c)):
                own = fit.count((kind, crew))
                most = max(n.kinds.count(kind) for n in asked if n.crew_id == crew)
                while own < most and spares > 0:
                    own, spares = own + 1, spares - 1
                lost |= {n.visit_id for n in asked if n.crew_id == crew and n.kinds.count(kind) > own}
    return lost


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(leavings, needs, stays)
def test_no_other_choice_of_days_loses_fewer(
    leaving: list[Leaving], wanted: list[Need], staying: list[Holding]
) -> None:
    items = [replace(one, item_id=number) for number, one in enumerate(leaving)]
    answer = propose(items, wanted, staying)
    every = product(*(item.days for item in items))
    fewest = min(len(plainly(items, dict(enumerate(days)), wanted, staying)) for days in every)
    chosen = {one.item_id: one.day for one in answer.proposals}
    assert set(answer.lost) == plainly(items, chosen, wanted, staying)
    assert all(one.day in items[one.item_id].days for one in answer.proposals)
    assert answer.proven
    assert len(answer.lost) == fewest


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(leavings, needs, stays, st.data())
def test_fewer_at_hand_never_lose_fewer(
    leaving: list[Leaving], wanted: list[Need], staying: list[Holding], data: st.DataObject
) -> None:
    """What the search's bound rests on."""
    items = [replace(one, item_id=number) for number, one in enumerate(leaving)]
    chosen = {one.item_id: data.draw(st.sampled_from(one.days)) for one in items}
    all_there = lost_visits(items, chosen, wanted, staying)
    assert lost_visits(items, chosen, wanted, staying[1:]) >= all_there
    assert lost_visits(items[1:], chosen, wanted, staying) >= all_there


@pytest.mark.parametrize("count", [30])
def test_many_items_still_end_and_own_up(count: int) -> None:
    items = [Leaving(i, "receiver", i % 5, tuple(range(10)), 4) for i in range(count)]
    visits = [Need(d * 5 + c, d, c, ("receiver",)) for d in range(14) for c in range(5)]
    answer = propose(items, visits, [])
    assert len(answer.proposals) == count
    assert set(answer.lost) == lost_visits(items, {p.item_id: p.day for p in answer.proposals}, visits, [])
