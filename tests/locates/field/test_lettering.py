"""Texts on a drawing stand beside what they name and over no other text."""

from __future__ import annotations

import shapely
from hypothesis import given
from hypothesis import strategies as st

from locates.field.lettering import Lettering, about, beside, upon, words_wide

COURSE = [(100.0, 300.0), (600.0, 300.0)]
place = st.floats(20, 700)
courses = st.lists(st.tuples(place, place), min_size=2, max_size=5, unique=True)


def sheet() -> Lettering:
    return Lettering(720, 540, [shapely.LineString(COURSE)])


def test_a_note_stands_beside_its_line_at_the_place_asked_for() -> None:
    spot = sheet().place(100, 18, beside(COURSE, 0.5, 100, 18), must=False)
    assert spot is not None
    assert abs(spot.x - 350) < 11
    assert abs(spot.y - 300) >= 9 + 5


def test_a_taken_place_is_left_for_the_next_one_along() -> None:
    texts = sheet()
    texts.keep_free(350, 300, 120, 120)
    spot = texts.place(100, 18, beside(COURSE, 0.5, 100, 18), must=False)
    assert spot is not None
    assert abs(spot.x - 350) >= 60 + 50


def test_without_room_a_text_is_left_out_unless_it_must_be_there() -> None:
    texts = sheet()
    texts.keep_free(360, 270, 720, 540)
    assert texts.place(24, 24, upon(COURSE, 0.5), must=False) is None
    assert texts.place(24, 24, upon(COURSE, 0.5), must=True) is not None


def test_the_words_at_the_edge_go_to_the_side_that_has_room() -> None:
    wide = words_wide("Corner of the house")
    spot = sheet().place(wide, 18, about(715, 535, wide, 18, 8), must=True)
    assert spot is not None
    assert spot.x + wide / 2 <= 720
    assert spot.y + 9 <= 540


@given(st.lists(courses, min_size=1, max_size=6))
def test_no_text_that_may_be_left_out_lies_over_another_or_off_the_sheet(
    lines: list[list[tuple[float, float]]],
) -> None:
    texts = Lettering(720, 540, [shapely.LineString(line) for line in lines])
    boxes = []
    for line in lines:
        spot = texts.place(120, 18, beside(line, 0.5, 120, 18), must=False)
        if spot is not None:
            boxes.append(shapely.box(spot.x - 60, spot.y - 9, spot.x + 60, spot.y + 9))
    sheet_box = shapely.box(0, 0, 720, 540)
    for number, box in enumerate(boxes):
        assert sheet_box.covers(box)
        assert all(box.intersection(other).area == 0 for other in boxes[:number])
