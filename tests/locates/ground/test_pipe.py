"""A pipe from sonde points: fall with confidence, against minimum slopes.

Minimum slopes: International Plumbing Code Table 704.1 as reprinted in the Chicago plumbing code, Table
18-29-704.1 (read): 2 1/2 in or less 1/4 in per ft, 3 to 6 in 1/8, 8 in or larger 1/16. Uniform Plumbing Code
708.1: 1/4 in per ft (from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from locates.ground import sonde
from locates.ground.lengths import INCH_M
from locates.ground.pipe import (
    FallVerdict,
    PlumbingCode,
    SondePoint,
    chainages_m,
    fall,
    minimum_slope,
    stretches,
)
from locates.ground.refusal import GroundError
from tests.locates.ground.synthetic_ground import read_sonde


def _level_ground(slope: float, count: int = 8, step_m: float = 3.0, sigma_m: float = 0.02) -> list[SondePoint]:
    return [
        SondePoint(i * step_m, 0.0, 1.0 + slope * i * step_m, sigma_m, ground_level_m=100.0) for i in range(count)
    ]


@pytest.mark.parametrize(
    ("size_in", "inch_per_foot"),
    [(1.5, 0.25), (2.0, 0.25), (2.5, 0.25), (3.0, 0.125), (4.0, 0.125), (6.0, 0.125), (7.0, 0.125), (8.0, 0.0625)],
)
def test_minimum_slope_of_the_plumbing_code(size_in: float, inch_per_foot: float) -> None:
    found = minimum_slope(size_in * INCH_M)
    assert found.slope == pytest.approx(inch_per_foot / 12.0)
    assert "704.1" in found.source


def test_the_other_model_code_is_steeper_and_graded_memory() -> None:
    found = minimum_slope(4 * INCH_M, PlumbingCode.UPC)
    assert found.slope == pytest.approx(1 / 48)
    assert found.evidence == "memory"


@pytest.mark.parametrize(
    ("slope", "verdict"),
    [
        (0.03, FallVerdict.MEETS),
        (0.004, FallVerdict.FAILS),
        (0.0104, FallVerdict.CANNOT_TELL),
        (-0.02, FallVerdict.BACKFALL),
    ],
)
def test_fall_of_a_4_inch_pipe(slope: float, verdict: FallVerdict) -> None:
    found = fall(_level_ground(slope), 4 * INCH_M)
    assert found.slope == pytest.approx(slope, abs=1e-9)
    assert found.verdict is verdict
    assert found.cautions


def test_fall_follows_the_ground_not_the_depth() -> None:
    """Ground that rises a metre over the run: equal depths are then a backfall."""
    points = [SondePoint(3.0 * i, 0.0, 1.0, 0.02, ground_level_m=100.0 + i / 7) for i in range(8)]
    assert fall(points, 4 * INCH_M).verdict is FallVerdict.BACKFALL
    # walked up from the main the same run falls as it should
    assert fall(points, 4 * INCH_M, flows_away=False).verdict is FallVerdict.MEETS


def test_sag_is_named_with_its_mark() -> None:
    points = _level_ground(0.02)
    low = points[4]
    points[4] = SondePoint(low.x_m, 0.0, low.depth_m + 0.15, 0.02, ground_level_m=100.0)
    found = fall(points, 4 * INCH_M)
    assert found.worst_index == 4
    assert found.worst_residual_m == pytest.approx(-0.13, abs=0.02)
    assert found.sigma > fall(_level_ground(0.02), 4 * INCH_M).sigma


def test_fall_of_a_sonde_in_a_sloping_pipe_in_the_independent_model() -> None:
    """120 seeded runs, 2 % fall: nulls and peak marked over a pitched sonde, band must hold the truth in 95 %."""
    rng = np.random.default_rng(8)
    inside = naive_error = fixed_error = 0.0
    for _ in range(120):
        slope = rng.uniform(0.0, 0.12)
        pitch = -math.degrees(math.atan(slope))
        points = []
        for i in range(8):
            depth = 0.9 + slope * 3.0 * i
            marks = read_sonde(3.0 * i, depth, pitch, rng, mark_sigma_m=0.01)
            fix = sonde.fix_from_marks(marks.rear, marks.front, marks.peak, mark_sigma_m=0.01)
            points.append(SondePoint(fix.x_m, fix.y_m, fix.depth_m, fix.depth_sigma_m, fix.position_sigma_m, 50.0))
            naive_error += abs(sonde.null_spacing_depth_m(marks.front[0] - marks.rear[0]) - depth)
            fixed_error += abs(fix.depth_m - depth)
        found = fall(points, 4 * INCH_M)
        inside += abs(found.slope - slope) <= found.half_band
    assert inside / 120 >= 0.95
    assert fixed_error < 1.5 * naive_error  # pitch-proof costs little where pitch is small


@pytest.mark.parametrize(
    ("points", "code"),
    [
        ([SondePoint(0, 0, 1.0)], "too_few_points"),
        (_level_ground(0.02, 2), "too_few_points"),
        ([SondePoint(0, 0, 1), SondePoint(0, 0, 1), SondePoint(3, 0, 1)], "same_place"),
        ([SondePoint(3 * i, 0, 1) for i in range(4)], "ground_level_missing"),
    ],
)
def test_runs_without_a_fall_are_refused(points: list[SondePoint], code: str) -> None:
    with pytest.raises(GroundError) as refusal:
        fall(points, 4 * INCH_M)
    assert refusal.value.code == code


def test_chainage_follows_the_bends() -> None:
    assert chainages_m([SondePoint(0, 0, 1), SondePoint(3, 0, 1), SondePoint(3, 4, 1)]) == pytest.approx((0, 3, 7))


def test_the_fall_from_mark_to_mark_is_plain_arithmetic() -> None:
    """Levels 0, -0.05, -0.11 m at 3 m apart: 0.05/3 and 0.06/3; errors add in quadrature."""
    depths = (1.0, 1.05, 1.11)
    points = [SondePoint(3.0 * i, 0.0, d, 0.01, ground_level_m=0.0, level_sigma_m=0.0) for i, d in enumerate(depths)]
    first, second = stretches(points)
    assert (first.slope, second.slope) == pytest.approx((0.05 / 3, 0.06 / 3))
    assert first.half_band == pytest.approx(2 * 0.01 * 2**0.5 / 3)
    assert stretches(points, flows_away=False)[0].slope == pytest.approx(-0.05 / 3)


def test_a_mark_without_a_depth_gives_no_fall() -> None:
    points = [SondePoint(3.0 * i, 0.0, None if i == 1 else 1.0, ground_level_m=0.0) for i in range(4)]
    with pytest.raises(GroundError) as caught:
        fall(points, 0.1)
    assert caught.value.code == "depth_missing"
    assert "mark 2" in caught.value.message
