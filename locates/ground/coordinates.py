"""WGS 84, UTM, US state plane, and local metres. Pure (pyproj).

Projections and state plane zones come from the EPSG registry inside pyproj. A state plane grid on NAD 83 is
compared with a phone's WGS 84 position without a shift: the two differ by one to two metres in the United
States, so a phone's position in state plane is no better than that (`DATUM_NOTE`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from pyproj import CRS, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_crs_info
from pyproj.enums import PJType

from locates.ground.lengths import FOOT_M, SURVEY_FOOT_M, LengthUnit, from_metres, to_metres
from locates.ground.refusal import GroundError

DATUM_NOTE = (
    "State plane here is NAD 83; a phone gives WGS 84. The two differ by 1 to 2 m. With a correction "
    "service the datum is the service's: ask which, and do not mix points of both."
)


@dataclass(frozen=True, slots=True)
class GridPoint:
    """A position in a named grid, in the grid's own unit, with what must be said about it."""

    easting: float
    northing: float
    unit: LengthUnit
    grid: str
    epsg: int
    note: str = ""


def utm_epsg(latitude: float, longitude: float) -> int:
    """EPSG code of the WGS 84 / UTM zone of a position (326zz north, 327zz south)."""
    _check_degrees(latitude, longitude)
    zone = min(60, int((longitude + 180.0) // 6.0) + 1)
    return (32600 if latitude >= 0 else 32700) + zone


def to_utm(latitude: float, longitude: float, epsg: int | None = None) -> GridPoint:
    """A WGS 84 position in UTM metres; keep one zone for one site by passing its `epsg`."""
    code = epsg or utm_epsg(latitude, longitude)
    easting, northing = _transformer(code).transform(longitude, latitude)
    return GridPoint(easting, northing, LengthUnit.METRE, _crs(code).name, code)


def from_grid(easting: float, northing: float, epsg: int, unit: LengthUnit | None = None) -> tuple[float, float]:
    """Latitude and longitude (WGS 84) of a grid position.

    `unit` must be said when feet are given and must be the grid's own foot: the US survey and international
    foot differ by 2 parts in a million, 4 ft at an easting of 2,000,000 ft.
    """
    own = grid_unit(epsg)
    if unit is not None and unit is not own:
        raise GroundError(
            f"{_crs(epsg).name} is defined in {_unit_name(own)}, the figures are said to be in {_unit_name(unit)}: "
            f"that would move the point by {abs(easting) * abs(unit.metres - own.metres):.2f} m. Convert first, or "
            "choose the grid that is defined in that unit.",
            code="wrong_unit_for_grid",
            fields={"unit": f"must be {own.value}"},
            correction={"unit": own.value},
        )
    longitude, latitude = _transformer(epsg).transform(easting, northing, direction="INVERSE")
    if not _near_area_of_use(latitude, longitude, epsg):
        raise GroundError(
            f"Easting {easting:g}, northing {northing:g} lies outside {_crs(epsg).name}. Check zone, unit and order.",
            code="outside_grid",
            fields={"easting": "outside the grid", "northing": "outside the grid"},
        )
    return latitude, longitude


def grid_unit(epsg: int) -> LengthUnit:
    """The unit a grid is defined in: metres, international feet or US survey feet."""
    factor = _crs(epsg).axis_info[0].unit_conversion_factor
    for unit, metres in ((LengthUnit.METRE, 1.0), (LengthUnit.FOOT, FOOT_M), (LengthUnit.SURVEY_FOOT, SURVEY_FOOT_M)):
        if abs(factor / metres - 1.0) < 1e-9:
            return unit
    raise GroundError(
        f"{_crs(epsg).name} is not in metres or feet; it cannot be used here.",
        code="grid_unit_unknown",
        fields={"epsg": "must be a grid in metres or feet"},
    )


@dataclass(frozen=True, slots=True)
class StatePlane:
    """A state plane zone that covers a position."""

    epsg: int
    name: str
    unit: LengthUnit


def state_planes(latitude: float, longitude: float, realisation: str = "NAD83") -> tuple[StatePlane, ...]:
    """NAD 83 state plane zones whose area of use holds a position: foot grids before metre grids.

    Zones are wider than their counties on paper; near a zone's edge two answer and the person chooses.
    """
    _check_degrees(latitude, longitude)
    here = AreaOfInterest(longitude, latitude, longitude, latitude)
    rows = query_crs_info(auth_name="EPSG", pj_types=PJType.PROJECTED_CRS, area_of_interest=here, contains=True)
    found = []
    for row in rows:
        if row.name.startswith(f"{realisation} / ") and _is_state_plane(int(row.code)):
            found.append(StatePlane(int(row.code), row.name, grid_unit(int(row.code))))
    return tuple(sorted(found, key=lambda s: (s.unit is LengthUnit.METRE, s.name)))


def to_state_plane(latitude: float, longitude: float, epsg: int) -> GridPoint:
    """A WGS 84 position in a state plane grid, in the grid's own unit, with the datum's note."""
    easting, northing = _transformer(epsg).transform(longitude, latitude)
    return GridPoint(easting, northing, grid_unit(epsg), _crs(epsg).name, epsg, DATUM_NOTE)


def feet_apart_m(coordinate_ft: float) -> float:
    """How far a grid coordinate in feet moves when US survey and international feet are mixed up."""
    return abs(to_metres(coordinate_ft, LengthUnit.SURVEY_FOOT) - to_metres(coordinate_ft, LengthUnit.FOOT))


def convert(value: float, source: LengthUnit, target: LengthUnit) -> float:
    """A length from one unit to another; the two feet are told apart."""
    return from_metres(to_metres(value, source), target)


class LocalGrid:
    """Metres east and north of a site's origin, on a transverse Mercator plane through it.

    True to a millimetre within a kilometre; plans, zones and trenches are reckoned on it.
    """

    def __init__(self, latitude: float, longitude: float) -> None:
        _check_degrees(latitude, longitude)
        self.latitude, self.longitude = latitude, longitude
        self._transformer = _plane(latitude, longitude)

    def to_local(self, latitude: float, longitude: float) -> tuple[float, float]:
        """East and north of the origin, in metres."""
        x, y = self._transformer.transform(longitude, latitude)
        return float(x), float(y)

    def many_to_local(self, positions: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
        """The same for many (latitude, longitude) pairs at once."""
        if not positions:
            return []
        latitudes, longitudes = zip(*positions, strict=True)
        x, y = self._transformer.transform(longitudes, latitudes)
        return list(zip(map(float, x), map(float, y), strict=True))

    def to_position(self, x_m: float, y_m: float) -> tuple[float, float]:
        """Latitude and longitude of a local point."""
        longitude, latitude = self._transformer.transform(x_m, y_m, direction="INVERSE")
        return float(latitude), float(longitude)


def _check_degrees(latitude: float, longitude: float) -> None:
    if not (math.isfinite(latitude) and math.isfinite(longitude)) or abs(latitude) > 90 or abs(longitude) > 180:
        raise GroundError(
            f"Latitude {latitude:g}, longitude {longitude:g} is not a place on the earth. Take the position again.",
            code="position_outside",
            fields={"latitude": "-90 to 90", "longitude": "-180 to 180"},
        )


def _is_state_plane(epsg: int) -> bool:
    """The registry names the projection of a state plane grid of 1983 SPCS83; BLM and statewide grids differ."""
    operation = _crs(epsg).coordinate_operation
    return operation is not None and operation.name.startswith("SPCS83")


def _near_area_of_use(latitude: float, longitude: float, epsg: int) -> bool:
    """Does a position lie in the grid's own area, or within a degree of it? Wrong zones and units do not."""
    area = _crs(epsg).area_of_use
    if area is None or not (math.isfinite(latitude) and math.isfinite(longitude)):
        return False
    return area.south - 1.0 <= latitude <= area.north + 1.0 and area.west - 1.0 <= longitude <= area.east + 1.0


def _unit_name(unit: LengthUnit) -> str:
    return {"m": "metres", "ft": "international feet", "ftUS": "US survey feet", "in": "inches"}[unit.value]


@lru_cache(maxsize=64)
def _crs(epsg: int) -> CRS:
    return CRS.from_epsg(epsg)


@lru_cache(maxsize=64)
def _transformer(grid: int) -> Transformer:
    """Degrees to a grid on the grid's OWN datum: no shift, so the result is the same on every machine."""
    crs = _crs(grid)
    geodetic = crs.geodetic_crs
    assert geodetic is not None
    return Transformer.from_crs(geodetic, crs, always_xy=True)


@lru_cache(maxsize=64)
def _plane(latitude: float, longitude: float) -> Transformer:
    """Degrees to metres about an origin. Every save of a point asks for its site's; making one takes 7 ms."""
    plane = CRS.from_proj4(
        f"+proj=tmerc +lat_0={latitude!r} +lon_0={longitude!r} +k=1 +x_0=0 +y_0=0 +ellps=WGS84 +units=m +no_defs"
    )
    return Transformer.from_crs(4326, plane, always_xy=True)
