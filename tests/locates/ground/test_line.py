"""Closed forms of a line against published-formula values and an independent field library.

Values: the law of Biot and Savart for a line current (I = 100 mA, d = 1 m, s = 0.4 m unless said), reckoned
to 40 digits and by magpylib, rounded to the digits shown.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from locates.ground import line
from locates.ground.line import Antenna
from locates.ground.refusal import GroundError
from tests.locates.ground.synthetic_ground import Conductor, line_field_nt

DEPTHS = st.floats(0.2, 6.0)
SPACINGS = st.floats(0.1, 1.0)


@pytest.mark.parametrize(
    ("offset", "horizontal", "vertical"),
    [
        (0.0, 20.0, 0.0),
        (0.25, 18.8235294, 4.70588235),
        (0.5, 16.0, 8.0),
        (1.0, 10.0, 10.0),
        (2.0, 4.0, 8.0),
    ],
)
def test_field_of_a_line(offset: float, horizontal: float, vertical: float) -> None:
    assert line.horizontal_field_nt(0.1, 1.0, offset) == pytest.approx(horizontal, rel=1e-8)
    assert line.vertical_field_nt(0.1, 1.0, offset) == pytest.approx(vertical, rel=1e-8, abs=1e-12)


def test_field_matches_the_independent_model_everywhere() -> None:
    x = np.linspace(-4.0, 4.0, 81)
    for depth in (0.4, 1.0, 2.7):
        across, up = line_field_nt(x, 0.0, (Conductor(0.0, depth, 0.05),))
        ours = np.array([line.horizontal_field_nt(0.05, depth, v) for v in x])
        ours_up = np.array([line.vertical_field_nt(0.05, depth, v) for v in x])
        assert np.abs(across) == pytest.approx(ours, rel=5e-5)
        assert np.abs(up) == pytest.approx(np.abs(ours_up), rel=5e-5, abs=1e-9)


def test_greatest_vertical_field_is_half_the_peak_one_depth_away() -> None:
    x = np.linspace(0.0, 3.0, 3001)
    vertical = np.array([line.vertical_field_nt(0.1, 1.0, v) for v in x])
    assert x[np.argmax(vertical)] == pytest.approx(1.0, abs=1e-3)
    assert vertical.max() / line.horizontal_field_nt(0.1, 1.0) == pytest.approx(0.5, rel=1e-6)


@pytest.mark.parametrize(
    ("ratio", "depth"), [(1.8, 0.5), (1.4, 1.0), (1.2, 2.0), (1.13333333333333, 3.0), (1.08, 5.0)]
)
def test_depth_from_two_antennas(ratio: float, depth: float) -> None:
    assert line.two_antenna_depth_m(ratio, 1.0, 0.4) == pytest.approx(depth, rel=1e-7)


def test_current_from_both_antennas_is_100_milliamperes() -> None:
    assert line.current_from_pair_a(20.0, 14.285714285714286, 0.4) == pytest.approx(0.1, rel=1e-9)
    assert line.current_from_field_a(20.0, 1.0) == pytest.approx(0.1, rel=1e-12)


@pytest.mark.parametrize(("tilt", "reads"), [(1.0, 1.03553031), (2.0, 1.07236871), (5.0, 1.19175359)])
def test_tilt_of_the_45_degree_antenna(tilt: float, reads: float) -> None:
    assert line.forty_five_depth_m(reads, tilt) == pytest.approx(1.0, rel=1e-8)
    assert line.forty_five_depth_m(reads) == pytest.approx(reads)


@pytest.mark.parametrize(
    ("share", "factor"),
    [(0.5, 2.0), (0.7, 1.30930734), (0.8, 1.0), (2**-0.5, 1.28718851), (0.9, 0.666666667)],
)
def test_width_of_one_antenna(share: float, factor: float) -> None:
    assert line.width_factor(share) == pytest.approx(factor, rel=1e-8)
    assert line.width_depth_m(factor, share, Antenna.SINGLE) == pytest.approx(1.0, rel=1e-8)


def test_width_at_70_percent_is_not_the_depth_of_a_single_antenna() -> None:
    """The rule of thumb that it is (common practice) reads 31 % too deep."""
    assert line.width_depth_m(1.0, 0.7, Antenna.SINGLE) == pytest.approx(0.763762616, rel=1e-8)
    assert line.difference_width_factor(0.7, 1.6583124) == pytest.approx(1.0, rel=1e-7)


@pytest.mark.parametrize(
    ("share", "close", "values"),
    [
        (0.5, 0.971736544, (1.01813148, 1.06053746, 1.13533997, 1.25461333)),
        (0.7, 0.694974852, (0.727994622, 0.75787189, 0.809781351, 0.890163479)),
        (0.8, 0.548393339, (0.574392432, 0.597811194, 0.638223504, 0.699986743)),
    ],
)
def test_width_of_a_difference_antenna(share: float, close: float, values: tuple[float, ...]) -> None:
    assert line.difference_width_factor(share, 1e-9) == pytest.approx(close, rel=1e-7)
    for spacing, factor in zip((0.1, 0.2, 0.4, 0.8), values, strict=True):
        assert line.difference_width_factor(share, spacing) == pytest.approx(factor, rel=1e-8)
        assert line.width_depth_m(factor, share, Antenna.DIFFERENCE, spacing) == pytest.approx(1.0, rel=1e-7)


@pytest.mark.parametrize(
    ("depth", "percent"),
    [(0.5, 1.59099026), (1.0, 2.47487373), (2.0, 4.24264069), (3.0, 6.01040764), (5.0, 9.54594155)],
)
def test_random_error_grows_with_depth(depth: float, percent: float) -> None:
    assert 100 * line.random_depth_share(depth, 0.4, 0.005) == pytest.approx(percent, rel=1e-8)


def test_random_error_formula_agrees_with_drawn_noise() -> None:
    rng = np.random.default_rng(4)
    bottom, top = (line.horizontal_field_nt(0.1, d) * (1 + 0.002 * rng.normal(size=40_000)) for d in (1.5, 1.9))
    spread = np.std(0.4 / (bottom / top - 1.0)) / 1.5
    assert line.random_depth_share(1.5, 0.4, 0.002) == pytest.approx(spread, rel=0.03)


@pytest.mark.parametrize(("depth", "reads"), [(1.0, 0.966183575), (2.0, 1.88679245), (3.0, 2.76497696)])
def test_gain_mismatch(depth: float, reads: float) -> None:
    assert line.gain_mismatch_depth_m(depth, 0.4, 0.01) == pytest.approx(reads, rel=1e-8)


def test_air_coupling_reads_deep() -> None:
    assert line.contaminated_depth_m(1.0, 0.4, 0.1) == pytest.approx(1.14, rel=1e-12)


@pytest.mark.parametrize(("share", "distance"), [(0.1, 17.0997595), (0.01, 36.840315)])
def test_separation_from_the_transmitter(share: float, distance: float) -> None:
    assert line.separation_m(10.0, 0.01, 1.0, share) == pytest.approx(distance, rel=1e-8)
    # the wanted depth error that goes with the share is q (d + s)
    assert line.separation_for_error_m(10.0, 0.01, 1.0, 0.4, share * 1.4) == pytest.approx(distance, rel=1e-8)


@pytest.mark.parametrize(("half", "share"), [(2.0, 0.894427191), (5.0, 0.980580676), (10.0, 0.99503719)])
def test_finite_line(half: float, share: float) -> None:
    assert line.finite_line_factor(half, 1.0) == pytest.approx(share, rel=1e-8)


@pytest.mark.parametrize(
    ("angle", "grade", "yaw"), [(10.0, 1.01542661, 0.984807753), (30.0, 1.15470054, 0.866025404)]
)
def test_grade_and_yaw(angle: float, grade: float, yaw: float) -> None:
    assert line.grade_factor(angle) == pytest.approx(grade, rel=1e-8)
    assert line.yaw_factor(angle) == pytest.approx(yaw, rel=1e-8)


@pytest.mark.parametrize(
    ("frequency", "depth"),
    [(512, 222.425795), (8192, 55.6064487), (32768, 27.8032244), (65536, 19.6598485), (83000, 17.4695246)],
)
def test_skin_depth_at_100_ohm_metres(frequency: float, depth: float) -> None:
    assert line.skin_depth_m(100.0, frequency) == pytest.approx(depth, rel=1e-8)


def test_loss_of_half_the_current_is_six_decibels() -> None:
    assert line.loss_db(0.2, 0.1) == pytest.approx(6.0206, rel=1e-5)
    assert line.loss_db(0.1, 0.2) == pytest.approx(-6.0206, rel=1e-5)


def test_cover_takes_antenna_and_pipe_off() -> None:
    assert line.cover_m(1.20, antenna_height_m=0.10, outside_diameter_m=0.30) == pytest.approx(0.95)


@given(DEPTHS, SPACINGS, st.floats(0.001, 5.0))
def test_two_antenna_depth_and_current_come_back(depth: float, spacing: float, current: float) -> None:
    bottom = line.horizontal_field_nt(current, depth)
    top = line.horizontal_field_nt(current, depth + spacing)
    assert line.two_antenna_depth_m(bottom, top, spacing) == pytest.approx(depth, rel=1e-9)
    assert line.current_from_pair_a(bottom, top, spacing) == pytest.approx(current, rel=1e-9)


@given(DEPTHS, SPACINGS, st.floats(0.1, 0.95))
def test_width_comes_back_as_depth(depth: float, spacing: float, share: float) -> None:
    single = depth * line.width_factor(share)
    assert line.width_depth_m(single, share, Antenna.SINGLE) == pytest.approx(depth, rel=1e-9)
    double = depth * line.difference_width_factor(share, spacing / depth)
    assert line.width_depth_m(double, share, Antenna.DIFFERENCE, spacing) == pytest.approx(depth, rel=1e-7)
    assert double < single  # the difference antenna's peak is always the narrower


@given(DEPTHS, SPACINGS, st.floats(0.05, 0.95))
def test_difference_width_really_falls_to_the_fraction(depth: float, spacing: float, share: float) -> None:
    """The quadratic is checked by putting its root back into the two fields."""
    half = depth * line.difference_width_factor(share, spacing / depth) / 2.0

    def difference(x: float) -> float:
        return line.horizontal_field_nt(1.0, depth, x) - line.horizontal_field_nt(1.0, depth + spacing, x)

    assert difference(half) / difference(0.0) == pytest.approx(share, rel=1e-9)


@pytest.mark.parametrize(
    ("call", "code"),
    [
        (lambda: line.two_antenna_depth_m(1.0, 1.0, 0.4), "no_gradient"),
        (lambda: line.two_antenna_depth_m(0.9, 1.0, 0.4), "no_gradient"),
        (lambda: line.two_antenna_depth_m(float("nan"), 1.0, 0.4), "not_positive"),
        (lambda: line.horizontal_field_nt(1.0, 0.0), "not_positive"),
        (lambda: line.width_factor(1.0), "not_a_fraction"),
        (lambda: line.width_depth_m(1.0, 0.7, Antenna.DIFFERENCE), "spacing_missing"),
        (lambda: line.cover_m(1.0, antenna_height_m=-0.1), "negative"),
        (lambda: line.skin_depth_m(100.0, -1.0), "not_positive"),
    ],
)
def test_refusals_name_the_trouble(call, code: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(GroundError) as refusal:
        call()
    assert refusal.value.code == code
    assert refusal.value.fields
    assert refusal.value.message.endswith(".")
