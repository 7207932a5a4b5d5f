"""The dig area to scale: lengths on the paper against lengths on the ground."""

from __future__ import annotations

import re

import pytest

from locates.lengths import FOOT_M
from tests.factories import LATITUDE, LONGITUDE, square
from tickets.pages.drawing import HEIGHT, WIDTH, drawing_of
from tickets.pages.ground_input import rectangle


def points(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", path)]


def test_nothing_to_draw_without_a_dig_area() -> None:
    assert drawing_of([], [square()]) is None


def test_the_bar_and_the_trench_have_one_scale() -> None:
    trench = rectangle(LATITUDE, LONGITUDE, length_m=40 * FOOT_M, width_m=4 * FOOT_M, bearing_deg=90)
    drawing = drawing_of([trench], position=(LATITUDE, LONGITUDE))
    assert drawing is not None
    xs = [x for x, _ in points(drawing.digs[0].path)]
    ys = [y for _, y in points(drawing.digs[0].path)]
    bar_feet = float(drawing.bar_words.removesuffix(" ft"))
    units_a_foot = (drawing.bar[1] - drawing.bar[0]) / bar_feet
    assert (max(xs) - min(xs)) / units_a_foot == pytest.approx(40, abs=0.1)
    assert (max(ys) - min(ys)) / units_a_foot == pytest.approx(4, abs=0.1)
    assert drawing.digs[0].size_words == "40 ft by 4 ft"
    assert drawing.position == (WIDTH / 2, HEIGHT / 2)


def test_north_is_up_and_east_is_right() -> None:
    south, north = square(0, 0, 5), square(0, 15, 5)
    drawing = drawing_of([south, north, square(15, 0, 5)])
    assert drawing is not None
    first, above, beside = (points(dig.path)[0] for dig in drawing.digs)
    assert above[1] < first[1]
    assert above[0] == pytest.approx(first[0], abs=0.2)
    assert beside[0] > first[0]


def test_everything_dug_lies_on_the_paper_and_a_vast_ticket_does_not_dwarf_it() -> None:
    drawing = drawing_of([square(5, 5, 8)], [square(-900, -900, 1800)], (LATITUDE + 1, LONGITUDE))
    assert drawing is not None
    dug = points(drawing.digs[0].path)
    assert all(0 <= x <= WIDTH and 0 <= y <= HEIGHT for x, y in dug)
    assert max(x for x, _ in dug) - min(x for x, _ in dug) > 60
    assert drawing.position is None  # a site's position far off is not drawn at the edge
