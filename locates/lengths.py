"""Lengths: kept in metres, said in feet and inches. Pure.

International foot, 0.3048 m exactly (NIST SP 811, appendix B.6).
"""

from __future__ import annotations

import re

from locates.errors import FirstspadeError

INCH_M = 0.0254
FOOT_M = 0.3048
_FEET_INCHES = re.compile(
    r"""^\s*(?:(?P<feet>\d+(?:\.\d+)?)\s*(?:ft|feet|foot|'))?\s*(?:(?P<inches>\d+(?:\.\d+)?)\s*(?:in|inches|inch|"))?\s*$""",
    re.IGNORECASE,
)
_METRES = re.compile(r"^\s*(?P<metres>\d+(?:\.\d+)?)\s*(?:m|metres?|meters?)\s*$", re.IGNORECASE)


class BadLength(FirstspadeError):
    code = "bad_length"


def feet_and_inches(length_m: float) -> str:
    """'3 ft 6 in', to the nearest inch; '6 in' below a foot; '0 in' for nothing."""
    inches = round(abs(length_m) / INCH_M)
    sign = "-" if length_m < 0 and inches else ""
    feet, rest = divmod(inches, 12)
    if not feet:
        return f"{sign}{rest} in"
    return f"{sign}{feet} ft" + (f" {rest} in" if rest else "")


def read_length_m(text: str) -> float:
    """Metres from '3 ft 6 in', '42 in', 3'6" or '1.2 m'. A bare number is refused: feet and inches are
    mistaken for one another too easily. Raises BadLength."""
    metres = _METRES.match(text)
    if metres:
        return float(metres["metres"])
    found = _FEET_INCHES.match(text)
    if not found or (found["feet"] is None and found["inches"] is None):
        raise BadLength(
            f"'{text}' is not a length; write it as 3 ft 6 in, 42 in or 1.2 m.", fields={"length": "unit missing"}
        )
    return float(found["feet"] or 0) * FOOT_M + float(found["inches"] or 0) * INCH_M
