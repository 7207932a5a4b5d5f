"""What may be typed: each kind of bad input caught with a plain message and a way to correct it."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from locates.ground import entry
from locates.ground.lengths import FOOT_M, LengthUnit
from locates.ground.refusal import GroundError

FOOT, INCH, METRE = LengthUnit.FOOT, LengthUnit.INCH, LengthUnit.METRE


@pytest.mark.parametrize(
    ("text", "unit", "metres"),
    [
        ("3 ft 6 in", METRE, 1.0668),
        ("3'6\"", METRE, 1.0668),
        ("3' 6 1/2\"", METRE, 1.0795),
        ("3 feet", METRE, 0.9144),
        ("3 1/2 ft", METRE, 1.0668),
        ("1/2 in", METRE, 0.0127),
        ("42 in", FOOT, 1.0668),
        ("107 cm", FOOT, 1.07),
        ("1.07 m", FOOT, 1.07),
        ("3.5", FOOT, 1.0668),
        (" 42 ", INCH, 1.0668),
    ],
)
def test_lengths_as_crews_write_them(text: str, unit: LengthUnit, metres: float) -> None:
    assert entry.parse_length_m(text, unit) == pytest.approx(metres)


def _refusal(text: str, unit: LengthUnit = FOOT, neighbours: tuple[float, ...] = ()) -> GroundError:
    with pytest.raises(GroundError) as refusal:
        entry.parse_depth_m(text, unit, neighbours, where="row 7, column depth")
    assert refusal.value.message.startswith("row 7, column depth: ")
    assert "depth_m" in refusal.value.fields
    return refusal.value


@pytest.mark.parametrize("text", ["9999", "999.9", "OL", "over", "----"])
def test_over_range_is_no_depth(text: str) -> None:
    refusal = _refusal(text)
    assert refusal.code == "over_range"
    assert "read again" in refusal.message


@pytest.mark.parametrize("text", ["0", "-2", "-2 ft"])
def test_depth_must_lie_below_ground(text: str) -> None:
    assert _refusal(text).code == "depth_not_below_ground"


def test_negative_depth_offers_its_size() -> None:
    assert _refusal("-2").correction == {"depth_m": pytest.approx(0.6096)}


@pytest.mark.parametrize(
    ("text", "unit", "neighbours", "fixed"),
    [
        ("42", FOOT, (), 42 * 0.0254),
        ("36 ft", INCH, (), 36 * 0.0254),
        ("3", INCH, (0.9, 1.0, 0.95), 3 * FOOT_M),
        ("28", FOOT, (0.7,), 28 * 0.0254),
    ],
)
def test_feet_typed_for_inches_and_back(
    text: str, unit: LengthUnit, neighbours: tuple[float, ...], fixed: float
) -> None:
    refusal = _refusal(text, unit, neighbours)
    assert refusal.code == "feet_for_inches"
    assert "Did you mean" in refusal.message
    assert refusal.correction == {"depth_m": pytest.approx(fixed)}
    assert entry.check_depth_m(fixed, neighbours_m=neighbours) == fixed  # the way to correct is a way


def test_a_real_step_in_depth_is_not_taken_for_a_slip() -> None:
    assert entry.parse_depth_m("5", FOOT, (0.6, 0.65)) == pytest.approx(1.524)
    assert entry.parse_depth_m("8", INCH, (0.6, 0.65)) == pytest.approx(0.2032)


@pytest.mark.parametrize(
    ("text", "code"),
    [("three", "not_a_length"), ("", "not_a_length"), ("3 ft 14 in", "inches_too_many"), ("40 m", "depth_too_deep")],
)
def test_other_slips(text: str, code: str) -> None:
    assert _refusal(text).code == code


@given(st.floats(0.16, 8.9))
def test_plain_depths_in_metres_pass_unchanged(depth: float) -> None:
    assert entry.check_depth_m(depth) == depth


@given(st.floats() | st.just(float("nan")))
def test_nothing_but_a_plausible_depth_ever_passes(depth: float) -> None:
    with contextlib.suppress(GroundError):
        assert 0 < entry.check_depth_m(depth) <= entry.DEEPEST_M


@pytest.mark.parametrize(
    ("given_position", "corrected"),
    [((-75.2, 39.9), (39.9, -75.2)), ((39.9, 75.2), (39.9, -75.2)), ((75.2, 39.9), (39.9, -75.2))],
)
def test_swapped_and_unsigned_positions(given_position: tuple[float, float], corrected: tuple[float, float]) -> None:
    with pytest.raises(GroundError) as refusal:
        entry.check_position(*given_position)
    assert refusal.value.code == "position_swapped"
    assert refusal.value.correction == {"latitude": corrected[0], "longitude": corrected[1]}
    assert entry.check_position(*corrected) == corrected


@pytest.mark.parametrize("position", [(0.0, 0.0), (48.8, 2.3), (float("nan"), -75.0), (39.9, -750.0)])
def test_positions_elsewhere_are_refused_without_a_guess(position: tuple[float, float]) -> None:
    with pytest.raises(GroundError) as refusal:
        entry.check_position(*position)
    assert refusal.value.code == "position_outside"
    assert not refusal.value.correction


@given(st.floats(24.6, 49.3), st.floats(-124.5, -67.1))
def test_swap_is_always_undone(latitude: float, longitude: float) -> None:
    """Any place in the contiguous states, swapped: the offered correction is the place."""
    with pytest.raises(GroundError) as refusal:
        entry.check_position(longitude, latitude)
    assert refusal.value.correction == {"latitude": latitude, "longitude": longitude}


def test_jump_of_300_metres() -> None:
    assert entry.check_jump(12.0) == 12.0
    for distance in (300.0, 4_000.0, float("nan"), -1.0):
        with pytest.raises(GroundError) as refusal:
            entry.check_jump(distance, where="row 9")
        assert refusal.value.code == "position_jump"
        assert refusal.value.message.startswith("row 9: ")
        assert "new_run" in refusal.value.correction


def test_frequency_must_be_the_devices_own() -> None:
    own = (512.0, 8192.0, 32768.0)
    assert entry.check_frequency_hz(32770.0, own) == 32768.0
    for typed, offered in ((33.0, 32768.0), (9000.0, 8192.0), (0.0, 512.0), (float("nan"), 512.0)):
        with pytest.raises(GroundError) as refusal:
            entry.check_frequency_hz(typed, own, "transmitter")
        assert refusal.value.code == "frequency_missing"
        assert refusal.value.correction == {"frequency_hz": offered}
    with pytest.raises(GroundError) as empty:
        entry.check_frequency_hz(512.0, ())
    assert empty.value.code == "frequencies_unknown"
