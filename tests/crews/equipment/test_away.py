"""The proposed days lose no more visits than any other choice: held against trying all of them."""

from __future__ import annotations

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


KINDS = ("receiver", "sonde")
leavings = st.lists(
    st.builds(
        Leaving,
        item_id=st.just(0),
        kind=st.sampled_from(KINDS),
        crew_id=st.sampled_from([None, 1, 2]),
        days=st.lists(st.integers(0, 5), min_size=1, max_size=3, unique=True).map(tuple),
        away_days=st.integers(1, 3),
    ),
    min_size=1,
    max_size=4,
)
needs = st.lists(
    st.builds(
        Need,
        visit_id=st.just(0),
        day=st.integers(0, 7),
        crew_id=st.sampled_from([1, 2]),
        kinds=st.lists(st.sampled_from(KINDS), min_size=1, max_size=2, unique=True).map(tuple),
    ),
    max_size=9,
)
stays = st.lists(
    st.builds(Holding, kind=st.sampled_from(KINDS), crew_id=st.sampled_from([None, 1]), last_day=st.none()),
    max_size=1,
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(leavings, needs, stays)
def test_no_choice_of_one_kind_loses_fewer(
    leaving: list[Leaving], wanted: list[Need], staying: list[Holding]
) -> None:
    items = [Leaving(number, "receiver", one.crew_id, one.days, one.away_days) for number, one in enumerate(leaving)]
    visits = [Need(number, one.day, one.crew_id, ("receiver",)) for number, one in enumerate(wanted)]
    holdings = [Holding("receiver", one.crew_id) for one in staying]
    answer = propose(items, visits, holdings)
    fewest = min(
        len(lost_visits(items, dict(enumerate(days)), visits, holdings))
        for days in product(*(item.days for item in items))
    )
    assert answer.proven
    assert len(answer.lost) == fewest


@pytest.mark.parametrize("count", [30])
def test_many_items_still_end_and_own_up(count: int) -> None:
    items = [Leaving(i, "receiver", i % 5, tuple(range(10)), 4) for i in range(count)]
    visits = [Need(d * 5 + c, d, c, ("receiver",)) for d in range(14) for c in range(5)]
    answer = propose(items, visits, [])
    assert len(answer.proposals) == count
    assert set(answer.lost) == lost_visits(items, {p.item_id: p.day for p in answer.proposals}, visits, [])
