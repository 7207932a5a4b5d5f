"""One depth from all readings: does the stated band hold, on ground the code under test did not make?

A thousand seeded points by the independent field model: 400 over one conductor alone, 600 over a target with
one or two neighbours whose currents flow either way. Points where the crew finds no peak, null or walk-off
within reach are not readings and are drawn again; their number is checked too, so that nothing hides there.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from locates.ground import line
from locates.ground.caution import DEPTH_IS_NOT_PERMISSION
from locates.ground.depth import Checked, DepthMethod, combined_depth, estimates
from locates.ground.doubt import point_doubts
from locates.ground.line import Antenna
from locates.ground.reading import LineReading, Receiver, WidthReading
from locates.ground.refusal import GroundError
from tests.locates.ground.synthetic_ground import RECEIVER, LineCase, clean_ground, crowded_ground, read_line


@pytest.fixture(scope="module")
def thousand() -> tuple[list[LineCase], list[LineCase], int]:
    """400 clean cases, 600 crowded ones, and how many crowded points could not be read at all."""
    rng = np.random.default_rng(20260916)
    clean = [case for _ in range(400) if (case := read_line(clean_ground(rng), rng))]
    crowded: list[LineCase] = []
    unreadable = 0
    while len(crowded) < 600:
        case = read_line(crowded_ground(rng), rng)
        if case is None:
            unreadable += 1
        else:
            crowded.append(case)
    return clean, crowded, unreadable


def _inside(cases: list[LineCase]) -> float:
    depths = [(combined_depth(c.reading, RECEIVER), c.depth_m) for c in cases]
    return float(np.mean([d.shallowest_m <= true <= d.deepest_m for d, true in depths]))


def test_true_depth_lies_in_the_stated_band_in_95_percent(
    thousand: tuple[list[LineCase], list[LineCase], int],
) -> None:
    clean, crowded, _ = thousand
    assert len(clean) == 400  # a lone line can always be read
    assert _inside(clean + crowded) >= 0.95
    assert _inside(clean) >= 0.95
    assert _inside([c for c in crowded if c.distorted]) >= 0.95


SIDES = {"left_45_at_m": None, "right_45_at_m": None}
LIFT = {"lift_m": None, "lifted_m": None}
GAP = {"peak_at_m": None, "null_at_m": None}


@pytest.mark.parametrize(
    "left_out",
    [
        LIFT | {"widths": ()},
        LIFT | SIDES,
        LIFT | SIDES | {"widths": ()},
        LIFT | SIDES | GAP,
        LIFT | SIDES | GAP | {"widths": ()},
    ],
    ids=["no width, no lift", "no 45 degrees", "two antennas, peak and null", "two methods", "two antennas alone"],
)
def test_band_holds_whatever_the_crew_left_out(
    thousand: tuple[list[LineCase], list[LineCase], int], left_out: dict[str, object]
) -> None:
    """Fewer readings, wider band: over clean and crowded ground together the truth lies inside in about 95 %."""
    clean, crowded, _ = thousand
    fewer = [replace(c, reading=replace(c.reading, **left_out)) for c in clean + crowded]
    assert _inside(fewer) >= 0.94


def test_band_of_a_clean_point_is_of_use(thousand: tuple[list[LineCase], list[LineCase], int]) -> None:
    """A band that holds because it is as wide as the trench would prove nothing."""
    clean, crowded, _ = thousand
    shares = [combined_depth(c.reading, RECEIVER).half_band_m / c.depth_m for c in clean]
    assert np.median(shares) < 0.20
    bent = [combined_depth(c.reading, RECEIVER).half_band_m / c.depth_m for c in crowded if c.distorted]
    assert np.median(bent) > 2 * np.median(shares)


def test_distortion_is_flagged_and_clean_ground_is_not(
    thousand: tuple[list[LineCase], list[LineCase], int],
) -> None:
    """At least 90 % of the distorted flagged, at most 5 % of the clean."""
    clean, crowded, unreadable = thousand
    distorted = [c for c in crowded if c.distorted]
    assert len(distorted) > 300
    assert np.mean([bool(point_doubts(c.reading, RECEIVER)) for c in distorted]) >= 0.90
    assert np.mean([bool(point_doubts(c.reading, RECEIVER)) for c in clean]) <= 0.05
    assert unreadable < 0.25 * (600 + unreadable)


def test_readings_on_a_clean_line_agree_to_the_millimetre_without_noise() -> None:
    case = read_line(clean_ground(np.random.default_rng(3)), None)
    assert case is not None
    for estimate in estimates(case.reading, RECEIVER):
        assert estimate.depth_m == pytest.approx(case.depth_m, rel=2e-3), estimate.method
    assert not point_doubts(case.reading, RECEIVER)


def test_one_reading_alone_has_the_wide_band_of_a_single_method() -> None:
    depth = combined_depth(LineReading(two_antenna_m=1.0), Receiver())
    assert depth.checked is Checked.NOT
    assert depth.half_band_m > 0.50
    assert depth.cautions == (DEPTH_IS_NOT_PERMISSION,)


def test_two_methods_that_agree_narrow_the_band_and_the_full_set_more() -> None:
    width = WidthReading(1.0, 0.8)
    two = combined_depth(LineReading(two_antenna_m=1.0, widths=(width,)), Receiver())
    full = combined_depth(
        LineReading(two_antenna_m=1.0, peak_at_m=0.0, null_at_m=0.0, left_45_at_m=-1.0, right_45_at_m=1.0),
        Receiver(),
    )
    assert two.checked is Checked.TWO_METHODS
    assert full.checked is Checked.FULL
    assert 0.25 < two.half_band_m < 0.40
    assert full.half_band_m < two.half_band_m


def test_calibration_allowance_is_in_every_band() -> None:
    """5 % of the depth and 50 mm, the register's own limit on a known line, at two standard deviations."""
    reading = LineReading(two_antenna_m=2.0, peak_at_m=0.0, null_at_m=0.0, left_45_at_m=-2.0, right_45_at_m=2.0)
    sure = Receiver(channel_error=1e-6, mark_sigma_m=1e-6, tilt_sigma_deg=0.0)
    assert combined_depth(reading, sure).half_band_m == pytest.approx(0.05 * 2.0 + 0.05, rel=1e-4)
    proved = replace(sure, calibration_share=0.0, calibration_m=0.0)
    assert combined_depth(reading, proved).half_band_m < 1e-4


