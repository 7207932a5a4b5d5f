"""A check against a known target: readings, tolerance, pass or fail computed. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from crews.equipment.care import Tolerance
from crews.equipment.refusal import refuse

MOST_READINGS = 50


@dataclass(frozen=True, slots=True)
class Outcome:
    """Whether every reading lies within the tolerance; `worst` is the largest error with its sign and
    `allowed` the largest that passes, both in the tolerance's unit."""

    passed: bool
    worst: float
    allowed: float
    words: str


def judge(known: float, readings: Sequence[float], tolerance: Tolerance) -> Outcome:
    """Passes when no reading lies further from `known` than the tolerance allows.

    One reading outside fails the check: a mean would hide the reading that a crew would have dug by.
    Raises EquipmentError without readings or with a number that is not finite.
    """
    if not math.isfinite(known) or known <= 0:
        raise refuse("known_value", f"{known:g} cannot be a known value; give the measured one, above zero.")
    if not readings:
        raise refuse("readings", "give at least one reading.")
    if len(readings) > MOST_READINGS:
        raise refuse("readings", f"{len(readings)} readings; give at most {MOST_READINGS}.")
    for reading in readings:
        if not math.isfinite(reading):
            raise refuse("readings", f"{reading} is not a number; read it again.")
    allowed = tolerance.allowed(known)
    worst = max((reading - known for reading in readings), key=abs)
    # A reading at the limit itself passes; the slack is far below any instrument's last digit.
    passed = abs(worst) <= allowed * (1 + 1e-9) + 1e-12
    said = f"{worst:+.3g} {tolerance.unit} at the most, {allowed:.3g} {tolerance.unit} allowed"
    return Outcome(passed, worst, allowed, said)
