"""Closed forms of a sonde against published-formula values and an independent field library.

Values: the field of a magnetic dipole, m = 1 A m2, z = 1 m, s = 0.4 m, reckoned to 40 digits and by magpylib.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from locates.ground import line, sonde
from locates.ground.refusal import GroundError
from tests.locates.ground.synthetic_ground import read_sonde


@pytest.mark.parametrize(
    ("x", "y", "inline"),
    [
        (0.0, 0.0, -100.0),
        (0.5, 0.0, -28.6216701),
        (1.0, 0.0, 17.6776695),
        (1.5, 0.0, 18.3805982),
        (2.0, 0.0, 12.5219807),
        (0.0, 0.5, -71.5541753),
        (0.0, 1.0, -35.3553391),
    ],
)
def test_inline_field(x: float, y: float, inline: float) -> None:
    assert sonde.field_nt(1.0, x, y, 1.0)[0] == pytest.approx(inline, rel=1e-8)


@pytest.mark.parametrize(("x", "up"), [(0.25, 64.4523737), (0.5, 85.8650103), (1.0, 53.0330086)])
def test_vertical_field(x: float, up: float) -> None:
    assert sonde.field_nt(1.0, x, 0.0, 1.0)[2] == pytest.approx(up, rel=1e-8)


def test_total_field_along_the_axis_is_flat_topped() -> None:
    total = math.hypot(*sonde.field_nt(1.0, 0.5, 0.0, 1.0))
    assert total / 100.0 == pytest.approx(0.90509668, rel=1e-8)


def test_nulls_ghosts_and_spacings_of_a_level_sonde() -> None:
    rear, front = sonde.null_offsets(0.0)
    assert front == pytest.approx(0.707106781, rel=1e-8)
    assert rear == pytest.approx(-front)
    assert sonde.null_spacing_depth_m(front - rear) == pytest.approx(1.0)
    assert pytest.approx(1.22474487, rel=1e-8) == sonde.GHOST_OFFSET
    assert pytest.approx(0.20238577, rel=1e-7) == sonde.GHOST_SHARE
    assert sonde.ghost_shares(0.0) == pytest.approx((0.20238577, 0.20238577), rel=1e-7)
    assert sonde.ghost_spacing_depth_m(1.0) == pytest.approx(0.40824829, rel=1e-8)


@pytest.mark.parametrize(("share", "width"), [(0.5, 1.53284187), (0.7, 1.03621289), (0.8, 0.800992405)])
def test_width_across_the_axis(share: float, width: float) -> None:
    assert sonde.across_width_depth_m(width, share) == pytest.approx(1.0, rel=1e-8)


@pytest.mark.parametrize(("ratio", "depth"), [(5.832, 0.5), (2.744, 1.0), (1.728, 2.0), (1.4557037037, 3.0)])
def test_two_antennas(ratio: float, depth: float) -> None:
    assert sonde.two_antenna_depth_m(ratio, 1.0, 0.4) == pytest.approx(depth, rel=1e-7)


@pytest.mark.parametrize(
    ("depth", "reads"), [(0.5, 0.082781457), (1.0, 0.229357798), (2.0, 0.549450549), (3.0, 0.877763329)]
)
def test_line_formula_on_a_sonde_reads_far_too_shallow(depth: float, reads: float) -> None:
    assert line.two_antenna_depth_m(((depth + 0.4) / depth) ** 3, 1.0, 0.4) == pytest.approx(reads, rel=1e-7)


@pytest.mark.parametrize(("depth", "reads"), [(1.0, 3.37015389), (2.0, 6.38380361), (3.0, 9.38887761)])
def test_sonde_formula_on_a_line_reads_far_too_deep(depth: float, reads: float) -> None:
    assert sonde.two_antenna_depth_m((depth + 0.4) / depth, 1.0, 0.4) == pytest.approx(reads, rel=1e-7)


def test_moment_from_the_field_over_it() -> None:
    assert sonde.moment_a_m2(100.0, 1.0) == pytest.approx(1.0)


PITCHED = [
    # pitch, rear null, front null, 0.7071 x spacing, main peak, front ghost, rear ghost, vertical null
    (5, -0.775761219, 0.644528223, 1.0042963, -0.0290806329, 0.235945715, 0.171135349, -0.0582269026),
    (10, -0.851612181, 0.58712171, 1.01733849, -0.0581125362, 0.271558052, 0.142423432, -0.116750173),
    (20, -1.03094655, 0.484991197, 1.07192986, -0.115847, 0.347869347, 0.0933015992, -0.235895573),
    (30, -1.2621689, 0.396143496, 1.17260394, -0.172886067, 0.429313593, 0.0557819213, -0.35996368),
]


@pytest.mark.parametrize(("pitch", "rear", "front", "naive", "peak", "ahead", "behind", "up_null"), PITCHED)
def test_pitched_sonde(
    pitch: float, rear: float, front: float, naive: float, peak: float, ahead: float, behind: float, up_null: float
) -> None:
    assert sonde.null_offsets(pitch) == pytest.approx((rear, front), rel=1e-8)
    assert sonde.null_spacing_depth_m(front - rear) == pytest.approx(naive, rel=1e-7)
    assert sonde.pitch_proof_depth_m(-rear, front) == pytest.approx(1.0, rel=1e-7)
    assert sonde.pitch_from_nulls_deg(-rear, front) == pytest.approx(pitch, rel=1e-7)
    assert sonde.peak_offset(pitch) == pytest.approx(peak, rel=1e-6)
    assert sonde.ghost_shares(pitch) == pytest.approx((behind, ahead), rel=1e-6)
    assert sonde.vertical_null_offset(pitch) == pytest.approx(up_null, rel=1e-7)


@given(st.floats(-34.0, 34.0), st.floats(0.3, 4.0), st.floats(0.0, 360.0))
def test_fix_comes_back_from_exact_marks(pitch: float, depth: float, heading: float) -> None:
    """Any depth, pitch and heading: three marks give back the point over the sonde, its depth and its pitch."""
    ex, ey = math.sin(math.radians(heading)), math.cos(math.radians(heading))

    def mark(offset: float) -> tuple[float, float]:
        return 5.0 + offset * depth * ex, -3.0 + offset * depth * ey

    rear, front = sonde.null_offsets(pitch)
    fix = sonde.fix_from_marks(mark(rear), mark(front), mark(sonde.peak_offset(pitch)))
    assert (fix.x_m, fix.y_m) == pytest.approx((5.0, -3.0), abs=1e-6)
    assert fix.depth_m == pytest.approx(depth, rel=1e-6)
    assert fix.pitch_deg == pytest.approx(pitch, abs=1e-4)
    assert abs((fix.azimuth_deg - heading + 180.0) % 360.0 - 180.0) < 1e-6
    assert abs(fix.off_line_m) < 1e-9


def test_independent_model_gives_back_depth_and_pitch_without_noise() -> None:
    for pitch in (-25.0, -8.0, 0.0, 12.0, 30.0):
        for depth in (0.6, 1.4, 2.8):
            marks = read_sonde(10.0, depth, pitch, None)
            fix = sonde.fix_from_marks(marks.rear, marks.front, marks.peak)
            assert fix.depth_m == pytest.approx(depth, rel=2e-4)
            assert fix.pitch_deg == pytest.approx(pitch, abs=0.1)
            assert fix.x_m == pytest.approx(10.0, abs=2e-3)


def test_fix_stays_within_its_stated_uncertainty_on_noisy_marks() -> None:
    """600 seeded sondes in the independent model: within two sigmas about as often as two sigmas promise (95 %)."""
    rng = np.random.default_rng(21)
    inside = np.zeros(3)
    for _ in range(600):
        depth, pitch = rng.uniform(0.5, 3.0), rng.uniform(-15.0, 15.0)
        marks = read_sonde(0.0, depth, pitch, rng)
        fix = sonde.fix_from_marks(marks.rear, marks.front, marks.peak, mark_sigma_m=0.015)
        inside += (
            abs(fix.depth_m - depth) <= 2 * fix.depth_sigma_m,
            abs(fix.x_m) <= 2 * fix.position_sigma_m,
            abs(fix.pitch_deg - pitch) <= 2 * fix.pitch_sigma_deg,
        )
    depth_share, place_share, pitch_share = inside / 600
    assert depth_share >= 0.95
    # two sigmas hold 95.4 % at best, and 600 draws scatter by 0.9 %
    assert place_share >= 0.93
    assert pitch_share >= 0.93


def test_ghost_taken_for_the_peak_is_refused() -> None:
    with pytest.raises(GroundError) as refusal:
        sonde.fix_from_marks((-0.7071, 0.0), (0.7071, 0.0), (1.2247, 0.0))
    assert refusal.value.code == "peak_not_between_nulls"
    assert "ghost" in refusal.value.message


def test_nulls_on_one_spot_are_refused() -> None:
    with pytest.raises(GroundError, match="null spacing"):
        sonde.fix_from_marks((1.0, 1.0), (1.0, 1.0), (1.0, 1.0))
