"""Feet, inches and metres. Stored in metres, shown in feet and inches. Pure.

The international foot is 0.3048 m exactly; the US survey foot is 1200/3937 m (NIST/NGS notice
85 FR 62698, which retired the survey foot from 2023 but leaves NAD 83 state plane as it was defined).
"""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction

FOOT_M = 0.3048
INCH_M = 0.0254
SURVEY_FOOT_M = 1200.0 / 3937.0
CUBIC_YARD_M3 = 0.764554857984


class LengthUnit(StrEnum):
    """Units that a length may be typed or imported in."""

    METRE = "m"
    FOOT = "ft"
    SURVEY_FOOT = "ftUS"
    INCH = "in"

    @property
    def metres(self) -> float:
        """Length of one unit in metres."""
        return {"m": 1.0, "ft": FOOT_M, "ftUS": SURVEY_FOOT_M, "in": INCH_M}[self.value]


def to_metres(value: float, unit: LengthUnit) -> float:
    """`value` in `unit` as metres."""
    return value * unit.metres


def from_metres(value_m: float, unit: LengthUnit) -> float:
    """`value_m` metres in `unit`."""
    return value_m / unit.metres


def feet_inches(value_m: float, part: int = 1) -> str:
    """A length as the trade reads it: "3 ft 6 in", "8 in", "-1 ft".

    Rounded to 1/`part` inch (1, 2, 4, 8 or 16), halves away from zero.
    """
    if not abs(value_m) < 1e9:  # also NaN: nothing on earth is so long, but a refusal may have to name it
        return f"{value_m / FOOT_M:g} ft"
    pieces = int(abs(value_m) / INCH_M * part + 0.5)
    sign = "-" if value_m < 0 and pieces else ""
    feet, rest = divmod(pieces, 12 * part)
    whole, odd = divmod(rest, part)
    inches = str(whole) if not odd else f"{whole} {Fraction(odd, part)}".removeprefix("0 ")
    if feet and not rest:
        return f"{sign}{feet} ft"
    return f"{sign}{feet} ft {inches} in" if feet else f"{sign}{inches} in"


def primes(value_m: float) -> str:
    """A length as drawings write it, to the inch: 3′6″, 8″, 4′0″. For depths: nothing is above the ground."""
    feet, inches = divmod(max(0, round(value_m / INCH_M)), 12)
    return f"{feet}′{inches}″" if feet else f"{inches}″"
