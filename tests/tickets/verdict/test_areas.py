"""Areas in metres on a local plane, held against pyproj's geodesics; every slip in drawing named."""

from __future__ import annotations

import math
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from tests.tickets.verdict.sample_facts import square
from tickets.verdict.areas import TOLERANCE_M, AreaRefused, Plane, in_country, overhang_m, parse_area

# Independent check: pyproj's Geod, the geodesic solution of C. F. F. Karney (2013), J. Geodesy 87, 43-55.
WGS84 = Geod(ellps="WGS84")


@settings(max_examples=200, deadline=None)
@given(
    lat=st.floats(19, 71),
    lon=st.floats(-160, -67),
    bearing=st.floats(0, 360),
    length_m=st.floats(1, 1000),
)
def test_lengths_on_the_plane_are_the_geodesic_ones(lat: float, lon: float, bearing: float, length_m: float) -> None:
    lon2, lat2, _ = WGS84.fwd(lon, lat, bearing, length_m)
    plane = Plane((lat + lat2) / 2, (lon + lon2) / 2)
    a, b = plane.lay(shapely.Point(lon, lat)), plane.lay(shapely.Point(lon2, lat2))
    assert a.distance(b) == pytest.approx(length_m, rel=1e-3)


@pytest.mark.parametrize("lat", [19.5, 37.5, 47.0, 64.8])
def test_the_area_is_the_geodesic_one(lat: float) -> None:
    ring = [(-100.0, lat), (-99.999, lat), (-99.999, lat + 0.001), (-100.0, lat + 0.001), (-100.0, lat)]
    flat = Plane(lat + 0.0005, -99.9995).lay(shapely.Polygon(ring)).area
    geodesic, _ = WGS84.polygon_area_perimeter([x for x, _ in ring], [y for _, y in ring])
    assert flat == pytest.approx(abs(geodesic), rel=1e-4)


def test_the_overhang_is_the_geodesic_distance_outside() -> None:
    cover, dig = shape(square(0, 0, 20)), shape(square(0, 0, 30))
    east = WGS84.inv(cover.bounds[2], 37.5, dig.bounds[2], 37.5)[2]
    north = WGS84.inv(-77.4, cover.bounds[3], -77.4, dig.bounds[3])[2]
    assert overhang_m(dig, [cover]) == pytest.approx(math.hypot(east, north), rel=2e-3)  # the far corner


def shape(given: Any) -> Any:
    return parse_area(given)


def test_inside_is_no_overhang_and_the_tolerance_is_a_limit() -> None:
    cover = shape(square(0, 0, 20))
    assert overhang_m(shape(square(1, 1, 5)), [cover]) == 0.0
    assert overhang_m(cover, [cover]) == 0.0
    inside, outside = TOLERANCE_M - 0.05, TOLERANCE_M + 0.05
    assert overhang_m(shape(square(15 + inside, 5, 5)), [cover]) == 0.0
    assert overhang_m(shape(square(15 + outside, 5, 5)), [cover]) == pytest.approx(outside, abs=0.02)


def test_two_areas_cover_together_and_none_covers_nothing() -> None:
    west, east, dig = shape(square(0, 0, 10)), shape(square(10, 0, 10)), shape(square(6, 2, 7))
    assert overhang_m(dig, [west, east]) == 0.0
    assert overhang_m(dig, [west]) == pytest.approx(3.0, abs=0.05)
    assert overhang_m(dig, []) == math.inf


def test_a_hole_in_the_ticket_area_is_outside() -> None:
    outer, inner = square(0, 0, 40)["coordinates"][0], square(10, 10, 20)["coordinates"][0]
    ring = parse_area({"type": "Polygon", "coordinates": [outer, inner]})
    assert overhang_m(shape(square(15, 15, 8)), [ring]) > 5


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (None, "NoneType"),
        ({"type": "Point", "coordinates": [-77.4, 37.5]}, "'Point' is not a GeoJSON Polygon"),
        ({"type": "Polygon", "coordinates": []}, "cannot be read"),
        ({"type": "Polygon", "coordinates": [[[-77.4, 37.5], [-77.3, 37.5]]]}, "cannot be read"),
        ({"type": "Polygon", "coordinates": [[["a", 1], [2, 3], [4, 5], ["a", 1]]]}, "cannot be read"),
        ({"type": "Polygon", "coordinates": [[[math.nan, 37.5], [-77.4, 37.6], [-77.3, 37.5]]]}, "cannot be read"),
        ({"type": "Polygon"}, "cannot be read"),
        (
            {"type": "Polygon", "coordinates": [[[37.5, -77.4], [37.51, -77.4], [37.51, -77.41], [37.5, -77.4]]]},
            "latitude and longitude swapped",
        ),
        (
            {"type": "Polygon", "coordinates": [[[2.3, 48.8], [2.31, 48.8], [2.31, 48.81], [2.3, 48.8]]]},
            "outside the country",
        ),
        (
            {
                "type": "Polygon",
                "coordinates": [[[-77.4, 37.5], [-77.39, 37.51], [-77.39, 37.5], [-77.4, 37.51], [-77.4, 37.5]]],
            },
            "crosses itself",
        ),
        (square(0, 0, 3000), "km²"),
        (square(0, 0, 0.05), "smaller than a hand"),
    ],
)
def test_each_slip_is_named(given: Any, words: str) -> None:
    with pytest.raises(AreaRefused, match="The area cannot be used") as refused:
        parse_area(given)
    assert words in refused.value.message
    assert "polygon" in refused.value.fields


def test_too_many_points_and_too_far_from_the_site() -> None:
    turn = [n * 2 * math.pi / 6000 for n in range(6000)]
    ring = [[-77.4 + 0.001 * math.cos(t), 37.5 + 0.001 * math.sin(t)] for t in turn]
    with pytest.raises(AreaRefused, match="6001 points"):
        parse_area({"type": "Polygon", "coordinates": [[*ring, ring[0]]]})
    parse_area(square(), near=(37.5, -77.4))
    with pytest.raises(AreaRefused, match="km from the site"):
        parse_area(square(), near=(37.8, -77.4))


def test_a_multipolygon_is_read() -> None:
    both = {"type": "MultiPolygon", "coordinates": [square(0, 0, 5)["coordinates"], square(20, 0, 5)["coordinates"]]}
    assert len(parse_area(both).geoms) == 2


@pytest.mark.parametrize(
    ("lat", "lon", "inside"),
    [(37.5, -77.4, True), (61.2, -149.9, True), (21.3, -157.9, True), (52.0, 175.0, True), (48.8, 2.3, False)],
)
def test_boxes_of_the_country(lat: float, lon: float, inside: bool) -> None:
    assert in_country(lat, lon) is inside
