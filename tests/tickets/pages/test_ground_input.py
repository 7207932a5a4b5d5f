"""Ground as typed: the rectangle against geodesics computed by pyproj (GeographicLib's method, C. F. F.
Karney, Algorithms for geodesics, J. Geodesy 87, 2013); the outline's frame."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod

from tickets.pages.ground_input import BadGround, outline, rectangle

GEOD = Geod(ellps="WGS84")
SQUARE = {"type": "Polygon", "coordinates": [[[-77, 37], [-76.9, 37], [-76.9, 37.1], [-77, 37]]]}


@given(
    latitude=st.floats(18.7, 71.5),
    longitude=st.floats(-170, -67),
    length_m=st.floats(1, 500),
    width_m=st.floats(0.3, 50),
    bearing_deg=st.floats(0, 360),
)
def test_sides_and_direction_are_those_of_the_earth(
    latitude: float, longitude: float, length_m: float, width_m: float, bearing_deg: float
) -> None:
    made = rectangle(latitude, longitude, length_m=length_m, width_m=width_m, bearing_deg=bearing_deg)
    corners = made["coordinates"][0]
    assert len(corners) == 5
    assert corners[0] == corners[-1]
    front_left, front_right, back_right, back_left, _ = corners
    for (a, b), wanted_m in (((front_right, back_right), length_m), ((front_left, front_right), width_m)):
        _, _, found_m = GEOD.inv(*a, *b)
        assert found_m == pytest.approx(wanted_m, rel=2e-3, abs=0.005)
    middle_front = [(front_left[i] + front_right[i]) / 2 for i in (0, 1)]
    middle_back = [(back_left[i] + back_right[i]) / 2 for i in (0, 1)]
    azimuth, _, _ = GEOD.inv(*middle_back, *middle_front)
    off = (azimuth - bearing_deg + 180) % 360 - 180
    assert abs(off) < 0.2 + math.degrees(0.003 / length_m)
    middle = [(middle_front[i] + middle_back[i]) / 2 for i in (0, 1)]
    assert middle == pytest.approx([longitude, latitude], abs=1e-7)


@pytest.mark.parametrize(("length_m", "width_m", "field"), [(0, 1, "length"), (10, 0, "width"), (2001, 1, "length")])
def test_no_rectangle_without_size(length_m: float, width_m: float, field: str) -> None:
    with pytest.raises(BadGround) as refused:
        rectangle(37.4, -77.6, length_m=length_m, width_m=width_m)
    assert list(refused.value.fields) == [field]


@pytest.mark.parametrize(
    "given_text",
    [
        SQUARE,
        {"type": "Feature", "properties": {}, "geometry": SQUARE},
        {"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": SQUARE}]},
    ],
)
def test_an_outline_is_taken_out_of_its_frame(given_text: dict[str, Any]) -> None:
    assert outline(json.dumps(given_text)) == SQUARE


@pytest.mark.parametrize(
    "text", ["", "37.4, -77.6", "[1, 2]", '{"type": "FeatureCollection", "features": []}', "[" * 20_000]
)
def test_what_is_no_outline_is_said_to_be_none(text: str) -> None:
    with pytest.raises(BadGround, match="draw the outline, or paste a GeoJSON Polygon"):
        outline(text)
