"""Points in and out of files, in three kinds of coordinates, with faults by row and column."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from locates.field import exchange
from locates.field.models import Run
from tests.factories import LATITUDE, LONGITUDE
from tests.locates.field.making import follow, start
from tickets.models import Job

pytestmark = pytest.mark.usefixtures("frozen_now")
FILES = Path(__file__).resolve().parents[3] / "fixtures" / "field"


@pytest.fixture
def run(job: Job, people: dict[str, Any]) -> Run:
    return start(job, people["member"])


def send(client: Client, run: Run, name: str, content: bytes, grid: int = 0) -> Any:
    return client.post(f"/locates/runs/{run.pk}/files", {"file": SimpleUploadedFile(name, content), "grid": grid})


def test_a_file_is_taken_whole(clients: dict[str, Client], run: Run) -> None:
    answer = send(clients["member"], run, "points.csv", (FILES / "points.csv").read_bytes())
    assert answer.status_code == 302
    assert [round(p.depth_m / 0.3048, 1) for p in run.points.all()] == [2.4, 2.5, 2.6, 2.4, 2.5, 2.6, 2.4, 2.5]


def test_a_broken_file_is_refused_whole_with_row_and_column(clients: dict[str, Client], run: Run) -> None:
    answer = send(clients["member"], run, "broken.csv", (FILES / "broken.csv").read_bytes())
    assert answer.status_code == 400
    words = " ".join([*answer.context["form"].errors["file"], *answer.context["faults"]])
    for part in ("row 3: Latitude -77.62", "row 4, column depth_ft", "over-range", "row 5: This point lies"):
        assert part in words, words
    assert not run.points.exists()


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("points.xls", b"x", "neither .csv nor .geojson"),
        ("points.csv", b"\xff\xfe\x00", "not UTF-8"),
        ("points.geojson", b"{", "not JSON"),
        ("points.csv", b"easting,northing\n1,2\n", "EPSG code"),
        ("points.csv", b"latitude,longitude,depth\n37.4,-77.62,3\n", "does not say its unit"),
    ],
)
def test_what_is_no_file_of_points_is_said_beside_the_field(
    clients: dict[str, Client], run: Run, name: str, content: bytes, words: str
) -> None:
    answer = send(clients["member"], run, name, content)
    assert words in answer.context["form"].errors["file"][0]


def test_out_and_in_again_in_every_grid(clients: dict[str, Client], job: Job, people: dict[str, Any]) -> None:
    """Degrees, UTM, and state plane in US survey feet and metres lead back to the same places."""
    made = follow(start(job, people["member"]), people["member"])
    grids = exchange.grids_at(LATITUDE, LONGITUDE)
    assert any("UTM zone 18N" in g.words for g in grids)
    assert any("Virginia South" in g.words and "US survey feet" in g.words for g in grids)
    for grid in grids:
        text = clients["member"].get(f"/locates/runs/{made.pk}/points.csv?grid={grid.epsg}").content.decode()
        marks = exchange.read("x.csv", text, grid.epsg)
        for mark, point in zip(marks, made.points.all(), strict=True):
            # 0.1 mm in the grid's own unit is written out
            assert (mark.latitude, mark.longitude) == pytest.approx((point.latitude, point.longitude), abs=2e-9)
            assert mark.depth_m == point.depth_m


def test_geojson_goes_out_and_comes_in(clients: dict[str, Client], job: Job, people: dict[str, Any]) -> None:
    made = follow(start(job, people["member"]), people["member"])
    answer = clients["member"].get(f"/locates/runs/{made.pk}/points.geojson")
    assert answer.headers["Content-Type"] == "application/geo+json"
    body = json.loads(answer.content)
    assert body["features"][-1]["properties"]["colour"] == "red"
    again = start(job, people["member"])
    assert send(clients["member"], again, "run.geojson", answer.content).status_code == 302
    assert again.points.count() == made.points.count()


def test_another_crew_sees_no_file(clients: dict[str, Client], run: Run) -> None:
    for name in ("files", "points.csv", "points.geojson"):
        assert clients["other"].get(f"/locates/runs/{run.pk}/{name}").status_code == 404
