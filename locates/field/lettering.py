"""Where texts stand on a drawing: beside what they name, over nothing else where that can be had. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

# Texts are drawn larger on a narrow screen; room is kept for that size, so that none lies over another there.
LETTERS_UNITS, WORDS_UNITS = 24.0, 18.0
CHARACTER_WIDE = 0.56  # of the size: the mean of a plain sans-serif
GAP_UNITS = 5.0
SPOTS_ALONG = 25
STEEP = 0.5  # a course across whose direction lies so far sideways has its texts to the left and right
OVER_TEXT, OVER_INK, AWAY = (
    10.0,
    2.0,
    0.05,
)  # what hides a text matters before what it hides, and both before distance


@dataclass(frozen=True, slots=True)
class Spot:
    """A place for a text: its middle, how far that is from where it would best be, and on which side of what it
    names it stands: -1 left, 1 right, 0 above, below or upon."""

    x: float
    y: float
    away: float
    side: int = 0


class Lettering:
    """The drawing's texts, placed one after the other. `ink`: what is drawn and should stay readable."""

    def __init__(self, wide: float, high: float, ink: Iterable[BaseGeometry]) -> None:
        self._sheet = shapely.box(0, 0, wide, high)
        self._taken: list[BaseGeometry] = []
        self._ink = shapely.union_all([one for one in ink if not one.is_empty])

    def keep_free(self, x: float, y: float, wide: float, high: float) -> None:
        """Nothing is to be written over this box about (x, y)."""
        self._taken.append(_box(x, y, wide, high))

    def place(self, wide: float, high: float, spots: Sequence[Spot], *, must: bool) -> Spot | None:
        """The best of the spots for a text so wide and high. Without `must` None when every one lies over another
        text or off the sheet; with it the least bad."""
        if not spots:
            return None
        boxes = np.array([_box(s.x, s.y, wide, high) for s in spots])
        hidden = sum((shapely.area(shapely.intersection(boxes, one)) for one in self._taken), np.zeros(len(spots)))
        hidden = hidden + shapely.area(boxes) - shapely.area(shapely.intersection(boxes, self._sheet))
        crossed = shapely.length(shapely.intersection(boxes, self._ink))
        cost = OVER_TEXT * hidden + OVER_INK * crossed + AWAY * np.array([s.away for s in spots])
        if not must:
            cost = np.where(hidden > 0, np.inf, cost)
        best = int(np.argmin(cost))
        if not math.isfinite(cost[best]):
            return None
        self._taken.append(boxes[best])
        return spots[best]


def words_wide(words: str) -> float:
    """About how wide a small text is drawn."""
    return len(words) * WORDS_UNITS * CHARACTER_WIDE


def about(x: float, y: float, wide: float, high: float, off: float) -> list[Spot]:
    """The eight places round a mark, the right-hand one below first."""
    across, down = wide / 2 + off, high / 2 + off
    corners = [(across, down), (across, -down), (-across, down), (-across, -down)]
    sides = [(across, 0.0), (-across, 0.0), (0.0, down), (0.0, -down)]
    return [Spot(x + dx, y + dy, float(rank), _side(dx)) for rank, (dx, dy) in enumerate([*corners, *sides])]


def beside(course: Sequence[tuple[float, float]], best: float, wide: float, high: float) -> list[Spot]:
    """Places to both sides of a course, nearest first to the share `best` of its length."""
    found = []
    for (x, y), (nx, ny), away in _along(course, best):
        off = abs(nx) * wide / 2 + abs(ny) * high / 2 + GAP_UNITS
        side = _side(nx) if abs(nx) > STEEP else 0
        found += [Spot(x + nx * off, y + ny * off, away, side), Spot(x - nx * off, y - ny * off, away, -side)]
    return found


def upon(course: Sequence[tuple[float, float]], best: float) -> list[Spot]:
    """Places upon a course, nearest first to the share `best` of its length."""
    return [Spot(x, y, away) for (x, y), _, away in _along(course, best)]


Pair = tuple[float, float]


def _along(course: Sequence[Pair], best: float) -> list[tuple[Pair, Pair, float]]:
    """Places along the course with the direction across it there, and how far each is from the best one."""
    line = shapely.LineString(course)
    found = []
    for number in range(SPOTS_ALONG):
        share = (number + 0.5) / SPOTS_ALONG
        here, there = (line.interpolate(min(1.0, share + step), normalized=True) for step in (-0.01, 0.01))
        dx, dy = there.x - here.x, there.y - here.y
        size = math.hypot(dx, dy) or 1.0
        spot = line.interpolate(share, normalized=True)
        found.append(((spot.x, spot.y), (dy / size, -dx / size), abs(share - best) * line.length))
    return sorted(found, key=lambda one: one[2])


def _side(dx: float) -> int:
    return (dx > 0) - (dx < 0)


def _box(x: float, y: float, wide: float, high: float) -> BaseGeometry:
    return shapely.box(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
