"""The sketch of a day, its scale held against a second formula for distances."""

from __future__ import annotations

import math

from pyproj import Geod

from crews.plans.sketch import HEIGHT, METRES_A_MILE, WIDTH, lay_sketch

YARD, SITES = (37.5, -77.4), ((37.40, -77.62), (37.44, -77.62), (37.40, -77.62))


def test_stops_lie_inside_and_one_place_is_one_spot() -> None:
    sketch = lay_sketch(YARD, SITES)
    assert [spot.number for spot in sketch.spots] == ["", "1, 3", "2"]
    assert all(0 < spot.x < WIDTH and 0 < spot.y < HEIGHT for spot in sketch.spots)
    assert sketch.yard.x > sketch.spots[1].x  # the yard lies east
    assert sketch.yard.y < sketch.spots[1].y  # and north


def test_the_bar_measures_what_it_says() -> None:
    """Against the geodesic on the WGS 84 ellipsoid (pyproj, C. F. F. Karney's algorithm)."""
    sketch = lay_sketch(YARD, SITES)
    first = sketch.spots[1]
    drawn = math.dist((sketch.yard.x, sketch.yard.y), (first.x, first.y))
    miles = float(sketch.bar_words.split()[0])
    _, _, true_m = Geod(ellps="WGS84").inv(YARD[1], YARD[0], SITES[0][1], SITES[0][0])
    assert abs(drawn / sketch.bar_width * miles * METRES_A_MILE - true_m) / true_m < 0.005


def test_a_single_site_at_the_yard() -> None:
    sketch = lay_sketch(YARD, [YARD])
    assert (sketch.yard.x, sketch.yard.y) == (WIDTH / 2, HEIGHT / 2)
