"""The state of a position, from the county shapes of the Census. Pure.

Shapes: U.S. Census Bureau, TIGER/Line Shapefiles, simplified, of the 2009 release, as the package
bokeh-sampledata carries them (BSD-3-Clause). They bend where a river has moved since and are simplified,
so near a state line the answer is a proposal for a person to confirm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import shapely
from bokeh_sampledata import us_counties
from shapely.affinity import scale

METRES_A_DEGREE = 111_195.0  # of latitude, on a sphere of 6,371.0 km: 2 * pi * R / 360
LEAST_COSINE = 0.01  # keeps the ring finite next to a pole


@dataclass(frozen=True)
class County:
    """One county: its state's postal code and its name with its kind ("Russell County")."""

    state_code: str
    name: str
    legal_name: str


@dataclass(frozen=True)
class Found:
    """The county that holds a position (None at sea or abroad), and all counties within the distance."""

    county: County | None
    around: tuple[County, ...]


@lru_cache(maxsize=1)
def shapes() -> tuple[shapely.STRtree, tuple[County, ...]]:
    """All 3,233 county shapes in a search tree; read once a process."""
    records = us_counties.records()
    counties = tuple(County(r["state"], r["name"], r["detailed_name"].partition(",")[0]) for r in records)
    geometries = [r["geometry"] for r in records]
    shapely.prepare(geometries)
    return shapely.STRtree(geometries), counties


def ring(lat: float, lon: float, distance_m: float) -> shapely.Polygon:
    """The circle of distance_m about a position, in degrees. Good to 1 % up to some kilometres."""
    degrees = distance_m / METRES_A_DEGREE
    stretch = 1 / max(LEAST_COSINE, math.cos(math.radians(lat)))
    return scale(shapely.Point(lon, lat).buffer(degrees, quad_segs=32), stretch, 1)


def find(lat: float, lon: float, distance_m: float) -> Found:
    """The county at a position (degrees, NAD83 or WGS 84) and those within distance_m of it.

    On a line shared by two counties the one first in FIPS order is given; both are in `around`.
    """
    tree, counties = shapes()
    hits = sorted(tree.query(shapely.Point(lon, lat), predicate="intersects"))
    around = sorted(tree.query(ring(lat, lon, distance_m), predicate="intersects"))
    return Found(counties[hits[0]] if hits else None, tuple(counties[index] for index in around))
