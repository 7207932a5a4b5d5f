"""Dig areas against ticket areas: GeoJSON in WGS 84, judged in metres on a local plane. Pure.

The plane is equirectangular about the middle latitude, with the ellipsoid's radii of curvature there
(WGS 84: a = 6 378 137 m, 1/f = 298.257 223 563; NGA.STND.0036). Across a site of 2 km its lengths are
within 0.1 % of the geodesic ones; the tests hold it against pyproj.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, TypeAlias

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry import shape

from locates.errors import FirstspadeError

TOLERANCE_M = 0.3  # about a foot: the thickness of a drawn line; common practice, no source
LARGEST_M2 = 4_000_000.0  # 4 km²: above that a notice is not for one site
MOST_POINTS = 5_000
FURTHEST_M = 10_000.0  # a dig area lies no further from its site's position
_A, _F = 6_378_137.0, 1 / 298.257223563
_E2 = _F * (2 - _F)
# Boxes (south, west, north, east) around the states and DC; only to catch slips, not a border survey.
_COUNTRY = (
    (24.3, -125.0, 49.5, -66.8),
    (51.0, -180.0, 71.6, -129.9),
    (51.0, 172.0, 53.5, 180.0),
    (18.7, -160.6, 22.5, -154.6),
)

Area: TypeAlias = Polygon | MultiPolygon


class AreaRefused(FirstspadeError):
    code = "area_refused"


def parse_area(given: Any, *, field: str = "polygon", near: tuple[float, float] | None = None) -> Area:
    """A GeoJSON Polygon or MultiPolygon as a shapely geometry, or AreaRefused with the fault's name.

    Refused: another type, no numbers, latitude and longitude swapped, outside the country, lines that
    cross, no area, more than LARGEST_M2 or MOST_POINTS, further than FURTHEST_M from `near` (latitude,
    longitude) when that is given.
    """
    if not isinstance(given, Mapping) or given.get("type") not in {"Polygon", "MultiPolygon"}:
        named = given.get("type") if isinstance(given, Mapping) else type(given).__name__
        raise _refusal(field, f"{named!r} is not a GeoJSON Polygon or MultiPolygon", "draw a closed area")
    try:
        points = list(_points(given["coordinates"]))
        made = shape(dict(given))
    except (KeyError, TypeError, ValueError, IndexError, shapely.errors.ShapelyError) as wrong:
        raise _refusal(field, "the coordinates cannot be read", "each ring is a list of [lon, lat]") from wrong
    if not points or made.is_empty or not isinstance(made, (Polygon, MultiPolygon)):
        raise _refusal(field, "the area is empty", "draw a closed area")
    if len(points) > MOST_POINTS:
        raise _refusal(field, f"{len(points)} points", f"give no more than {MOST_POINTS}")
    for lon, lat in points:
        _check_position(lon, lat, field)
    if not made.is_valid:
        why = shapely.is_valid_reason(made)
        raise _refusal(field, f"the outline crosses itself or is broken ({why})", "draw it again without crossing")
    _check_size(made, field, near)
    return made


def _points(coordinates: Any) -> Iterable[tuple[float, float]]:
    if not isinstance(coordinates, (list, tuple)):
        raise TypeError("not a list")
    if isinstance(coordinates[0], (int, float)) and not isinstance(coordinates[0], bool):
        lon, lat = float(coordinates[0]), float(coordinates[1])
        if not (math.isfinite(lon) and math.isfinite(lat)):
            raise ValueError("not finite")
        yield lon, lat
        return
    for part in coordinates:
        yield from _points(part)


def _check_position(lon: float, lat: float, field: str) -> None:
    if in_country(lat, lon):
        return
    if in_country(lon, lat):
        raise _refusal(
            field,
            f"[{lon}, {lat}] has latitude and longitude swapped",
            "GeoJSON puts the longitude first",
        )
    raise _refusal(field, f"longitude {lon}, latitude {lat} lies outside the country", "check the position")


def in_country(latitude: float, longitude: float) -> bool:
    """Whether a position lies in a box around the fifty states and DC."""
    return any(s <= latitude <= n and w <= longitude <= e for s, w, n, e in _COUNTRY)


def _check_size(made: Area, field: str, near: tuple[float, float] | None) -> None:
    plane = Plane.about([made])
    size_m2 = plane.lay(made).area
    if size_m2 <= 0.01:
        raise _refusal(field, "the area is smaller than a hand", "draw the ground that will be opened")
    if size_m2 > LARGEST_M2:
        raise _refusal(
            field, f"the area is {size_m2 / 1e6:.1f} km²", f"no more than {LARGEST_M2 / 1e6:.0f} km² a notice"
        )
    if near is not None:
        away_m = plane.lay(made).distance(plane.lay(shapely.Point(near[1], near[0])))
        if away_m > FURTHEST_M:
            raise _refusal(
                field,
                f"the area lies {away_m / 1000:.0f} km from the site's position",
                "check the area and the site",
            )


def _refusal(field: str, what: str, remedy: str) -> AreaRefused:
    return AreaRefused(f"The area cannot be used: {what}; {remedy}.", fields={field: f"{what}; {remedy}"})


class Plane:
    """A local plane in metres about a position."""

    def __init__(self, latitude: float, longitude: float) -> None:
        phi = math.radians(latitude)
        w2 = 1 - _E2 * math.sin(phi) ** 2
        self._m_per_lat = math.radians(1) * _A * (1 - _E2) / w2**1.5
        self._m_per_lon = math.radians(1) * _A / math.sqrt(w2) * math.cos(phi)
        self._origin = np.array([longitude, latitude])
        self._scale = np.array([self._m_per_lon, self._m_per_lat])

    @classmethod
    def about(cls, areas: Iterable[Area]) -> Plane:
        """The plane about the middle of several areas."""
        west, south, east, north = shapely.total_bounds(list(areas))
        return cls((south + north) / 2, (west + east) / 2)

    def lay(self, geometry: Any) -> Any:
        """The geometry in metres."""
        return shapely.transform(geometry, lambda xy: (xy - self._origin) * self._scale)


def overhang_m(dig: Area, covers: Iterable[Area]) -> float:
    """How far `dig` reaches beyond the covering areas together, in metres; 0.0 within TOLERANCE_M.

    Measured as the largest distance from a point of the part outside (its outline taken every 0.25 m)
    to the covering areas. Infinite when there is no covering area.
    """
    covering = list(covers)
    if not covering:
        return math.inf
    plane = Plane.about([dig])
    ground, cover = plane.lay(dig), shapely.union_all([plane.lay(area) for area in covering])
    if ground.within(cover.buffer(TOLERANCE_M)):
        return 0.0
    outside = ground.difference(cover)
    corners = shapely.points(shapely.get_coordinates(shapely.segmentize(outside, _step_m(outside))))
    return float(shapely.distance(corners, cover).max())


def _step_m(outside: Any) -> float:
    return max(0.25, float(outside.length) / 4000)  # bounded work for a long outline
