"""What a trench crosses: chainage, angle, hand-dig stretch and depth band, by plane geometry done by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import LineString

from locates.ground.crossing import Meeting, Relation, crossings
from locates.ground.lengths import INCH_M
from locates.ground.trace import TracePoint, fit_trace
from locates.ground.zones import GroundLine, ZoneRule

EIGHTEEN = ZoneRule(18.0)
TRENCH = LineString([(0, 0), (30, 0)])
WIDTH = 0.9


def _line(coords: list[tuple[float, float]], **more: object) -> GroundLine:
    return GroundLine("w1", "water 1", marks=LineString(coords), **more)  # type: ignore[arg-type]


def test_square_crossing_with_known_size_and_depth() -> None:
    line = _line([(12, -10), (12, 10)], outside_diameter_m=0.2, marks_band_m=0.1, marks_depth=(1.0, 0.25))
    (found,) = crossings(TRENCH, WIDTH, 1.2, [line], EIGHTEEN)
    half = 18 * INCH_M + 0.1 + 0.1
    assert found.meeting is Meeting.CROSSES
    assert found.chainage_m == pytest.approx(12.0)
    assert found.line_chainage_m == pytest.approx(10.0)
    assert found.angle_deg == pytest.approx(90.0)
    assert found.hand_from_m == pytest.approx(12 - half, rel=2e-3)
    assert found.hand_to_m == pytest.approx(12 + half, rel=2e-3)
    assert found.depth_band_m == pytest.approx((0.65, 1.35))
    assert found.relation is Relation.INTO_BAND
    assert any("never permits machine digging" in c for c in found.cautions)


@pytest.mark.parametrize(
    ("depth", "relation"),
    [(0.6, Relation.ABOVE_BAND), (0.75, Relation.INTO_BAND), (1.3, Relation.THROUGH_BAND)],
)
def test_relation_never_says_clear(depth: float, relation: Relation) -> None:
    line = _line([(12, -10), (12, 10)], marks_depth=(1.0, 0.25))
    (found,) = crossings(TRENCH, WIDTH, depth, [line], EIGHTEEN)
    assert found.relation is relation
    assert found.hand_to_m - found.hand_from_m > 0.9  # the stretch is the same at any depth
    assert "clear" not in found.relation.value
    assert any("expose it before passing" in c for c in found.cautions)


def test_unknown_depth_is_unknown() -> None:
    (found,) = crossings(TRENCH, WIDTH, 0.3, [_line([(12, -10), (12, 10)])], EIGHTEEN)
    assert found.depth_band_m is None
    assert found.relation is Relation.UNKNOWN
    assert any("any depth" in c for c in found.cautions)


@settings(max_examples=60)
@given(st.floats(20.0, 160.0), st.floats(10.0, 20.0))
def test_skew_crossing_widens_the_stretch(angle: float, at: float) -> None:
    """A line at an angle a to a trench of width w: the stretch is 2 h / sin a + w / tan a long."""
    dx, dy = 40 * math.cos(math.radians(angle)), 40 * math.sin(math.radians(angle))
    (found,) = crossings(TRENCH, WIDTH, 1.0, [_line([(at - dx, -dy), (at + dx, dy)])], EIGHTEEN)
    acute = min(angle, 180.0 - angle)
    assume(abs(acute - 30.0) > 1e-6)
    expected = 2 * 18 * INCH_M / math.sin(math.radians(acute)) + WIDTH / math.tan(math.radians(acute))
    start, end = at - expected / 2, at + expected / 2
    assert found.chainage_m == pytest.approx(at, abs=1e-6)
    assert found.angle_deg == pytest.approx(acute, abs=1e-6)
    assert found.hand_from_m == pytest.approx(max(0.0, start), abs=0.02)
    assert found.hand_to_m == pytest.approx(min(30.0, end), abs=0.02)
    assert any("degrees only" in c for c in found.cautions) == (acute < 30.0)


def test_line_alongside_is_met_without_a_crossing() -> None:
    (found,) = crossings(TRENCH, WIDTH, 1.0, [_line([(8, 0.7), (16, 0.7)])], EIGHTEEN)
    assert found.meeting is Meeting.ALONGSIDE
    assert found.angle_deg is None
    assert found.hand_from_m == pytest.approx(8 - 0.38, abs=0.1)
    assert found.hand_to_m == pytest.approx(16 + 0.38, abs=0.1)


def test_line_out_of_reach_is_not_met() -> None:
    assert crossings(TRENCH, WIDTH, 1.0, [_line([(0, 1.0), (30, 1.0)])], EIGHTEEN) == ()


def test_several_meetings_come_in_order_with_their_own_depth() -> None:
    zigzag = [(20.0, -5.0), (20.0, 5.0), (10.0, 5.0), (10.0, -5.0)]
    points = [TracePoint(*LineString(zigzag).interpolate(d).coords[0], 0.8 + 0.02 * d) for d in range(31)]
    line = GroundLine("p1", "private power", trace=fit_trace(points))
    found = crossings(TRENCH, WIDTH, 1.0, [line, _line([(15, -5), (15, 5)])], EIGHTEEN)
    assert [c.line.key for c in found] == ["p1", "w1", "p1"]
    assert [c.chainage_m for c in found] == pytest.approx([10.0, 15.0, 20.0], abs=0.05)
    first, last = found[0].depth_band_m, found[2].depth_band_m
    assert first is not None
    assert last is not None
    assert sum(first) / 2 == pytest.approx(0.8 + 0.02 * 25, abs=0.05)
    assert sum(last) / 2 == pytest.approx(0.8 + 0.02 * 5, abs=0.05)
