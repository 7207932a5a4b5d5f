"""Travel times against published figures and a general-purpose geodesic library."""

from __future__ import annotations

import io
import json
import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from crews.planning.errors import BadTravelAnswer
from crews.planning.problem import Place
from crews.planning.routing_server import RoutingServer
from crews.planning.travel import great_circle_m, great_circle_travel, matrix_travel, planar_travel

PLACES = [Place.geographic(40.0, -83.0), Place.geographic(40.1, -83.1), Place.geographic(40.3, -82.9)]


@settings(derandomize=True, deadline=None)
@given(st.floats(25, 49), st.floats(-124, -67), st.floats(25, 49), st.floats(-124, -67))
def test_great_circle_is_near_the_geodesic(lat1: float, lon1: float, lat2: float, lon2: float) -> None:
    """PROJ's geodesic on WGS 84 (C. F. F. Karney, "Algorithms for geodesics", Journal of Geodesy 87, 2013); a sphere
    differs from the ellipsoid by at most 0.6 % (flattening 1/298.257 bounds it)."""
    _, _, geodesic_m = Geod(ellps="WGS84").inv(lon1, lat1, lon2, lat2)
    ours_m = great_circle_m(Place.geographic(lat1, lon1), Place.geographic(lat2, lon2))
    assert math.isclose(ours_m, geodesic_m, rel_tol=0.006, abs_tol=0.5)


def test_travel_is_symmetric_and_nought_at_home() -> None:
    travel = great_circle_travel(PLACES)
    assert (travel.time_s == travel.time_s.T).all()
    assert (travel.time_s.diagonal() == 0).all()
    assert travel.seconds(PLACES[0], PLACES[1]) > 0


def test_tenths_are_cut() -> None:
    """Legs cut to one decimal: the convention of the DIMACS challenge for Solomon's instances."""
    travel = planar_travel([Place.plane(0, 0), Place.plane(1, 1), Place.plane(0, 3)], 10)
    assert travel.time_s.tolist() == [[0, 14, 30], [14, 0, 22], [30, 22, 0]]


def _answer(**more: Any) -> dict[str, object]:
    return {"code": "Ok", "durations": [[0, 60.2, None], [61, 0, 5], [9, 9, 0]], **more}


def test_a_missing_route_falls_back_and_says_so() -> None:
    fallback = great_circle_travel(PLACES)
    travel = matrix_travel(PLACES, _answer(), fallback)
    assert travel.seconds(PLACES[0], PLACES[1]) == 61
    assert travel.seconds(PLACES[0], PLACES[2]) == fallback.seconds(PLACES[0], PLACES[2])
    assert travel.missing == ((0, 2),)
    assert "1 pairs without a route" in travel.note


@pytest.mark.parametrize(
    "rubbish",
    [
        {"code": "NoTable"},
        {"code": "Ok"},
        {"code": "Ok", "durations": [[0]]},
        {"code": "Ok", "durations": [[0, 1, 2], [1, 0, "far"], [1, 1, 0]]},
        {"code": "Ok", "durations": [[0, 1, 2], [1, 0, -5], [1, 1, 0]]},
        {"code": "Ok", "durations": [[0, 1, 2], [1, 0, math.nan], [1, 1, 0]]},
    ],
)
def test_rubbish_is_refused(rubbish: dict[str, object]) -> None:
    with pytest.raises(BadTravelAnswer):
        matrix_travel(PLACES, rubbish, great_circle_travel(PLACES))


def test_the_server_is_asked_once_in_its_own_shape() -> None:
    asked: list[str] = []

    def fetch(url: str, timeout_s: float) -> bytes:
        asked.append(url)
        return json.dumps(_answer()).encode()

    server = RoutingServer("http://routing.example/", fetch=fetch)
    first, second = server.travel(PLACES), server.travel(PLACES)
    assert first is second
    assert len(asked) == 1
    assert asked[0].startswith("http://routing.example/table/v1/driving/-83.000000,40.000000;")


@pytest.mark.parametrize(
    ("failure", "words"),
    [
        (TimeoutError(), "did not answer in time"),
        (OSError("refused"), "cannot be reached"),
        (b"<html>", "not JSON"),
        (b"[1, 2]", "not an object"),
        (b'{"code": "InvalidQuery"}', "InvalidQuery"),
    ],
)
def test_a_failing_server_falls_back_and_says_so(failure: Exception | bytes, words: str) -> None:
    def fetch(url: str, timeout_s: float) -> bytes:
        if isinstance(failure, bytes):
            return io.BytesIO(failure).read()
        raise failure

    travel = RoutingServer("http://routing.example", fetch=fetch).travel(PLACES)
    assert words in travel.note
    assert (travel.time_s == great_circle_travel(PLACES).time_s).all()
