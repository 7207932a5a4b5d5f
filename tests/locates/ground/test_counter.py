"""The ground over a counter reading: "the break is at 43 ft" becomes a dig point with a radius of doubt."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from locates.ground.counter import Counter, dig_point
from locates.ground.lengths import FOOT_M
from locates.ground.pipe import SondePoint
from locates.ground.refusal import GroundError


def _counted() -> list[SondePoint]:
    """Marks every 10 ft; the counter runs 2 % fast."""
    return [SondePoint(i * 10 * FOOT_M, 5.0, 1.0 + 0.05 * i, counter_m=2.0 + i * 10.2 * FOOT_M) for i in range(6)]


def test_break_at_a_counter_reading_lies_between_its_marks() -> None:
    found = dig_point(_counted(), 2.0 + 43 * 1.02 * FOOT_M)
    assert found.x_m == pytest.approx(43 * FOOT_M, abs=1e-9)
    assert found.y_m == 5.0
    assert found.depth_m == pytest.approx(1.0 + 0.05 * 4.3)
    assert found.basis == "between two marks"
    assert 0.2 < found.radius_of_doubt_m < 1.0


def test_radius_is_least_at_a_mark_and_grows_beyond_the_last() -> None:
    points = _counted()
    last = points[-1].counter_m
    assert last is not None
    at_mark = dig_point(points, points[3].counter_m or 0.0)
    between = dig_point(points, 2.0 + 35 * 1.02 * FOOT_M)
    beyond = dig_point(points, last + 2.0)
    assert at_mark.radius_of_doubt_m < between.radius_of_doubt_m < beyond.radius_of_doubt_m
    assert beyond.basis == "beyond the last mark"
    before = dig_point(points, 1.0)
    assert before.x_m == pytest.approx(-1.0)
    with pytest.raises(GroundError) as refusal:
        dig_point(points, last + 5.0)
    assert refusal.value.code == "beyond_marks"


def test_radius_at_a_mark_is_the_marks_own_and_the_counters() -> None:
    points = _counted()
    found = dig_point(points, points[3].counter_m or 0.0)
    assert found.radius_of_doubt_m == pytest.approx(2 * 0.10 + 0.15)
    with_share = dig_point(points, (points[3].counter_m or 0.0) + 1.0, Counter(share=0.05, fixed_m=0.0))
    without = dig_point(points, (points[3].counter_m or 0.0) + 1.0, Counter(share=0.0, fixed_m=0.0))
    assert with_share.radius_of_doubt_m - without.radius_of_doubt_m == pytest.approx(0.05)


def test_counter_that_ran_farther_than_the_ground_allows_a_bow() -> None:
    """5 m of cable over 3 m of ground: a 3-4-5 triangle, so the pipe may lie 2 m to the side halfway."""
    points = [SondePoint(0, 0, 1, counter_m=0.0), SondePoint(3, 0, 1, counter_m=5.0)]
    found = dig_point(points, 2.5, Counter(share=0.0, fixed_m=0.0))
    assert found.radius_of_doubt_m == pytest.approx(2.0 + 2 * 0.10 / 2**0.5)


def test_lens_looks_ahead_of_the_sonde() -> None:
    points = _counted()
    plain = dig_point(points, 8.0)
    ahead = dig_point(points, 8.0, Counter(sonde_behind_lens_m=0.3))
    assert ahead.x_m - plain.x_m == pytest.approx(0.3 / 1.02, rel=1e-6)


def test_counter_that_ran_on_is_mentioned() -> None:
    points = [SondePoint(0, 0, 1, counter_m=0.0), SondePoint(3, 0, 1, counter_m=5.0)]
    assert "slipping" in dig_point(points, 2.0).cautions[0]


@pytest.mark.parametrize(
    ("points", "code"),
    [
        ([SondePoint(0, 0, 1, counter_m=0.0), SondePoint(3, 0, 1)], "counter_unknown"),
        ([SondePoint(0, 0, 1, counter_m=2.0), SondePoint(3, 0, 1, counter_m=2.0)], "counter_repeats"),
        ([SondePoint(0, 0, 1, counter_m=0.0), SondePoint(0, 0, 2, counter_m=1.0)], "same_place"),
    ],
)
def test_marks_without_usable_counters_are_refused(points: list[SondePoint], code: str) -> None:
    with pytest.raises(GroundError) as refusal:
        dig_point(points, 1.0)
    assert refusal.value.code == code


@given(st.floats(0.0, 1.0), st.floats(0.5, 6.0), st.floats(0.9, 1.1))
def test_dig_point_is_where_the_straight_pipe_is(share: float, gap: float, stretch: float) -> None:
    points = [SondePoint(0, 0, 1, counter_m=1.0), SondePoint(gap, 0, 1, counter_m=1.0 + gap * stretch)]
    found = dig_point(points, 1.0 + share * gap * stretch)
    assert found.x_m == pytest.approx(share * gap, abs=1e-6)


def test_between_marks_without_depths_the_depth_is_not_known() -> None:
    points = [SondePoint(3.0 * i, 0.0, None, counter_m=3.0 * i) for i in range(3)]
    for counter_m in (4.0, 7.0):
        spot = dig_point(points, counter_m)
        assert (spot.depth_m, spot.depth_half_band_m) == (None, None)
        assert spot.x_m == pytest.approx(counter_m)
