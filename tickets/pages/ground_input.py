"""Ground as a person types it: a rectangle about a position, or an outline as GeoJSON. Pure."""

from __future__ import annotations

import json
import math
from typing import Any

import shapely

from locates.errors import FirstspadeError
from tickets.verdict.areas import Plane

LONGEST_M = 2_000.0


class BadGround(FirstspadeError):
    code = "bad_ground"


def rectangle(
    latitude: float, longitude: float, *, length_m: float, width_m: float, bearing_deg: float = 0.0
) -> dict[str, Any]:
    """A GeoJSON Polygon (WGS 84) of `length_m` by `width_m`, its middle at the position in degrees.

    The long side runs towards `bearing_deg`, clockwise from true north. Laid out on the plane of
    `tickets.verdict.areas` (0.1 % within 2 km). Raises BadGround for lengths that are not above zero or
    longer than LONGEST_M.
    """
    for name, size_m in (("length", length_m), ("width", width_m)):
        if not 0 < size_m <= LONGEST_M:
            raise BadGround(
                f"The {name} is {size_m:g} m; give more than nothing and at most {LONGEST_M:g} m.",
                fields={name: f"more than nothing and at most {LONGEST_M:g} m"},
            )
    unit = plane_unit(latitude, longitude)
    along, across = length_m / 2, width_m / 2
    turn = math.radians(bearing_deg)
    corners = []
    for a, c in ((along, -across), (along, across), (-along, across), (-along, -across)):
        east_m = a * math.sin(turn) + c * math.cos(turn)
        north_m = a * math.cos(turn) - c * math.sin(turn)
        corners.append([round(longitude + east_m / unit[0], 8), round(latitude + north_m / unit[1], 8)])
    return {"type": "Polygon", "coordinates": [[*corners, corners[0]]]}


def plane_unit(latitude: float, longitude: float) -> tuple[float, float]:
    """Metres a degree of longitude and of latitude at a position."""
    point = Plane(latitude, longitude).lay(shapely.Point(longitude + 1, latitude + 1))
    return float(point.x), float(point.y)


def outline(text: str) -> dict[str, Any]:
    """The Polygon or MultiPolygon in a GeoJSON text: a geometry, a feature, or a collection of one feature.

    Only the frame is read here; whether the outline can be used is `parse_area`'s to say. Raises BadGround.
    """
    try:
        given = json.loads(text)
    except (ValueError, RecursionError):
        raise _no_outline("it is not GeoJSON") from None
    if isinstance(given, dict) and given.get("type") == "FeatureCollection":
        features = given.get("features")
        if not isinstance(features, list) or len(features) != 1:
            raise _no_outline("it holds no feature, or more than one")
        given = features[0]
    if isinstance(given, dict) and given.get("type") == "Feature":
        given = given.get("geometry")
    if not isinstance(given, dict):
        raise _no_outline("it holds no geometry")
    return {"type": given.get("type"), "coordinates": given.get("coordinates")}


def _no_outline(what: str) -> BadGround:
    words = f"{what}; draw the outline, or paste a GeoJSON Polygon"
    return BadGround(f"The outline cannot be read: {words}.", fields={"outline": words})
