"""Named doubts: the published table of a distorted field, each warning by itself, and its figure.

The table (second current beta at offset a, both 1 m deep, s = 0.4 m) was reckoned by a bounded search and by
magpylib; here the readings come from the independent model and the CODE must read them off alike.
"""

from __future__ import annotations

import pytest

from locates.ground.depth import two_antenna
from locates.ground.doubt import (
    Grade,
    Limits,
    likely_offset_m,
    point_doubts,
    transmitter_doubts,
)
from locates.ground.reading import LineReading, Receiver
from tests.locates.ground.synthetic_ground import LIFT_M, RECEIVER, Conductor, LineCase, read_line

TABLE = [
    # beta, a, peak, null, depth at the peak, 45 left, 45 right, lift test
    (-0.2, 0.5, -0.0654892, -0.0880695, 0.927959, 0.982586, 0.874631, 0.934006),
    (-0.2, 1.0, -0.0478317, -0.100549, 0.886835, 0.988182, 0.756713, 0.858409),
    (-0.2, 2.0, -0.0157337, -0.0786169, 0.912971, 1.007819, 0.811234, 0.839984),
    (-0.5, 1.0, -0.113825, -0.259921, 0.718802, 1.009610, 0.609292, 0.600725),
    (0.2, 1.0, 0.0529342, 0.100446, 1.113752, 1.027320, 1.232888, 1.117058),
    (0.5, 1.0, 0.149698, 0.255125, 1.284520, 1.092382, 1.311486, 1.246154),
    (0.5, 0.5, 0.145822, 0.157175, 1.093773, 1.040168, 1.068032, 1.066060),
    (-1.0, 5.0, -0.0073663, -0.192582, 0.885921, 1.179699, 0.820301, 0.713220),
]


def _case(beta: float, a: float) -> LineCase:
    case = read_line((Conductor(0.0, 1.0, 0.1), Conductor(a, 1.0, 0.1 * beta)), None)
    assert case is not None
    return case


@pytest.mark.parametrize(("beta", "a", "peak", "null", "depth", "left", "right", "lift"), TABLE)
def test_distorted_field_table(
    beta: float, a: float, peak: float, null: float, depth: float, left: float, right: float, lift: float
) -> None:
    reading = _case(beta, a).reading
    assert reading.peak_at_m == pytest.approx(peak, abs=2e-4)
    assert reading.null_at_m == pytest.approx(null, abs=2e-4)
    assert two_antenna(reading, RECEIVER) == pytest.approx(depth, abs=2e-4)
    assert reading.left_45_m == pytest.approx(left, abs=4e-4)
    assert reading.right_45_m == pytest.approx(right, abs=4e-4)
    assert reading.lifted_m is not None
    assert reading.lifted_m - LIFT_M == pytest.approx(lift, abs=2e-4)


@pytest.mark.parametrize(("beta", "a"), [(b, a) for b, a, *_ in TABLE if (b, a) != (0.5, 0.5)])
def test_every_bent_row_is_flagged_by_a_careful_crew(beta: float, a: float) -> None:
    """With marks good to 5 mm and steady angles every row but the two merged lines betrays itself."""
    careful = Receiver(spacing_m=0.4, channel_error=0.002, mark_sigma_m=0.005, tilt_sigma_deg=0.3)
    assert point_doubts(_case(beta, a).reading, careful)


def test_two_lines_that_merge_pass_the_tests_and_the_band_still_holds_the_truth() -> None:
    """Same-way current half a depth away looks like one deeper line: no test sees it, the band must cover it."""
    from locates.ground.depth import combined_depth

    found = combined_depth(_case(0.5, 0.5).reading, RECEIVER)
    assert found.shallowest_m <= 1.0 <= found.deepest_m


def test_line_lies_beyond_the_peak_away_from_the_null() -> None:
    case = _case(-0.2, 1.0)
    hint = likely_offset_m(case.reading, neighbour_offset_m=1.0)
    assert hint is not None
    assert case.reading.peak_at_m is not None
    corrected = case.reading.peak_at_m + hint
    assert abs(corrected) < abs(case.reading.peak_at_m)
    assert likely_offset_m(LineReading(two_antenna_m=1.0)) is None


