"""Coordinates against published worked examples.

EPSG guidance note 7-2, method 9802: NAD27 / Texas South Central, 28 30 N 96 00 W is E 2,963,503.91 N 254,759.80
US survey feet. Snyder, Map Projections: A Working Manual (USGS PP 1395), p. 269: UTM zone 18 on Clarke 1866,
40 30 N 73 30 W is x 127,106.5 from the central meridian, y 4,484,124.4. Survey foot: 85 FR 62698.
State plane feet by law: Arizona, Michigan and Oregon use the international foot, Texas and New York the US
survey foot (from memory; the registry inside pyproj agrees).
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from locates.ground.coordinates import (
    LocalGrid,
    convert,
    feet_apart_m,
    from_grid,
    grid_unit,
    state_planes,
    to_state_plane,
    to_utm,
    utm_epsg,
)
from locates.ground.lengths import LengthUnit
from locates.ground.refusal import GroundError

FOOT, SURVEY, METRE = LengthUnit.FOOT, LengthUnit.SURVEY_FOOT, LengthUnit.METRE
LATITUDES, LONGITUDES = st.floats(25.0, 49.0), st.floats(-124.0, -67.0)


def test_published_state_plane_example() -> None:
    point = to_state_plane(28.5, -96.0, 32040)
    assert point.easting == pytest.approx(2963503.91, abs=0.005)
    assert point.northing == pytest.approx(254759.80, abs=0.005)
    assert point.unit is SURVEY
    assert from_grid(2963503.91, 254759.80, 32040, SURVEY) == pytest.approx((28.5, -96.0), abs=1e-7)


def test_published_utm_example() -> None:
    point = to_utm(40.5, -73.5, epsg=26718)
    assert point.easting == pytest.approx(627106.5, abs=0.05)
    assert point.northing == pytest.approx(4484124.4, abs=0.05)


@pytest.mark.parametrize(
    ("latitude", "longitude", "epsg"),
    [(40.0, -75.0, 32618), (40.0, -78.0, 32618), (40.0, -78.01, 32617), (21.3, -157.8, 32604), (52.0, 180.0, 32660)],
)
def test_utm_zone(latitude: float, longitude: float, epsg: int) -> None:
    assert utm_epsg(latitude, longitude) == epsg


@pytest.mark.parametrize(
    ("latitude", "longitude", "name", "unit"),
    [
        (29.76, -95.37, "Texas South Central", SURVEY),
        (33.45, -112.07, "Arizona Central", FOOT),
        (45.50, -122.60, "Oregon North", FOOT),
        (42.70, -84.50, "Michigan South", FOOT),
        (41.88, -87.63, "Illinois East", SURVEY),
    ],
)
def test_state_plane_zone_and_its_own_foot(latitude: float, longitude: float, name: str, unit: LengthUnit) -> None:
    found = state_planes(latitude, longitude)
    assert name in found[0].name
    assert found[0].unit is unit
    assert {s.unit for s in found} >= {METRE}
    assert "1 to 2 m" in to_state_plane(latitude, longitude, found[0].epsg).note


def test_near_a_zones_edge_more_than_one_answers() -> None:
    names = {s.name for s in state_planes(40.70, -74.00)}
    assert any("New Jersey" in n for n in names)
    assert any("New York Long Island" in n for n in names)


def test_mixing_the_two_feet_is_refused_with_the_size_of_the_error() -> None:
    """Two parts in a million: 1.22 m, which is 4 ft, at 2,000,000 ft."""
    assert feet_apart_m(2_000_000) == pytest.approx(1.219, abs=0.001)
    with pytest.raises(GroundError) as refusal:
        from_grid(2_000_000.0, 700_000.0, 2278, FOOT)
    assert refusal.value.code == "wrong_unit_for_grid"
    assert "1.22 m" in refusal.value.message
    assert refusal.value.correction == {"unit": "ftUS"}


def test_feet_convert_apart() -> None:
    assert convert(1_000_000.0, SURVEY, FOOT) == pytest.approx(1_000_002.0, abs=1e-3)
    assert convert(12.0, LengthUnit.INCH, FOOT) == pytest.approx(1.0)


def test_grid_in_other_units_is_refused() -> None:
    with pytest.raises(GroundError) as refusal:
        grid_unit(4326)
    assert refusal.value.code == "grid_unit_unknown"


@settings(max_examples=50)
@given(LATITUDES, LONGITUDES)
def test_grids_come_back(latitude: float, longitude: float) -> None:
    point = to_utm(latitude, longitude)
    back = from_grid(point.easting, point.northing, point.epsg)
    assert back == pytest.approx((latitude, longitude), abs=1e-8)


@settings(max_examples=25)
@given(LATITUDES, LONGITUDES, st.floats(-500, 500), st.floats(-500, 500))
def test_local_metres_are_metres_on_the_ellipsoid(latitude: float, longitude: float, x: float, y: float) -> None:
    """Distance by the geodesic of an independent routine, to a millimetre within half a kilometre."""
    grid = LocalGrid(latitude, longitude)
    there = grid.to_position(x, y)
    assert grid.to_local(*there) == pytest.approx((x, y), abs=1e-6)
    _, _, distance = Geod(ellps="WGS84").inv(longitude, latitude, there[1], there[0])
    assert distance == pytest.approx(math.hypot(x, y), abs=1e-3)


def test_many_positions_at_once() -> None:
    grid = LocalGrid(40.0, -75.0)
    positions = [(40.0, -75.0), (40.001, -75.001)]
    assert grid.many_to_local(positions) == [pytest.approx(grid.to_local(*p)) for p in positions]
    assert grid.many_to_local([]) == []


@pytest.mark.parametrize(
    ("call", "code"),
    [
        (lambda: to_utm(95.0, 0.0), "position_outside"),
        (lambda: utm_epsg(float("nan"), 0.0), "position_outside"),
        (lambda: LocalGrid(0.0, 400.0), "position_outside"),
        (lambda: from_grid(1e12, 1e12, 2278), "outside_grid"),
        # metres typed into a grid of feet
        (lambda: from_grid(951_000.0, 4_219_000.0, 2278), "outside_grid"),
    ],
)
def test_refusals(call, code: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(GroundError) as refusal:
        call()
    assert refusal.value.code == code
