"""Baseline offsets and ties, by a 3-4-5 triangle done by hand and by coming back."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from locates.ground.baseline import Baseline
from locates.ground.refusal import GroundError

BASE = Baseline((100.0, 200.0), (130.0, 240.0))  # 50 m long, a 3-4-5 slope


def test_baseline_by_hand() -> None:
    assert BASE.length_m == pytest.approx(50.0)
    assert BASE.point(25.0, 0.0) == pytest.approx((115.0, 220.0))
    assert BASE.point(25.0, 10.0) == pytest.approx((107.0, 226.0))  # left of the direction
    assert BASE.point(25.0, -10.0) == pytest.approx((123.0, 214.0))


@given(st.floats(-100, 150), st.floats(-80, 80))
def test_offsets_come_back_and_ties_meet(chainage: float, left: float) -> None:
    x, y = BASE.point(chainage, left)
    assert BASE.offsets(x, y) == pytest.approx((chainage, left), abs=1e-9)
    a, b = math.dist(BASE.start, (x, y)), math.dist(BASE.end, (x, y))
    if min(a, b) > 0.01 and abs(left) > 1.0:
        assert BASE.tie(a, b, left=left > 0) == pytest.approx((x, y), abs=1e-5)


def test_error_grows_with_the_offset_and_beyond_the_marks() -> None:
    assert BASE.sigma_m(25.0, 0.0) < BASE.sigma_m(25.0, 40.0) < BASE.sigma_m(25.0, 80.0)
    assert BASE.sigma_m(25.0, 0.0) < BASE.sigma_m(100.0, 0.0)


def test_ties_that_do_not_meet_say_by_how_much() -> None:
    with pytest.raises(GroundError) as refusal:
        BASE.tie(20.0, 25.0, left=True)
    assert refusal.value.code == "ties_do_not_meet"
    assert "5.00 m" in refusal.value.message


def test_marks_too_near_each_other_are_refused() -> None:
    with pytest.raises(GroundError) as refusal:
        Baseline((0.0, 0.0), (0.5, 0.0))
    assert refusal.value.code == "baseline_short"
