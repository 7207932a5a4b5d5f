"""Feet and inches as the trade reads them; the two feet told apart (85 FR 62698)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from locates.ground.entry import parse_length_m
from locates.ground.lengths import FOOT_M, SURVEY_FOOT_M, LengthUnit, feet_inches, from_metres, primes, to_metres


@pytest.mark.parametrize(
    ("metres", "part", "words"),
    [
        (1.0668, 1, "3 ft 6 in"),
        (0.2032, 1, "8 in"),
        (0.9144, 1, "3 ft"),
        (0.0, 1, "0 in"),
        (-0.3048, 1, "-1 ft"),
        (0.3047, 1, "1 ft"),
        (0.0127, 2, "1/2 in"),
        (1.0795, 2, "3 ft 6 1/2 in"),
        (0.0159, 8, "5/8 in"),
        (-0.001, 1, "0 in"),
    ],
)
def test_feet_and_inches(metres: float, part: int, words: str) -> None:
    assert feet_inches(metres, part) == words


@pytest.mark.parametrize(
    ("metres", "words"),
    [(1.0668, "3′6″"), (0.2032, "8″"), (1.2192, "4′0″"), (0.0, "0″"), (0.3047, "1′0″"), (-0.1, "0″")],
)
def test_feet_and_inches_on_a_drawing(metres: float, words: str) -> None:
    assert primes(metres) == words


@given(st.integers(0, 600), st.sampled_from([1, 2, 4, 8, 16]))
def test_words_read_back_as_the_same_length(inches: int, part: int) -> None:
    metres = (inches + (part > 1) / part) * 0.0254
    assert parse_length_m(feet_inches(metres, part), LengthUnit.FOOT) == pytest.approx(metres, abs=1e-9)


def test_survey_foot_is_longer_by_two_parts_in_a_million() -> None:
    assert pytest.approx(2e-6, rel=1e-5) == SURVEY_FOOT_M / FOOT_M - 1
    assert to_metres(3937, LengthUnit.SURVEY_FOOT) == pytest.approx(1200, rel=1e-15)


@given(st.floats(-1e6, 1e6), st.sampled_from(list(LengthUnit)))
def test_units_come_back(value: float, unit: LengthUnit) -> None:
    assert from_metres(to_metres(value, unit), unit) == pytest.approx(value, abs=1e-9)
