"""The axis: wall time runs forward along it, nights and skipped days get less room."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from crews.board.scale import NIGHT_WEIGHT, SKIPPED_WEIGHT, lay_scale

FIRST = date(2026, 9, 16)  # a Wednesday
walls = st.datetimes(datetime(2026, 9, 1), datetime(2026, 10, 15))
lengths = st.integers(1, 14)
narrow_days = st.sets(st.integers(0, 13).map(lambda n: FIRST + timedelta(days=n)))


@given(a=walls, b=walls, days=lengths, narrow=narrow_days)
def test_later_never_stands_further_left(a: datetime, b: datetime, days: int, narrow: set[date]) -> None:
    scale = lay_scale(FIRST, days, narrow)
    early, late = sorted((a, b))
    assert 0.0 <= scale.x(early) <= scale.x(late) <= 100.0 + 1e-9


@given(days=lengths, narrow=narrow_days)
def test_columns_fill_the_axis_without_a_gap(days: int, narrow: set[date]) -> None:
    columns = lay_scale(FIRST, days, narrow).columns
    assert [c.day for c in columns] == [FIRST + timedelta(days=n) for n in range(days)]
    assert columns[0].x == 0.0
    assert columns[-1].end == pytest.approx(100.0)
    assert all(b.x == pytest.approx(a.end) for a, b in pairwise(columns))
    assert {c.day for c in columns if c.narrow} == {d for d in narrow if FIRST <= d < FIRST + timedelta(days=days)}


@given(wall=walls, days=lengths, narrow=narrow_days)
def test_between_stops_the_axis_is_straight(wall: datetime, days: int, narrow: set[date]) -> None:
    """What a script reads off the stops is what the server draws."""
    scale = lay_scale(FIRST, days, narrow)
    stops = [(x, datetime.fromisoformat(words)) for x, words in scale.stops()]
    inside = min(max(wall, scale.starts), scale.ends)
    (ax, a), (bx, b) = next(pair for pair in pairwise(stops) if inside <= pair[1][1])
    assert scale.x(inside) == pytest.approx(ax + (inside - a) / (b - a) * (bx - ax), abs=0.001)


def test_nights_and_skipped_days_are_narrower() -> None:
    scale = lay_scale(FIRST, 5, {date(2026, 9, 19), date(2026, 9, 20)})
    noon, hour = datetime(2026, 9, 16, 12), timedelta(hours=1)
    day_hour = scale.x(noon + hour) - scale.x(noon)
    night = datetime(2026, 9, 16, 2)
    assert scale.x(night + hour) - scale.x(night) == pytest.approx(day_hour * NIGHT_WEIGHT)
    widths = [c.width for c in scale.columns]
    assert widths[3] == pytest.approx(widths[0] * SKIPPED_WEIGHT)


def test_an_axis_needs_a_day() -> None:
    with pytest.raises(ValueError, match="at least one day"):
        lay_scale(FIRST, 0, ())
