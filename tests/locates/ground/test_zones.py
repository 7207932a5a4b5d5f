"""Tolerance zones: the guideline's widths, the locate's own band, and what a dig area cuts out of them.

Widths: 18 in from each outer edge as the CGA best practice has it (adopted text read at a state's one-call
centre): a 12 in pipe takes 48 in, an unknown width 36 in about the mark, a 30 in corridor 66 in.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box

from locates.ground.lengths import INCH_M
from locates.ground.refusal import GroundError
from locates.ground.trace import TracePoint, fit_trace
from locates.ground.zones import GroundLine, MeasuredFrom, ZoneRule, hand_dig_plan, legal_half_width_m, zone

EIGHTEEN = ZoneRule(18.0)
STRAIGHT = LineString([(0, 0), (20, 0)])


def _marked(**given: float | None) -> GroundLine:
    return GroundLine("g1", "gas 1", marks=STRAIGHT, **given)  # type: ignore[arg-type]


def _traced(**more: float) -> GroundLine:
    points = [TracePoint(float(x), 0.0, 1.0) for x in range(0, 21, 2)]
    return GroundLine("p1", "private power", trace=fit_trace(points, **more))


@pytest.mark.parametrize(
    ("line", "width_in"),
    [
        (_marked(outside_diameter_m=12 * INCH_M), 48.0),
        (_marked(), 36.0),
        (_marked(width_m=30 * INCH_M), 66.0),
    ],
)
def test_legal_width_of_the_guideline(line: GroundLine, width_in: float) -> None:
    assert 2 * legal_half_width_m(EIGHTEEN, line) == pytest.approx(width_in * INCH_M)


@pytest.mark.parametrize("measured_from", list(MeasuredFrom))
def test_known_diameter_is_added_whatever_the_state_measures_from(measured_from: MeasuredFrom) -> None:
    rule = ZoneRule(24.0, measured_from)
    assert legal_half_width_m(rule, _marked(outside_diameter_m=8 * INCH_M)) == pytest.approx(28 * INCH_M)


def test_polygon_is_as_wide_as_the_law_and_hand_digging_wider_by_the_band() -> None:
    line = _marked(outside_diameter_m=12 * INCH_M, marks_band_m=0.25)
    legal, wide = zone(EIGHTEEN, line)
    half = 24 * INCH_M
    for polygon, edge in ((legal, half), (wide, half + 0.25)):
        assert polygon.contains(Point(10, edge - 1e-6))
        assert not polygon.contains(Point(10, edge * 1.003))
    assert wide.covers(legal)


def test_traced_line_carries_its_own_band() -> None:
    sure, unsure = _traced(), _traced(common_sigma_m=0.5)
    assert zone(EIGHTEEN, unsure)[1].area > zone(EIGHTEEN, sure)[1].area
    assert zone(EIGHTEEN, unsure)[0].area == pytest.approx(zone(EIGHTEEN, sure)[0].area, rel=1e-6)


@settings(max_examples=40)
@given(st.floats(6.0, 60.0), st.floats(0.0, 0.6), st.integers(0, 10_000))
def test_no_point_within_reach_of_the_line_is_left_out(inches: float, common: float, seed: int) -> None:
    """Round ends, thinning and the rounding of bands may only ever widen a zone."""
    rng = np.random.default_rng(seed)
    heading = np.cumsum(rng.normal(0.0, 0.08, 25)) + (np.arange(25) > 12) * rng.uniform(-1.5, 1.5)
    spots = np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]) * rng.uniform(1.0, 2.0, (25, 1)), axis=0)
    trace = fit_trace([TracePoint(float(x), float(y)) for x, y in spots], common_sigma_m=common)
    line = GroundLine("t", "trace", trace=trace)
    rule = ZoneRule(inches)
    legal, wide = zone(rule, line)
    reach = legal_half_width_m(rule, line)
    for chainage in rng.uniform(0.0, trace.length_m, 20):
        x, y = trace.at(float(chainage))
        angle = rng.uniform(0.0, 2.0 * np.pi)
        assert legal.covers(Point(x + reach * np.cos(angle), y + reach * np.sin(angle)))
        band = min(trace.position_band_m)
        assert wide.covers(Point(x + (reach + band) * np.cos(angle), y + (reach + band) * np.sin(angle)))
    assert wide.buffer(1e-9).covers(legal)


def test_plan_of_a_dig_area() -> None:
    area = box(5, -5, 15, 5)
    plan = hand_dig_plan(area, [_marked(outside_diameter_m=0.3), _traced()], EIGHTEEN)
    first, second = plan.zones
    assert first.area_m2 == pytest.approx(10 * 2 * (0.15 + 18 * INCH_M), rel=0.01)
    assert second.area_m2 > 10 * 2 * 18 * INCH_M
    assert plan.share == pytest.approx(plan.union.area / 100.0)
    assert plan.union.area < first.area_m2 + second.area_m2  # one over the other counts once
    assert any("size is unknown" in c for c in second.cautions)
    assert any("never permits machine digging" in c for c in first.cautions)
    assert any("never clear" in c for c in plan.cautions)


def test_line_away_from_the_area_asks_for_nothing() -> None:
    plan = hand_dig_plan(box(5, 50, 15, 60), [_marked(), _traced()], EIGHTEEN)
    assert plan.union.is_empty
    assert plan.share == 0.0


def test_unmarked_stretch_is_wider_and_says_so() -> None:
    points = [TracePoint(x, 0.0, 1.0) for x in (0.0, 2.0, 4.0, 6.0, 36.0, 38.0, 40.0, 42.0)]
    line = GroundLine("s1", "sewer", trace=fit_trace(points))
    wide = zone(EIGHTEEN, line)[1]
    assert wide.covers(Point(20, 18 * INCH_M + 1.0))
    assert not wide.covers(Point(3, 18 * INCH_M + 1.0))
    assert any("assumed" in c for c in hand_dig_plan(box(0, -5, 40, 5), [line], EIGHTEEN).zones[0].cautions)


@pytest.mark.parametrize(
    "area", [Polygon([(0, 0), (4, 4), (4, 0), (0, 4)]), Polygon(), Polygon([(0, 0), (1, 0), (2, 0)])]
)
def test_areas_that_are_no_outline_are_refused(area: Polygon) -> None:
    with pytest.raises(GroundError) as refusal:
        hand_dig_plan(area, [_marked()], EIGHTEEN)
    assert refusal.value.code == "area_not_valid"


def test_line_needs_exactly_one_geometry_and_a_rule_a_width() -> None:
    with pytest.raises(GroundError, match="either"):
        GroundLine("x", "x")
    with pytest.raises(GroundError, match="zone_in"):
        ZoneRule(0.0)
