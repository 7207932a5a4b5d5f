"""Marks in and out: what comes back, and every kind of bad file with its row and column. GeoJSON: RFC
7946.
"""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from locates.ground.coordinates import to_state_plane
from locates.ground.exchange import MOST_FAULTS, Mark, read_csv, read_geojson, to_geojson, write_csv
from locates.ground.lengths import LengthUnit
from locates.ground.refusal import GroundError

POINT = '{"features":[{"geometry":{"type":"Point","coordinates":[-75,40]},"properties":{"depth_m":%s}}]}'
HEAD = "latitude,longitude,depth_ft,note\n"
MARKS = st.builds(
    lambda lat, lon, depth, sigma, note: Mark(lat, lon, depth, sigma, note),
    st.floats(40.0, 40.001),
    st.floats(-75.001, -75.0),
    st.none() | st.floats(0.2, 3.0),
    st.floats(0.01, 5.0),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=20),
)


def _refused(text: str, **more: object) -> GroundError:
    with pytest.raises(GroundError) as refusal:
        read_csv(text, **more)  # type: ignore[arg-type]
    assert refusal.value.code == "file_refused"
    assert refusal.value.message.startswith("Nothing was taken from the file.")
    return refusal.value


def test_plain_file() -> None:
    text = "\ufeffLatitude, Longitude ,depth_ft,note\n40.0,-75.0,3 ft 6 in,valve\n40.0001,-75.0,,\n"
    first, second = read_csv(text)
    assert (first.latitude, first.longitude, first.note) == (40.0, -75.0, "valve")
    assert first.depth_m == pytest.approx(1.0668)
    assert second.depth_m is None


@given(st.lists(MARKS, min_size=1, max_size=8))
def test_csv_comes_back(marks: list[Mark]) -> None:
    assert list(read_csv(write_csv(marks))) == marks


@given(st.lists(MARKS, min_size=1, max_size=8))
def test_geojson_comes_back(marks: list[Mark]) -> None:
    body = to_geojson(marks, {"label": "gas 1"})
    assert body["features"][0]["geometry"]["coordinates"] == [marks[0].longitude, marks[0].latitude]
    assert len(body["features"]) == len(marks) + (len(marks) > 1)
    assert list(read_geojson(json.dumps(body))) == marks


def test_no_cell_of_ours_acts_as_a_formula() -> None:
    text = write_csv([Mark(40.0, -75.0, note='=HYPERLINK("x")')])
    assert ",\"'=HYPERLINK" in text
    assert read_csv(text)[0].note == '=HYPERLINK("x")'


@pytest.mark.parametrize("note", ["'=x", "''a", "'a", "'", "-", "+1", "@x", "a=b", ""])
def test_notes_with_marks_of_their_own_come_back(note: str) -> None:
    assert read_csv(write_csv([Mark(40.0, -75.0, note=note)]))[0].note == note


def test_state_plane_file_needs_its_grid_and_its_own_foot() -> None:
    point = to_state_plane(29.76, -95.37, 2278)
    text = f"easting,northing\n{point.easting!r},{point.northing!r}\n"
    (mark,) = read_csv(text, grid_epsg=2278, grid_unit=LengthUnit.SURVEY_FOOT)
    assert (mark.latitude, mark.longitude) == pytest.approx((29.76, -95.37), abs=1e-8)
    assert "EPSG" in _refused(text).message
    assert "US survey feet" in _refused(text, grid_epsg=2278, grid_unit=LengthUnit.FOOT).message


@pytest.mark.parametrize(
    ("row", "place", "words"),
    [
        ("40.0,-75.0,9999,", "row 3, column depth_ft", "over-range"),
        ("40.0,-75.0,-2,", "row 3, column depth_ft", "below the ground"),
        ("40.0,-75.0,42,", "row 3, column depth_ft", "Did you mean 42 in"),
        ("40.0,-75.0,deep,", "row 3, column depth_ft", "not a length"),
        ("-75.0,40.0,3,", "row 3, column latitude", "swapped"),
        ("40.0,75.0,3,", "row 3, column latitude", "minus sign"),
        ("40.01,-75.0,3,", "row 3, column position", "one before"),
        ("40.0,,3,", "row 3, column longitude", "not a number"),
        ("nan,-75.0,3,", "row 3, column latitude", "not a number"),
    ],
)
def test_bad_cells_are_named_with_row_and_column(row: str, place: str, words: str) -> None:
    refusal = _refused(HEAD + "40.0,-75.0,3,\n" + row + "\n")
    assert list(refusal.fields) == [place]
    assert words in refusal.fields[place]
    assert "row 3" in refusal.message


def test_all_faults_are_listed_up_to_a_page() -> None:
    refusal = _refused(HEAD + "40.0,-75.0,9999,\n" * 80)
    assert len(refusal.fields) == MOST_FAULTS
    assert "49 more" in refusal.message


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "needs columns"),
        ("x,y\n1,2\n", "needs columns"),
        ("latitude,longitude,easting,northing\n", "both"),
        ("latitude,longitude,depth\n40,-75,3\n", "does not say its unit"),
        ("latitude,longitude,depth_m,depth_ft\n", "keep one depth column"),
        (HEAD, "no marks"),
        ("latitude,longitude,position_sigma_m\n40,-75,0\n", "no error of a position"),
    ],
)
def test_bad_headings(text: str, words: str) -> None:
    assert words in _refused(text).message


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "not JSON"),
        ("[]", "feature collection"),
        ('{"features": 3}', "feature collection"),
        ('{"features": [null, {"geometry": {"type": "Polygon"}}]}', "no point features"),
        ('{"features": [{"geometry": {"type": "Point", "coordinates": [40, -75]}}]}', "swapped"),
        ('{"features": [{"geometry": {"type": "Point", "coordinates": ["a", 1]}}]}', "longitude and latitude"),
        (POINT % '"1"', "not a number"),
        (POINT % "9999", "over-range"),
    ],
)
def test_bad_geojson(text: str, words: str) -> None:
    with pytest.raises(GroundError) as refusal:
        read_geojson(text)
    assert words in refusal.value.message
