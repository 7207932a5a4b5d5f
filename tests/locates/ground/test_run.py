"""A locate run reckoned whole, on synthetic ground by the independent field model: from marks to hand
digging.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point, box

from locates.ground import sonde
from locates.ground.crossing import Relation, crossings
from locates.ground.doubt import Grade
from locates.ground.quality import Method, QualityLevel
from locates.ground.reading import LineReading, Receiver
from locates.ground.refusal import GroundError
from locates.ground.run import Exposure, PointRecord, RunRecord, Transmitter, reckon_run
from locates.ground.zones import ZoneRule, hand_dig_plan
from tests.locates.ground.synthetic_ground import RECEIVER, Conductor, clean_ground, read_line, read_sonde

PHONE_SIGMA_M = 0.10


def _points(rng: np.random.Generator, depth_m: float, count: int, neighbour: float = 0.0) -> tuple[PointRecord, ...]:
    """Marks every 2 m along +x over a line at y = 0; from the middle on a neighbour may run 0.9 m beside it."""
    records = []
    for i in range(count):
        ground = [Conductor(0.0, depth_m, 0.05)]
        if neighbour and i >= count // 2:
            ground.append(Conductor(0.9, depth_m, 0.05 * neighbour))
        case = read_line(tuple(ground), rng)
        assert case is not None
        assert case.reading.peak_at_m is not None
        x = 2.0 * i + rng.normal(0.0, PHONE_SIGMA_M)
        y = case.reading.peak_at_m + rng.normal(0.0, PHONE_SIGMA_M)
        records.append(PointRecord(x, y, PHONE_SIGMA_M, replace(case.reading, current_a=0.05 * 0.998**i)))
    return tuple(records)


def _record(points: tuple[PointRecord, ...], **more: object) -> RunRecord:
    base = RunRecord("p1", "private power 1", frozenset({Method.DIRECT}), RECEIVER, points, datum_sigma_m=0.05)
    return replace(base, **more)  # type: ignore[arg-type]


def test_truth_lies_in_the_bands_of_whole_runs() -> None:
    """30 clean seeded runs: true place and true depth inside the bands at 95 % of the points and more."""
    rng = np.random.default_rng(31)
    place: list[bool] = []
    depth_inside: list[bool] = []
    for _ in range(30):
        depth = clean_ground(rng)[0].depth_m
        shift = rng.normal(0.0, 0.05)
        points = tuple(replace(p, y_m=p.y_m + shift) for p in _points(rng, depth, 12))
        trace = reckon_run(_record(points)).trace
        place += list(np.abs(trace.y_m) <= trace.position_band_m)
        known = ~np.isnan(trace.depth_m)
        depth_inside += list(np.abs(trace.depth_m[known] - depth) <= trace.depth_band_m[known])
    assert np.mean(place) >= 0.95
    assert np.mean(depth_inside) >= 0.95


def test_calibration_is_not_smoothed_away() -> None:
    points = _points(np.random.default_rng(2), 1.2, 40)
    trace = reckon_run(_record(points)).trace
    assert np.nanmin(trace.depth_band_m) >= 0.05 * 1.2 * 0.9 + 0.05  # 5 % and 50 mm at least


def test_neighbour_shows_where_it_runs_and_widens_the_band_there() -> None:
    result = reckon_run(_record(_points(np.random.default_rng(4), 1.0, 20, neighbour=-0.6)))
    codes = [[d.code for d in p.doubts] for p in result.points]
    assert not any(codes[:10])
    assert all(codes[10:])
    half = len(result.trace.x_m) // 2
    assert result.trace.position_band_m[half + 2 :].min() > 1.5 * np.median(result.trace.position_band_m[: half - 2])
    inside = np.abs(result.trace.depth_m[half + 2 :] - 1.0) <= result.trace.depth_band_m[half + 2 :]
    assert inside.mean() >= 0.9


def test_unsealed_run_claims_level_d_and_doubt_costs_level_b() -> None:
    points = _points(np.random.default_rng(4), 1.0, 20, neighbour=-0.6)
    result = reckon_run(_record(points, surveyed=True, interpreted=True))
    assert {s.quality.claim for s in result.quality} == {QualityLevel.D}
    assert result.quality[0].quality.supports is QualityLevel.B
    assert result.quality[-1].quality.supports is QualityLevel.D
    first_doubted = next(s for s in result.quality if s.quality.supports is QualityLevel.D)
    # the neighbour begins at 20 m; the depth jumps between 18 and 20 m, so the mark at 18 m is doubted too
    assert first_doubted.from_m == pytest.approx(16.0, abs=0.5)
    assert result.quality[0].from_m == 0.0
    assert result.quality[-1].to_m == pytest.approx(result.trace.length_m)


def test_exposure_fixes_the_depth_and_proves_its_own_length() -> None:
    points = list(_points(np.random.default_rng(6), 1.0, 10))
    points[5] = replace(points[5], exposure=Exposure(0.93, 0.02, 0.03, target_verified=True))
    record = _record(
        tuple(points), surveyed=True, interpreted=True, outside_diameter_m=0.10, sealed_by="P. E. Example"
    )
    result = reckon_run(record)
    at = result.trace.source.tolist().index(5)
    assert result.trace.depth_m[at] == pytest.approx(0.98, abs=0.03)
    assert result.trace.depth_band_m[at] < 0.06 < result.trace.depth_band_m[at + 1]
    proved = [s for s in result.quality if s.quality.claim is QualityLevel.A]
    assert sum(s.to_m - s.from_m for s in proved) == pytest.approx(1.0, abs=0.01)


def test_over_range_and_passive_readings_give_no_depth() -> None:
    points = _points(np.random.default_rng(7), 1.0, 4)
    loud = tuple(replace(p, reading=replace(p.reading, signal=100.0)) for p in points)
    receiver = replace(RECEIVER, full_scale=100.0)
    result = reckon_run(_record(loud, receiver=receiver))
    assert all(p.depth is None and p.worst is Grade.STRONG for p in result.points)
    passive = reckon_run(_record(points, methods=frozenset({Method.PASSIVE_POWER})))
    assert all(p.depth is None for p in passive.points)
    assert np.isnan(passive.trace.depth_m).all()
    assert any("no dependable depth" in c for c in passive.cautions)


def test_induction_too_close_is_named_only_near_the_transmitter() -> None:
    points = _points(np.random.default_rng(8), 1.0, 12)
    record = _record(points, methods=frozenset({Method.INDUCTION}), transmitter=Transmitter(0.0, 0.0))
    near = ["transmitter_beside_receiver" in [d.code for d in p.doubts] for p in reckon_run(record).points]
    assert near == [True, True] + [False] * 10
    strong = replace(record, transmitter=Transmitter(0.0, 0.0, moment_a_m2=10.0, current_a=0.01))
    far = ["transmitter_too_close_for_depth" in [d.code for d in p.doubts] for p in reckon_run(strong).points]
    assert far[:9] == [True] * 9
    assert far[10:] == [False, False]  # 19.1 m by the cube-root law
    direct = replace(record, methods=frozenset({Method.DIRECT}))
    assert not any("transmitter" in d.code for p in reckon_run(direct).points for d in p.doubts)


def test_sonde_run_uses_the_sondes_formulas() -> None:
    """A sonde in a sloping pipe, read with nulls, peak and two antennas: depth in the band, no doubts."""
    rng = np.random.default_rng(9)
    points = []
    truth = []
    for i in range(8):
        depth = 1.0 + 0.02 * 3.0 * i
        marks = read_sonde(3.0 * i, depth, -math.degrees(math.atan(0.02)), rng)
        fix = sonde.fix_from_marks(marks.rear, marks.front, marks.peak, mark_sigma_m=0.015)
        reading = LineReading(bottom_nt=marks.two_antennas[0], top_nt=marks.two_antennas[1])
        points.append(PointRecord(3.0 * i, 0.0, 0.05, reading, sonde=fix))
        truth.append(depth)
    result = reckon_run(_record(tuple(points), methods=frozenset({Method.SONDE})))
    for point, depth in zip(result.points, truth, strict=True):
        assert point.depth is not None
        assert point.depth.shallowest_m <= depth <= point.depth.deepest_m
        assert not point.doubts
    assert result.trace.depth_m == pytest.approx(truth, abs=0.08)


def test_a_sonde_without_nulls_has_the_depth_shown_with_the_band_of_one_method() -> None:
    shown = [PointRecord(3.0 * i, 0.0, 0.05, LineReading(two_antenna_m=1.0)) for i in range(3)]
    foot = PointRecord(9.0, 0.0, 0.05, LineReading(two_antenna_m=0.1))
    result = reckon_run(_record((*shown, foot), methods=frozenset({Method.SONDE})))
    for point in result.points[:3]:
        assert point.depth is not None
        assert point.depth.depth_m == pytest.approx(1.0 - RECEIVER.antenna_height_m)
        assert point.depth.half_band_m >= 0.5
    assert result.points[3].depth is None
    assert [d.code for d in result.points[3].doubts] == ["sonde_at_the_foot"]


def test_sonde_shown_with_the_line_setting_is_caught() -> None:
    marks = read_sonde(0.0, 1.0, 0.0, None)
    fix = sonde.fix_from_marks(marks.rear, marks.front, marks.peak)
    wrong = LineReading(two_antenna_m=0.229)
    points = tuple(PointRecord(3.0 * i, 0.0, 0.05, wrong, sonde=replace(fix, x_m=3.0 * i)) for i in range(3))
    result = reckon_run(_record(points, methods=frozenset({Method.SONDE})))
    assert [p.worst for p in result.points] == [Grade.STRONG] * 3
    assert all(p.depth is not None and p.depth.deepest_m >= 1.0 for p in result.points)


def test_from_marks_to_hand_digging() -> None:
    """The whole way: a run, its zone in the dig area, its crossing of the trench with a depth band."""
    result = reckon_run(_record(_points(np.random.default_rng(10), 1.1, 12)))
    rule = ZoneRule(18.0)
    plan = hand_dig_plan(box(5, -4, 15, 4), [result.line], rule)
    assert plan.union.covers(Point(10, 0.45))
    (found,) = crossings(LineString([(10, -4), (10, 4)]), 0.9, 1.0, [result.line], rule)
    assert found.relation is Relation.INTO_BAND
    assert found.depth_band_m is not None
    assert found.depth_band_m[0] < 1.1 < found.depth_band_m[1]
    assert found.hand_to_m - found.hand_from_m > 2 * 18 * 0.0254


def test_set_aside_points_are_spoken_of() -> None:
    points = list(_points(np.random.default_rng(11), 1.0, 12))
    points[6] = replace(points[6], y_m=points[6].y_m + 3.0)
    result = reckon_run(_record(tuple(points)))
    assert result.cautions[0].startswith("Point 7: its position lies")
    assert len(result.points) == 12
    assert len(result.trace.x_m) == 11


@pytest.mark.parametrize("count", [0, 1])
def test_runs_of_too_few_points_are_refused(count: int) -> None:
    with pytest.raises(GroundError) as refusal:
        reckon_run(_record(tuple(PointRecord(0.0, 0.0, 0.1) for _ in range(count))))
    assert refusal.value.code == "too_few_points"


def test_exposure_must_have_sizes() -> None:
    with pytest.raises(GroundError, match="depth_to_top_m"):
        Exposure(0.0, 0.02, 0.03, target_verified=True)


def test_run_without_any_depth_still_has_a_course() -> None:
    points = tuple(PointRecord(2.0 * i, 0.0, 0.1) for i in range(5))
    result = reckon_run(_record(points, receiver=Receiver()))
    assert result.trace.length_m == pytest.approx(8.0)
    assert result.trace.depth_at(4.0) is None
