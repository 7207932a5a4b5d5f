"""Offsets from a baseline between two fixed marks, and ties from both, as a crew sets out with tapes.
Pure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from locates.ground.refusal import GroundError, not_negative, positive


@dataclass(frozen=True, slots=True)
class Baseline:
    """A baseline from one fixed mark to another, in a metric grid; offsets go left (+) or right (-) of it.

    `mark_sigma_m` is how well each fixed mark is known in the grid.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    mark_sigma_m: float = 0.01

    def __post_init__(self) -> None:
        not_negative("mark_sigma_m", self.mark_sigma_m)
        if self.length_m < 1.0:
            raise GroundError(
                f"The two fixed marks are {self.length_m:.2f} m apart; a baseline needs a metre at least, "
                "and should be longer than the offsets taken from it. Choose marks farther apart.",
                code="baseline_short",
                fields={"end": "too near to the start"},
            )

    @property
    def length_m(self) -> float:
        """Distance between the two fixed marks."""
        return math.dist(self.start, self.end)

    def point(self, chainage_m: float, left_m: float) -> tuple[float, float]:
        """The point at a chainage along the baseline and an offset to its left (right is below zero)."""
        ex, ey = self._unit()
        return (
            self.start[0] + chainage_m * ex - left_m * ey,
            self.start[1] + chainage_m * ey + left_m * ex,
        )

    def offsets(self, x_m: float, y_m: float) -> tuple[float, float]:
        """Chainage along the baseline and offset to its left of a point."""
        ex, ey = self._unit()
        dx, dy = x_m - self.start[0], y_m - self.start[1]
        return dx * ex + dy * ey, dy * ex - dx * ey

    def sigma_m(self, chainage_m: float, left_m: float, tape_sigma_m: float = 0.01) -> float:
        """Standard deviation of a point set out from the baseline: tape, marks, and the baseline's swing."""
        share = chainage_m / self.length_m
        marks = self.mark_sigma_m * math.hypot(1.0 - share, share)
        swing = math.sqrt(2.0) * self.mark_sigma_m * abs(left_m) / self.length_m
        return math.sqrt(tape_sigma_m**2 + marks**2 + swing**2)

    def tie(self, from_start_m: float, from_end_m: float, left: bool) -> tuple[float, float]:
        """The point at two taped distances from the fixed marks, on the side that is said.

        Refuses distances that do not meet, and names by how much.
        """
        a = positive("from_start_m", from_start_m)
        b = positive("from_end_m", from_end_m)
        base = self.length_m
        gap = max(base - a - b, a - b - base, b - a - base)
        if gap > 0:
            raise GroundError(
                f"The two distances miss each other by {gap:.2f} m: the marks are {base:.2f} m apart. Measure again.",
                code="ties_do_not_meet",
                fields={"from_start_m": "does not meet from_end_m", "from_end_m": "does not meet from_start_m"},
            )
        chainage = (a * a - b * b + base * base) / (2.0 * base)
        across = math.sqrt(max(0.0, a * a - chainage * chainage))
        return self.point(chainage, across if left else -across)

    def _unit(self) -> tuple[float, float]:
        length = self.length_m
        return (self.end[0] - self.start[0]) / length, (self.end[1] - self.start[1]) / length
