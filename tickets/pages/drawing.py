"""The dig area drawn to scale, north up: outlines, a scale bar in feet, the site's position. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import shapely
from shapely.geometry import shape

from locates.lengths import FOOT_M, feet_and_inches
from tickets.verdict.areas import Area, Plane

WIDTH, HEIGHT, MARGIN = 560, 400, 44
LEAST_VIEW_M = 6.0  # a pothole is still drawn with some ground around it
BAR_FEET = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000)
MOST_AROUND = 1.0  # ticket area shown beyond the dig areas, in sizes of these
BAR_SHARE = 0.3  # of the drawing's width at most


@dataclass(frozen=True, slots=True)
class Outline:
    """One area as an SVG path, and its size in words: its longest and shortest side, however it lies."""

    path: str
    size_words: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """Numbers for the template, in the drawing's units, from the upper left corner."""

    digs: tuple[Outline, ...]
    covers: tuple[Outline, ...]
    position: tuple[float, float] | None
    bar: tuple[float, float]  # from, to
    bar_words: str
    metres_a_unit: float
    width: int = WIDTH
    height: int = HEIGHT

    @property
    def bar_back(self) -> float:
        """Width of the clear ground behind the bar."""
        return self.bar[1]

    @property
    def bar_middle(self) -> float:
        return (self.bar[0] + self.bar[1]) / 2


def drawing_of(
    digs: Iterable[Any], covers: Iterable[Any] = (), position: tuple[float, float] | None = None
) -> Drawing | None:
    """The drawing of dig areas and the ticket areas over them (GeoJSON, WGS 84), fitted to the dig areas;
    `position` is (latitude, longitude). None when there is no dig area."""
    dug = [shape(dict(area)) for area in digs]
    if not dug:
        return None
    plane = Plane.about(dug)
    laid = [plane.lay(area) for area in dug]
    covering = [plane.lay(shape(dict(area))) for area in covers]
    west, south, east, north = _view(laid, covering)
    middle = ((west + east) / 2, (south + north) / 2)
    wide_m, high_m = max(LEAST_VIEW_M, east - west), max(LEAST_VIEW_M, north - south)
    scale = min((WIDTH - 2 * MARGIN) / wide_m, (HEIGHT - 2 * MARGIN) / high_m)

    def put(x_m: float, y_m: float) -> tuple[float, float]:
        return round(WIDTH / 2 + (x_m - middle[0]) * scale, 1), round(HEIGHT / 2 - (y_m - middle[1]) * scale, 1)

    at = None
    if position is not None:
        point = plane.lay(shapely.Point(position[1], position[0]))
        found = put(point.x, point.y)
        at = found if 0 <= found[0] <= WIDTH and 0 <= found[1] <= HEIGHT else None
    feet, units = _bar(scale)
    return Drawing(
        digs=tuple(_outline(area, put) for area in laid),
        covers=tuple(_outline(area, put) for area in covering),
        position=at,
        bar=(MARGIN / 2, MARGIN / 2 + units),
        bar_words=f"{feet} ft",
        metres_a_unit=1 / scale,
    )


def _view(laid: Sequence[Area], covering: Sequence[Area]) -> tuple[float, float, float, float]:
    """West, south, east and north of what is shown: the dig areas, and the ticket areas as far as they do
    not dwarf them."""
    west, south, east, north = (float(edge) for edge in shapely.total_bounds(laid))
    room = max(east - west, north - south, LEAST_VIEW_M) * MOST_AROUND
    seen = [(west, south, east, north)]
    if covering:
        w, s, e, n = (float(edge) for edge in shapely.total_bounds(covering))
        seen.append((max(w, west - room), max(s, south - room), min(e, east + room), min(n, north + room)))
    return min(v[0] for v in seen), min(v[1] for v in seen), max(v[2] for v in seen), max(v[3] for v in seen)


def _bar(scale: float) -> tuple[int, float]:
    """The longest round number of feet within the share of the width, and its length in units."""
    fitting = [feet for feet in BAR_FEET if feet * FOOT_M * scale <= WIDTH * BAR_SHARE]
    feet = fitting[-1] if fitting else BAR_FEET[0]
    return feet, round(feet * FOOT_M * scale, 1)


def _outline(area: Area, put: Any) -> Outline:
    rings = [r for part in shapely.get_parts(area) for r in (part.exterior, *part.interiors)]
    path = " ".join(_ring(ring.coords, put) for ring in rings)
    return Outline(path, size_words(area))


def _ring(corners: Sequence[Any], put: Any) -> str:
    points = [put(x, y) for x, y, *_ in corners]
    return "M" + " L".join(f"{x},{y}" for x, y in points[:-1]) + " Z"


def size_words(area: Area) -> str:
    """'40 ft by 3 ft 6 in' of the smallest rectangle around an area laid in metres."""
    around = shapely.minimum_rotated_rectangle(area)
    corners = shapely.get_coordinates(around)
    sides = sorted(float(shapely.Point(a).distance(shapely.Point(b))) for a, b in pairwise(corners[:3]))
    return f"{feet_and_inches(sides[-1])} by {feet_and_inches(sides[0])}"
