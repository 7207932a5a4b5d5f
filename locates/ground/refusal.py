"""The error that every room of the ground engine raises. Pure."""

from __future__ import annotations

import math
from collections.abc import Mapping

from locates.errors import FirstspadeError


class GroundError(FirstspadeError):
    """A reading or a request that cannot be used, with a way to correct it.

    `correction` holds values that would be accepted in place of those given (field name to value), so
    that a phone can offer them as one tap. It is empty when only the person on site can know.
    """

    code = "ground_refused"

    def __init__(
        self,
        message: str,
        *,
        code: str | None = None,
        fields: Mapping[str, str] | None = None,
        correction: Mapping[str, float | str] | None = None,
    ) -> None:
        super().__init__(message, code=code, fields=fields)
        self.correction: dict[str, float | str] = dict(correction or {})


def positive(name: str, value: float, unit: str = "m") -> float:
    """`value` as a float when it is a finite number above zero; refuses anything else by name."""
    if not math.isfinite(value) or value <= 0:
        raise GroundError(
            f"{name} is {value:g} {unit}; it must be a number above zero. Read it again.",
            code="not_positive",
            fields={name: "must be above zero"},
        )
    return float(value)


def not_negative(name: str, value: float, unit: str = "m") -> float:
    """`value` as a float when it is finite and not below zero; refuses anything else by name."""
    if not math.isfinite(value) or value < 0:
        raise GroundError(
            f"{name} is {value:g} {unit}; it must be zero or more. Read it again.",
            code="negative",
            fields={name: "must not be negative"},
        )
    return float(value)


def fraction(name: str, value: float) -> float:
    """`value` as a float when it lies strictly between 0 and 1; refuses anything else by name."""
    if not math.isfinite(value) or not 0 < value < 1:
        raise GroundError(
            f"{name} is {value:g}; it must lie between 0 and 1 (70 % is 0.7).",
            code="not_a_fraction",
            fields={name: "must lie between 0 and 1"},
        )
    return float(value)