def test_scatter_beyond_the_errors_widens_the_random_part() -> None:
    """Birge's ratio: two depths four combined sigmas apart have four times the random error of two alike."""
    sure = Receiver(channel_error=0.002, mark_sigma_m=0.005, tilt_sigma_deg=0.0)

    def random_sigma(width_m: float) -> float:
        reading = LineReading(two_antenna_m=1.0, widths=(WidthReading(width_m, 0.8),))
        return combined_depth(reading, sure).random_sigma_m

    first, second = estimates(LineReading(two_antenna_m=1.0, widths=(WidthReading(1.0, 0.8),)), sure)
    apart = 4.0 * math.hypot(first.sigma_m, second.sigma_m)
    assert random_sigma(1.0 + apart) == pytest.approx(4.0 * random_sigma(1.0), rel=0.02)


def test_a_lift_is_no_second_method() -> None:
    depth = combined_depth(LineReading(two_antenna_m=1.0, lift_m=0.5, lifted_m=1.5), Receiver())
    assert depth.checked is Checked.NOT


def test_disagreement_widens_the_band_past_itself() -> None:
    reading = LineReading(two_antenna_m=1.0, widths=(WidthReading(1.4, 0.8),))
    depth = combined_depth(reading, Receiver())
    assert depth.half_band_m > 0.4
    assert {e.method for e in depth.estimates} == {DepthMethod.TWO_ANTENNAS, DepthMethod.WIDTH}


def test_antenna_height_comes_off_and_may_not_exceed_the_depth() -> None:
    receiver = Receiver(antenna_height_m=0.08)
    assert combined_depth(LineReading(two_antenna_m=1.0), receiver).depth_m == pytest.approx(0.92)
    with pytest.raises(GroundError) as refusal:
        combined_depth(LineReading(two_antenna_m=0.05), receiver)
    assert refusal.value.code == "above_ground"


def test_no_reading_no_depth() -> None:
    with pytest.raises(GroundError) as refusal:
        combined_depth(LineReading(peak_at_m=0.0, null_at_m=0.0), Receiver())
    assert refusal.value.code == "no_depth_reading"


@given(st.floats(0.3, 3.0), st.floats(0.1, 0.8), st.floats(0.3, 0.9), st.booleans())
def test_consistent_readings_give_the_depth_they_came_from(
    depth: float, spacing: float, share: float, difference: bool
) -> None:
    receiver = replace(Receiver(), spacing_m=spacing)
    factor = line.difference_width_factor(share, spacing / depth) if difference else line.width_factor(share)
    antenna = Antenna.DIFFERENCE if difference else Antenna.SINGLE
    found = combined_depth(
        LineReading(
            bottom_nt=line.horizontal_field_nt(0.05, depth),
            top_nt=line.horizontal_field_nt(0.05, depth + spacing),
            null_at_m=2.0,
            left_45_at_m=2.0 - depth,
            right_45_at_m=2.0 + depth,
            peak_at_m=2.0,
            widths=(WidthReading(factor * depth, share, antenna),),
        ),
        receiver,
    )
    assert found.depth_m == pytest.approx(depth, rel=1e-6)
    assert found.shallowest_m < depth < found.deepest_m
    assert found.distortion_sigma_m == pytest.approx(0.0, abs=1e-6)


@given(st.floats(0.3, 3.0), st.floats(0.0, 0.5))
def test_more_distortion_never_narrows_the_band(depth: float, gap_share: float) -> None:
    def band(gap: float) -> float:
        reading = LineReading(
            two_antenna_m=depth, peak_at_m=0.0, null_at_m=gap, left_45_at_m=gap - depth, right_45_at_m=gap + depth
        )
        return combined_depth(reading, Receiver()).half_band_m

    assert band(gap_share * depth) >= band(0.0) - 1e-12


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"bottom_nt": 10.0}, "one_antenna_only"),
        ({"left_45_at_m": -1.0}, "null_missing"),
        ({"null_at_m": 0.0, "left_45_at_m": 1.0, "right_45_at_m": -1.0}, "sides_swapped"),
        ({"two_antenna_m": -1.0}, "not_positive"),
        ({"current_a": 0.0}, "not_positive"),
    ],
)
def test_readings_that_cannot_be_are_refused(fields: dict[str, float], code: str) -> None:
    with pytest.raises(GroundError) as refusal:
        LineReading(**fields)  # type: ignore[arg-type]
    assert refusal.value.code == code
