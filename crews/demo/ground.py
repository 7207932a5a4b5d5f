"""Rectangles on the ground for the demo's dig areas and tickets. Pure."""

from __future__ import annotations

import math
from typing import Any

M_PER_DEGREE = 111_320.0  # of latitude; good to half a per cent, enough for invented ground


def rectangle(
    latitude: float, longitude: float, length_m: float, width_m: float, turned_deg: float
) -> dict[str, Any]:
    """A GeoJSON polygon (WGS 84) about the position; `turned_deg` is the azimuth of the long side."""
    azimuth = math.radians(turned_deg)
    east_per_m = 1 / (M_PER_DEGREE * math.cos(math.radians(latitude)))
    ring = []
    for along, across in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5), (-0.5, -0.5)):
        ahead, aside = along * length_m, across * width_m
        east = ahead * math.sin(azimuth) + aside * math.cos(azimuth)
        north = ahead * math.cos(azimuth) - aside * math.sin(azimuth)
        ring.append([round(longitude + east * east_per_m, 7), round(latitude + north / M_PER_DEGREE, 7)])
    return {"type": "Polygon", "coordinates": [ring]}


def spot(latitude: float, longitude: float, ahead_m: float, aside_m: float, turned_deg: float) -> tuple[float, float]:
    """The position so far ahead of another along an azimuth, and to the right of it."""
    azimuth = math.radians(turned_deg)
    east = ahead_m * math.sin(azimuth) + aside_m * math.cos(azimuth)
    north = ahead_m * math.cos(azimuth) - aside_m * math.sin(azimuth)
    east_per_m = 1 / (M_PER_DEGREE * math.cos(math.radians(latitude)))
    return round(latitude + north / M_PER_DEGREE, 8), round(longitude + east * east_per_m, 8)
