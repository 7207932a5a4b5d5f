"""The trace: straight, bent and cornered runs made here, noise and blunders added, truth known.

No published data set of marks was found; the truth is plain geometry and the noise is drawn with numpy.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, box

from locates.ground.refusal import GroundError
from locates.ground.trace import LONGEST_GAP_M, Trace, TracePoint, fit_trace

SIGMA = 0.10


def _path(kind: str, count: int, step_m: float) -> np.ndarray:
    along = np.arange(count) * step_m
    if kind == "corner":
        turn = along[count // 2]
        return np.column_stack([np.minimum(along, turn), np.maximum(along - turn, 0.0)])
    if kind == "arc":
        return np.column_stack([30.0 * np.sin(along / 30.0), 30.0 * (1.0 - np.cos(along / 30.0))])
    return np.column_stack([along, 0.3 * along])


def _square(truth: np.ndarray) -> np.ndarray:
    tangent = np.gradient(truth, axis=0)
    return np.column_stack([-tangent[:, 1], tangent[:, 0]]) / np.hypot(*tangent.T)[:, None]


def _points(spots: np.ndarray, depths: np.ndarray | None = None) -> list[TracePoint]:
    if depths is None:
        return [TracePoint(float(x), float(y)) for x, y in spots]
    return [TracePoint(float(x), float(y), float(d)) for (x, y), d in zip(spots, depths, strict=True)]


def _offs(trace: Trace, truth: np.ndarray) -> np.ndarray:
    line = LineString(truth)
    return np.array([line.distance(Point(x, y)) for x, y in zip(trace.x_m, trace.y_m, strict=True)])


@pytest.mark.parametrize(("kind", "least"), [("straight", 0.95), ("corner", 0.95), ("arc", 0.93)])
def test_truth_lies_in_the_band_and_blunders_are_set_aside(kind: str, least: float) -> None:
    """25 seeded runs of 60 points 1.5 m apart, 4 % of them 1 to 3 m off: bands hold, blunders go, good stay."""
    rng = np.random.default_rng(5)
    inside: list[bool] = []
    caught = blunders = wronged = 0
    errors: list[float] = []
    for _ in range(25):
        truth = _path(kind, 60, 1.5)
        spots = truth + rng.normal(0.0, SIGMA, truth.shape)
        bad = rng.random(60) < 0.04
        spots[bad] += _square(truth)[bad] * rng.choice([-1, 1], (bad.sum(), 1)) * rng.uniform(1, 3, (bad.sum(), 1))
        trace = fit_trace(_points(spots))
        aside = {s.index for s in trace.set_aside}
        caught += len(aside & set(np.flatnonzero(bad)))
        wronged += len(aside - set(np.flatnonzero(bad)))
        blunders += int(bad.sum())
        off = _offs(trace, truth)
        inside += list(off <= trace.position_band_m)
        errors += list(off)
    assert caught >= 0.9 * blunders
    assert wronged <= 0.01 * 25 * 60
    assert np.mean(inside) >= least
    assert np.median(errors) < SIGMA / 2  # smoothing helps: a single mark is off by about its sigma


def test_corner_is_not_rounded_off() -> None:
    truth = _path("corner", 41, 1.0)
    trace = fit_trace(_points(truth))
    assert _offs(trace, truth).max() < 0.02
    assert not trace.set_aside


def test_depth_blunder_loses_its_depth_and_keeps_its_place() -> None:
    truth = _path("straight", 20, 2.0)
    depths = np.full(20, 1.0)
    depths[9] = 2.4
    trace = fit_trace(_points(truth, depths))
    assert [(s.index, s.what) for s in trace.set_aside] == [(9, "depth")]
    assert "Point 10" in trace.set_aside[0].message
    assert len(trace.x_m) == 20
    assert np.isnan(trace.depth_m[9])
    at = trace.depth_at(float(trace.chainage_m[9]))
    assert at is not None
    assert at[0] == pytest.approx(1.0, abs=0.02)


def test_common_error_is_not_averaged_away() -> None:
    points = _points(_path("straight", 60, 1.0), np.full(60, 1.2))
    alone, shared = fit_trace(points), fit_trace(points, common_sigma_m=0.5, common_depth_share=0.1)
    assert alone.position_band_m.max() < 0.25
    assert shared.position_band_m.min() >= 1.0
    assert shared.depth_band_m.min() >= 0.24 - 1e-9


def test_gap_is_named_and_has_no_depth() -> None:
    spots = np.array([[0.0, 0.0], [2.0, 0.0], [4.0, 0.0], [30.0, 0.0], [32.0, 0.0], [34.0, 0.0]])
    trace = fit_trace(_points(spots, np.full(6, 1.0)))
    assert len(trace.gaps) == 1
    start, end = trace.gaps[0]
    assert end - start > LONGEST_GAP_M
    assert trace.depth_at(0.5 * (start + end)) is None
    assert trace.depth_at(1.0) is not None
    assert trace.depth_at(trace.length_m + 1.0) is None


def test_logged_walk_denser_than_its_errors_is_gathered_first() -> None:
    """Points every 3 cm with 10 cm of error: the way walked must not come out longer than it was."""
    rng = np.random.default_rng(6)
    truth = _path("corner", 3000, 0.03)
    spots = truth + rng.normal(0.0, SIGMA, truth.shape)
    bad = rng.random(3000) < 0.02
    spots[bad] += 2.0
    trace = fit_trace(_points(spots, np.full(3000, 1.0)))
    assert trace.length_m == pytest.approx(2999 * 0.03, rel=0.06)
    assert np.mean(_offs(trace, truth) <= trace.position_band_m) >= 0.95
    assert len({s.index for s in trace.set_aside} & set(np.flatnonzero(bad))) >= 0.95 * bad.sum()


def test_cut_gives_the_stretches_inside_an_area() -> None:
    trace = fit_trace(_points(_path("corner", 41, 1.0)))
    assert trace.cut(box(5, -1, 10, 1)) == (pytest.approx((5.0, 10.0), abs=0.02),)
    pieces = trace.cut(box(5, -1, 10, 1).union(box(15, 5, 25, 8)))
    assert len(pieces) == 2
    assert pieces[1] == pytest.approx((25.0, 28.0), abs=0.02)
    assert trace.cut(box(100, 100, 101, 101)) == ()


def test_run_that_crosses_itself_is_cut_by_its_own_chainage() -> None:
    """Out 20 m, round a square of 10 m and back: the crossing at 10 m is passed again at 50 m."""
    corners = [(0.0, 0.0), (20.0, 0.0), (20.0, 10.0), (10.0, 10.0), (10.0, -10.0)]
    way = LineString(corners)
    spots = np.array([way.interpolate(d).coords[0] for d in np.arange(0.0, way.length + 0.1, 1.0)])
    trace = fit_trace(_points(spots))
    assert trace.cut(box(8, -2, 12, 2)) == (
        pytest.approx((8.0, 12.0), abs=0.05),
        pytest.approx((48.0, 52.0), abs=0.05),
    )


@pytest.mark.parametrize(
    ("points", "code"),
    [
        ([TracePoint(0, 0)], "too_few_points"),
        ([TracePoint(0, 0), TracePoint(float("nan"), 0)], "position_missing"),
        ([TracePoint(0, 0), TracePoint(1, 0, position_sigma_m=0.0)], "position_missing"),
    ],
)
def test_unusable_points_are_refused(points: list[TracePoint], code: str) -> None:
    with pytest.raises(GroundError) as refusal:
        fit_trace(points)
    assert refusal.value.code == code


def _fit_or_refused(spots: np.ndarray) -> Trace | None:
    try:
        return fit_trace(_points(spots))
    except GroundError as refusal:
        if refusal.code != "not_one_run":
            raise
        return None


def test_points_of_no_run_own_up_to_their_distance() -> None:
    """Marks scattered over a yard: refused as no run, or the band at every point covers how far it was moved."""
    rng = np.random.default_rng(9)
    judged = 0
    for _ in range(20):
        spots = rng.uniform(0.0, 30.0, (30, 2))
        trace = _fit_or_refused(spots)
        if trace is not None:
            judged += len(trace.x_m)
            moved = np.hypot(trace.x_m - spots[trace.source, 0], trace.y_m - spots[trace.source, 1])
            assert (moved <= trace.position_band_m + 3 * SIGMA).all()
    assert judged < 20 * 30  # some of it is never taken for a run


@settings(max_examples=40)
@given(
    st.floats(-1e5, 1e5),
    st.floats(-1e5, 1e5),
    st.floats(0.0, 6.28),
    st.integers(2, 60),
)
def test_moving_and_turning_the_site_changes_nothing(x: float, y: float, turn: float, count: int) -> None:
    rng = np.random.default_rng(count)
    spots = _path("arc", count, 2.0) + rng.normal(0.0, SIGMA, (count, 2))
    turned = spots @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) + (x, y)
    here, there = fit_trace(_points(spots)), fit_trace(_points(turned))
    assert there.length_m == pytest.approx(here.length_m, abs=1e-4)
    assert there.position_band_m == pytest.approx(here.position_band_m, abs=1e-4)
    assert there.source.tolist() == here.source.tolist()


def test_two_points_make_a_line_and_no_more_sure_than_they_are() -> None:
    trace = fit_trace([TracePoint(0, 0, 1.0), TracePoint(3, 4)])
    assert trace.length_m == pytest.approx(5.0)
    assert trace.position_band_m == pytest.approx([0.2, 0.2])
    assert trace.at(2.5) == pytest.approx((1.5, 2.0))
