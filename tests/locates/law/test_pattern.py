"""A window taken from its day's pattern is the window counted out, to the second and to the word."""

from __future__ import annotations

import random
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locates.law import pattern as patterns
from locates.law.decide import LegalClock
from locates.law.load import jurisdiction
from locates.law.pattern import DayPatterns
from locates.law.window import zone_for
from locates.law.workdays import DAY_S, zone_days
from locates.place.resolve import STATE_LIST

# Days on which most goes wrong: both clock changes of 2026 and 2027, holidays, weekends, ends of year.
AWKWARD = [date(2026, 10, 30) + timedelta(n) for n in range(72)] + [
    date(2027, 3, 10) + timedelta(n) for n in range(9)
]
CLOCKS = [0, 1, 7 * 3600 - 1, 7 * 3600, 7 * 3600 + 1, 12 * 3600, 17 * 3600, 17 * 3600 + 1, 18 * 3600 + 1, DAY_S - 1]


def clocks_of(state: str) -> list[LegalClock]:
    law = jurisdiction(state)
    zones = {zone_for(law, zone) for zone in law.time_zones}
    return [LegalClock(law.versions[-1], zone) for zone in sorted(zones)]


def counted_out(clock: LegalClock, at: datetime):
    """A clock that never met the day has no pattern for it."""
    return LegalClock(clock.version, clock.zone_name).decide(at)


@pytest.mark.parametrize("state", sorted(STATE_LIST))
def test_every_stretch_of_awkward_days_is_the_window_counted_out(state):
    chance = random.Random(state)
    for clock in clocks_of(state):
        tz = ZoneInfo(clock.zone_name)
        for day in chance.sample(AWKWARD, 12):
            seconds = [*CLOCKS, *(chance.randrange(DAY_S) for _ in range(4))]
            asked = [datetime.combine(day, time(), tz) + timedelta(seconds=s) for s in seconds]
            for at in asked:  # so that every stretch has been met
                clock.decide(at)
            for at in asked:
                kept, fresh = clock.decide(at), counted_out(clock, at)
                assert kept.as_json() == fresh.as_json()
                assert kept == fresh


@settings(deadline=None, max_examples=150)
@given(
    state=st.sampled_from(sorted(STATE_LIST)),
    day=st.dates(date(2026, 7, 1), date(2045, 12, 31)),
    seconds=st.lists(st.integers(0, DAY_S - 1), min_size=2, max_size=5),
)
def test_any_notices_of_one_day_agree_with_the_count(state, day, seconds):
    for clock in clocks_of(state):
        tz = ZoneInfo(clock.zone_name)
        asked = [datetime.combine(day, time(), tz) + timedelta(seconds=s) for s in seconds]
        for at in asked * 2:
            clock.decide(at, trace=False)
        for at in asked:
            assert clock.decide(at) == counted_out(clock, at)


def test_most_stretches_have_a_pattern_so_that_a_batch_is_not_counted_out_twice():
    with_pattern = days = 0
    for state in sorted(STATE_LIST):
        clock = clocks_of(state)[0]
        for day in range(date(2026, 9, 1).toordinal(), date(2026, 10, 1).toordinal()):
            clock._patterns.find(day, 10 * 3600)
            with_pattern += clock._patterns.find(day, 10 * 3600) is not None
            days += 1
    assert with_pattern > 0.95 * days


def test_a_day_on_which_the_clocks_change_is_always_counted_out():
    clock = clocks_of("VA")[0]
    change = date(2026, 11, 1).toordinal()
    assert [clock._patterns.find(change, 40_000) for _ in range(3)] == [None] * 3


def test_what_is_kept_is_bounded(monkeypatch):
    monkeypatch.setattr(patterns, "KEPT_STRETCHES", 10)
    clock = clocks_of("VA")[0]
    kept = DayPatterns(zone_days(clock.zone_name), clock._patterns._reckon, [])
    for day in range(date(2026, 9, 1).toordinal(), date(2026, 10, 1).toordinal()):
        kept.find(day, 40_000)
        assert len(kept._kept) <= 10


def test_a_part_of_a_second_and_another_zone_are_taken_as_the_instant_they_are():
    clock = clocks_of("VA")[0]
    at = datetime(2026, 9, 16, 10, tzinfo=ZoneInfo("America/New_York"))
    plain = [clock.decide(at) for _ in range(3)][-1]
    assert clock.decide(at.astimezone(ZoneInfo("Asia/Tokyo"))) == plain
    later = clock.decide(at + timedelta(microseconds=1))
    assert later.received_at == plain.received_at + timedelta(seconds=1)
