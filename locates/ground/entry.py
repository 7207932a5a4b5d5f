"""What a person may type about a point: caught at entry, explained, with a way to correct. Pure.

Every refusal is a `GroundError` whose `correction` holds values that would pass, when they can be known.
`where` names the row and column of an import ("row 7, column depth") and opens the message.
The plausible ranges are settings of this module; common practice, no source.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from statistics import median

from locates.ground.lengths import FOOT_M, INCH_M, LengthUnit, feet_inches, from_metres, to_metres
from locates.ground.refusal import GroundError

DEEPEST_M = 9.0  # no yard line lies deeper; receivers are not read deeper than this
JUMP_M = 300.0  # neighbours of one run do not lie so far apart
OVER_RANGE_WORDS = frozenset({"ol", "or", "over", "over range", "overrange", "over-range", "---", "----", "inf"})
OVER_RANGE_FIGURES = frozenset({99.9, 99.99, 999.0, 999.9, 9999.0, 9999.9, 99999.0})
COUNTRY_LATITUDES = (17.5, 72.0)  # the states and Puerto Rico
COUNTRY_LONGITUDES = (-180.0, -64.0)

_MIXED = re.compile(
    r"""^\s*(?:(?P<feet>\d+(?:\.\d+)?)\s*(?:ft|feet|foot|'|′))\s*[-,]?\s*
        (?:(?P<inches>\d+(?:\.\d+)?)\s*(?:in|inch|inches|"|″|'')?)?\s*$""",
    re.VERBOSE | re.IGNORECASE,
)
_FRACTION = re.compile(r"(?:(\d+)\s+)?(\d+)/([1-9]\d*)")
_SINGLE = re.compile(
    r"""^\s*(?P<value>[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?)\s*
        (?P<unit>cm|mm|m|metres?|meters?|in|inch|inches|ft|feet|foot|"|″|'|′)?\s*$""",
    re.VERBOSE | re.IGNORECASE,
)
_UNITS = dict.fromkeys(("in", "inch", "inches", '"', "″"), LengthUnit.INCH) | dict.fromkeys(
    ("ft", "feet", "foot", "'", "′"), LengthUnit.FOOT
)


def parse_length_m(text: str, unit: LengthUnit, name: str = "depth_m", where: str = "") -> float:
    """A typed length in metres: "3 ft 6 in", 3'6", "42 in", "1.07 m", or a bare number in `unit`."""
    plain = _FRACTION.sub(lambda m: repr(int(m[1] or 0) + int(m[2]) / int(m[3])), text)
    mixed = _MIXED.match(plain)
    if mixed:
        inches = float(mixed["inches"] or 0.0)
        if inches >= 12.0:
            raise _refuse(
                f'"{text}" has {inches:g} inches beside the feet; inches run from 0 to 11.',
                "inches_too_many",
                name,
                where,
                to_metres(float(mixed["feet"]), LengthUnit.FOOT) + inches * INCH_M,
            )
        return float(mixed["feet"]) * FOOT_M + inches * INCH_M
    single = _SINGLE.match(plain)
    if not single:
        if text.strip().lower() in OVER_RANGE_WORDS:
            raise over_range(text, name, where)
        raise _refuse(
            f'"{text}" is not a length. Type a number, or feet and inches like 3 ft 6 in.',
            "not_a_length",
            name,
            where,
        )
    return float(single["value"]) * _unit_m(single["unit"], unit)


def parse_depth_m(
    text: str,
    unit: LengthUnit,
    neighbours_m: Sequence[float] = (),
    name: str = "depth_m",
    where: str = "",
) -> float:
    """A typed depth in metres, refused when it is an over-range figure, negative, or in the wrong unit."""
    number = _SINGLE.match(text)
    if number and number["unit"]:
        unit = _UNITS.get(number["unit"].lower(), LengthUnit.METRE)
    return check_depth_m(parse_length_m(text, unit, name, where), unit, neighbours_m, name, where)


def check_depth_m(
    depth_m: float,
    unit: LengthUnit = LengthUnit.METRE,
    neighbours_m: Sequence[float] = (),
    name: str = "depth_m",
    where: str = "",
) -> float:
    """A depth that can be one; `unit` is what it was typed in, `neighbours_m` the depths read near by."""
    typed = from_metres(depth_m, unit)
    if not math.isfinite(depth_m) or any(abs(typed - f) < 1e-6 for f in OVER_RANGE_FIGURES):
        raise over_range(f"{typed:g}", name, where)
    if depth_m <= 0:
        raise _refuse(
            f"The depth is {typed:g} {unit.value}; a buried line lies below the ground. Leave the depth "
            "empty when none was read, or record the line as exposed.",
            "depth_not_below_ground",
            name,
            where,
            -depth_m if depth_m < 0 else None,
        )
    other = LengthUnit.INCH if unit is LengthUnit.FOOT else LengthUnit.FOOT
    fixed_m = typed * other.metres
    known = median(neighbours_m) if neighbours_m else None
    if unit in (LengthUnit.FOOT, LengthUnit.INCH) and _unit_slip(depth_m, fixed_m, known):
        beside = f": the points beside it read about {feet_inches(known)}" if known else ""
        raise _refuse(
            f"{typed:g} {unit.value} is {feet_inches(depth_m)}{beside}. Did you mean {typed:g} {other.value}?",
            "feet_for_inches",
            name,
            where,
            fixed_m,
        )
    if depth_m > DEEPEST_M:
        raise _refuse(
            f"A depth of {feet_inches(depth_m)} is beyond what a receiver reads ({feet_inches(DEEPEST_M)}). "
            "Check the unit and read again.",
            "depth_too_deep",
            name,
            where,
        )
    return depth_m


def over_range(shown: str, name: str = "depth_m", where: str = "") -> GroundError:
    """The refusal of an over-range display: it is no reading at all."""
    return _refuse(
        f"\"{shown}\" is the receiver's over-range display, not a depth. Lower the transmitter's output or "
        "the gain, or move off the sonde, and read again; or save the point without a depth.",
        "over_range",
        name,
        where,
    )


def check_position(latitude: float, longitude: float, where: str = "") -> tuple[float, float]:
    """A position in the United States; catches swapped figures, a lost minus sign, and zeros."""
    if _in_country(latitude, longitude):
        return latitude, longitude
    correction: tuple[float, float] | None = None
    hint = "Take the position again, or set it on the map."
    if _in_country(longitude, latitude):
        correction, hint = (longitude, latitude), "Latitude and longitude look swapped."
    elif _in_country(latitude, -longitude):
        correction, hint = (latitude, -longitude), "The longitude lost its minus sign (west is negative)."
    elif _in_country(-longitude, latitude) or _in_country(longitude, -latitude):
        correction = (abs(longitude), -abs(latitude))
        hint = "Latitude and longitude look swapped, and the longitude lost its minus sign."
    raise GroundError(
        f"{_open(where)}Latitude {latitude:g}, longitude {longitude:g} is not in the United States. {hint}",
        code="position_swapped" if correction else "position_outside",
        fields={"latitude": hint, "longitude": hint},
        correction={"latitude": correction[0], "longitude": correction[1]} if correction else None,
    )


def check_jump(distance_m: float, limit_m: float = JUMP_M, where: str = "") -> float:
    """Distance from the point before, in metres; refuses one that no next mark of a run can have."""
    if math.isfinite(distance_m) and 0 <= distance_m < limit_m:
        return distance_m
    raise GroundError(
        f"{_open(where)}This point lies {feet_inches(distance_m) if math.isfinite(distance_m) else 'nowhere'} from "
        f"the one before; marks of one run lie within {feet_inches(limit_m)}. Take the position again, or start a "
        "new run here.",
        code="position_jump",
        fields={"position": "too far from the point before"},
        correction={"new_run": "start a new run here"},
    )


def check_frequency_hz(
    frequency_hz: float, available_hz: Sequence[float], device: str = "receiver", where: str = ""
) -> float:
    """The device's own frequency nearest to the one typed (within 1 %); refuses one it does not have."""
    if not available_hz:
        raise GroundError(
            f"{_open(where)}The register lists no frequencies for this {device}. Add them to its record first.",
            code="frequencies_unknown",
            fields={"frequency_hz": f"the {device} has none on record"},
        )
    if math.isfinite(frequency_hz) and frequency_hz > 0:
        nearest = min(available_hz, key=lambda f: abs(math.log(f / frequency_hz)))
        if abs(nearest / frequency_hz - 1.0) <= 0.01:
            return nearest
        thousandfold = [f for f in available_hz if abs(f / (1000.0 * frequency_hz) - 1.0) <= 0.05]
        nearest = thousandfold[0] if thousandfold else nearest
    else:
        nearest = min(available_hz)
    listed = ", ".join(_hertz(f) for f in sorted(available_hz))
    raise GroundError(
        f"{_open(where)}This {device} does not have {_hertz(frequency_hz)}; it has {listed}. "
        f"Did you mean {_hertz(nearest)}?",
        code="frequency_missing",
        fields={"frequency_hz": f"one of {listed}"},
        correction={"frequency_hz": nearest},
    )


def _unit_slip(depth_m: float, fixed_m: float, known_m: float | None) -> bool:
    """Is the depth better explained by the other unit? By the neighbours if any, else by plain range."""
    if known_m is not None:
        return max(depth_m, known_m) > 4.0 * min(depth_m, known_m) and (
            max(fixed_m, known_m) < 2.0 * min(fixed_m, known_m)
        )
    return (depth_m > DEEPEST_M or depth_m < 0.15) and 0.15 <= fixed_m <= 4.0


def _unit_m(unit: str | None, default: LengthUnit) -> float:
    if not unit:
        return default.metres
    metric = {"cm": 0.01, "mm": 0.001}
    return metric.get(unit.lower()) or _UNITS.get(unit.lower(), LengthUnit.METRE).metres


def _in_country(latitude: float, longitude: float) -> bool:
    south, north = COUNTRY_LATITUDES
    west, east = COUNTRY_LONGITUDES
    return south <= latitude <= north and west <= longitude <= east


def _hertz(frequency_hz: float) -> str:
    return f"{frequency_hz / 1000:g} kHz" if frequency_hz >= 1000 else f"{frequency_hz:g} Hz"


def _open(where: str) -> str:
    return f"{where}: " if where else ""


def _refuse(message: str, code: str, name: str, where: str, correction_m: float | None = None) -> GroundError:
    return GroundError(
        f"{_open(where)}{message}",
        code=code,
        fields={name: message},
        correction=None if correction_m is None else {name: correction_m},
    )
