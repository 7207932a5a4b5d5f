from __future__ import annotations

import math

import pytest

from crews.equipment.care import Tolerance
from crews.equipment.fit import Piece, misfits
from crews.equipment.known_target import judge
from crews.equipment.refusal import EquipmentError

# Common practice, no source: depth within 5 % and 50 mm of the measured depth of a known line.
DEPTH = Tolerance(0.05, 0.05, "m")


@pytest.mark.parametrize(
    ("readings", "passed", "worst"),
    [
        ([1.0, 1.02, 0.97], True, -0.03),
        ([1.1], True, 0.1),  # at the limit
        ([1.101], False, 0.101),
        ([1.0, 1.0, 0.85], False, -0.15),  # one bad reading is not averaged away
    ],
)
def test_pass_or_fail_is_computed(readings: list[float], passed: bool, worst: float) -> None:
    found = judge(1.0, readings, DEPTH)
    assert found.passed is passed
    assert found.worst == pytest.approx(worst)
    assert found.allowed == pytest.approx(0.10)


@pytest.mark.parametrize(
    ("known", "readings", "field"),
    [
        (0, [1.0], "known_value"),
        (math.nan, [1.0], "known_value"),
        (1.0, [], "readings"),
        (1.0, [math.inf], "readings"),
        (1.0, [1.0] * 51, "readings"),
    ],
)
def test_no_outcome_without_honest_readings(known: float, readings: list[float], field: str) -> None:
    with pytest.raises(EquipmentError) as refused:
        judge(known, readings, DEPTH)
    assert list(refused.value.fields) == [field]


def test_a_kit_fits_when_receiver_and_source_share_a_frequency() -> None:
    receiver = Piece("Receiver A", "receiver", frozenset({512, 8_192}))
    sonde = Piece("Sonde A", "sonde", frozenset({512}))
    assert misfits([receiver, sonde]) == ()
    assert misfits([receiver, Piece("Sonde B", "sonde", frozenset({640}))]) == (
        "Sonde B and the receiver share no frequency.",
    )
    assert "not on record" in misfits([receiver, Piece("Sonde C", "sonde")])[0]
    assert "receiver's frequencies" in misfits([Piece("R", "receiver"), sonde])[0]
    assert misfits([sonde]) == ("There is no receiver to hear with.",)
    assert misfits([Piece("Truck", "truck")]) == ()


def test_gloves_of_two_classes_are_named() -> None:
    pair = [Piece("G", "insulated_gloves", voltage_class=name) for name in ("0", "2")]
    assert "different classes (0, 2)" in misfits(pair)[0]
