"""A crew's day as a sketch to scale: yard, stops in order, straight lines between them. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, HEIGHT, EDGE = 320.0, 220.0, 26.0
METRES_A_DEGREE = 111_195.0  # of latitude, on a sphere of 6371 km radius
METRES_A_MILE = 1609.344
BAR_MILES = (0.1, 0.25, 0.5, 1, 2, 5, 10, 25, 50, 100, 200)
LEAST_SPAN_M = 400.0  # a single site still gets a sketch of some ground


@dataclass(frozen=True, slots=True)
class Spot:
    """A numbered stop, in units of the drawing; `number` 0 is the yard."""

    x: float
    y: float
    number: str

    @property
    def radius(self) -> float:
        return 9 + 2.5 * max(0, len(self.number) - 2)


@dataclass(frozen=True, slots=True)
class Sketch:
    """Spots, the line through them and back, and a scale bar."""

    spots: tuple[Spot, ...]
    path: str
    bar_width: float
    bar_words: str
    width: float = WIDTH
    height: float = HEIGHT

    @property
    def yard(self) -> Spot:
        return self.spots[0]

    @property
    def bar_y(self) -> float:
        return self.height - 8


def lay_sketch(yard: tuple[float, float], stops: Sequence[tuple[float, float]]) -> Sketch:
    """North up, east right, one scale for both; places in degrees, latitude first. Stops at one place share
    a spot with their numbers joined."""
    places = [yard, *stops]
    middle = math.radians(sum(lat for lat, _ in places) / len(places))
    flat = [(lon * math.cos(middle) * METRES_A_DEGREE, lat * METRES_A_DEGREE) for lat, lon in places]
    low_x, low_y = min(x for x, _ in flat), min(y for _, y in flat)
    span_x, span_y = max(x for x, _ in flat) - low_x, max(y for _, y in flat) - low_y
    per_m = min((WIDTH - 2 * EDGE) / max(span_x, LEAST_SPAN_M), (HEIGHT - 2 * EDGE) / max(span_y, LEAST_SPAN_M))
    pad_x = (WIDTH - span_x * per_m) / 2
    pad_y = (HEIGHT - span_y * per_m) / 2
    drawn = [(pad_x + (x - low_x) * per_m, HEIGHT - pad_y - (y - low_y) * per_m) for x, y in flat]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in [*drawn, drawn[0]])
    most = WIDTH * 0.3 / per_m / METRES_A_MILE
    miles = max((bar for bar in BAR_MILES if bar <= most), default=BAR_MILES[0])
    return Sketch(_spots(drawn), path, miles * METRES_A_MILE * per_m, f"{miles:g} mi")


def _spots(drawn: Sequence[tuple[float, float]]) -> tuple[Spot, ...]:
    yard, *stops = drawn
    at: dict[tuple[float, float], list[str]] = {}
    for number, (x, y) in enumerate(stops, start=1):
        at.setdefault((round(x, 1), round(y, 1)), []).append(str(number))
    return (
        Spot(round(yard[0], 1), round(yard[1], 1), ""),
        *(Spot(x, y, ", ".join(numbers)) for (x, y), numbers in at.items()),
    )