def _only(reading: LineReading, receiver: Receiver | None = None, limits: Limits | None = None) -> dict[str, Grade]:
    found = point_doubts(reading, receiver or Receiver(full_scale=100.0), limits or Limits())
    for doubt in found:
        assert doubt.figure > doubt.limit or doubt.code in ("over_range", "above_ground")
        assert doubt.message.endswith(".")
        assert doubt.remedy.endswith(".")
    return {d.code: d.grade for d in found}


@pytest.mark.parametrize(
    ("reading", "expected"),
    [
        (LineReading(two_antenna_m=1.0, peak_at_m=0.0, null_at_m=0.0), {}),
        (LineReading(two_antenna_m=1.0, peak_at_m=0.0, null_at_m=0.08), {"peak_null_apart": Grade.DOUBT}),
        (LineReading(two_antenna_m=1.0, peak_at_m=0.0, null_at_m=-0.15), {"peak_null_apart": Grade.STRONG}),
        # the same gap at 3 m is within 5 % of the depth
        (LineReading(two_antenna_m=3.0, peak_at_m=0.0, null_at_m=0.08), {}),
        (
            LineReading(null_at_m=0.0, left_45_at_m=-1.2, right_45_at_m=0.8),
            {"sides_differ": Grade.STRONG},
        ),
        (
            LineReading(two_antenna_m=1.0, null_at_m=0.0, left_45_at_m=-1.18, right_45_at_m=1.18),
            {"depths_disagree": Grade.DOUBT},
        ),
        (LineReading(two_antenna_m=1.0, lift_m=0.5, lifted_m=1.25), {"lift_differs": Grade.STRONG}),
        (LineReading(two_antenna_m=1.0, null_floor=0.10), {"null_shallow": Grade.DOUBT}),
        (LineReading(two_antenna_m=1.0, null_floor=0.25), {"null_shallow": Grade.STRONG}),
        (LineReading(two_antenna_m=1.0, signal=99.0), {"over_range": Grade.STRONG}),
        (LineReading(two_antenna_m=1.0, signal=60.0), {}),
        (LineReading(two_antenna_m=1.0, side_turned=1.4), {"rises_when_turned": Grade.STRONG}),
        (LineReading(two_antenna_m=1.0, side_turned=0.2), {}),
    ],
)
def test_each_doubt_alone(reading: LineReading, expected: dict[str, Grade]) -> None:
    assert _only(reading) == expected


def test_line_above_ground_is_named() -> None:
    assert "above_ground" in _only(LineReading(two_antenna_m=0.05), Receiver(antenna_height_m=0.1))


def test_limits_are_settings() -> None:
    reading = LineReading(two_antenna_m=1.0, peak_at_m=0.0, null_at_m=0.08)
    assert not _only(reading, limits=Limits(gap_share=0.10))


def test_out_of_step_current_leaves_a_floor_in_the_null() -> None:
    """beta = 0.2 and 0.5 at 90 degrees, a = 1 m: least vertical over peak horizontal is 0.1 and 0.25."""
    for floor, grade in ((0.100, Grade.DOUBT), (0.250, Grade.STRONG)):
        assert _only(LineReading(two_antenna_m=1.0, null_floor=floor)) == {"null_shallow": grade}


def test_transmitter_distance_says_custom_and_physics() -> None:
    """10 A m2 by induction, 10 mA on the line 1 m deep, 10 % depth error wanted: 19.1 m by the cube-root law."""
    beside = transmitter_doubts(2.0, 1.0, 0.4, 10.0, 0.010)
    assert [d.code for d in beside] == ["transmitter_beside_receiver", "transmitter_too_close_for_depth"]
    assert beside[1].limit == pytest.approx((10.0 * 1.0 / (2 * 0.010 * (0.1 / 1.4))) ** (1 / 3), rel=1e-9)
    farther = transmitter_doubts(12.0, 1.0, 0.4, 10.0, 0.010)
    assert [d.code for d in farther] == ["transmitter_too_close_for_depth"]
    assert not transmitter_doubts(20.0, 1.0, 0.4, 10.0, 0.010)
