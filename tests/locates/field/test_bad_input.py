"""Bad input as a person meets it on a page: a plain message beside the field, and how to correct it."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from pyproj import Transformer

from locates.field import exchange
from locates.field.models import Run
from locates.ground.coordinates import state_planes
from locates.ground.lengths import LengthUnit
from tests.crews.factories import VisitFactory
from tests.factories import LATITUDE, LONGITUDE, NOW, dispatcher, make_job
from tests.locates.field.making import at, follow, start
from tickets.models import Job

pytestmark = pytest.mark.usefixtures("frozen_now")
HEAD = "latitude,longitude,depth_in\n"
GOOD = f"{LATITUDE},{LONGITUDE},30\n"


@pytest.fixture
def run(job: Job, people: dict[str, Any]) -> Run:
    return follow(start(job, people["member"]), people["member"])


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"depth": "9999"}, "depth", "over-range display, not a depth. Lower the transmitter's output"),
        ({"depth": "OL"}, "depth", "over-range display, not a depth"),
        ({"depth": "-20"}, "depth", "Leave the depth empty when none was read"),
        ({"depth": "3"}, "depth", "Did you mean 3 ft?"),
        ({"depth": "30", "unit": "ft"}, "depth", "Did you mean 30 in?"),
        ({"depth": "4 ft 14 in"}, "depth", "inches run from 0 to 11"),
        (at(330, 9), "latitude", "Take the position again, or start a new run here"),
        ({"latitude": LONGITUDE, "longitude": LATITUDE}, "latitude", "Latitude and longitude look swapped"),
        ({"longitude": -LONGITUDE}, "latitude", "lost its minus sign"),
        ({"latitude": "0", "longitude": "0"}, "latitude", "not in the United States"),
    ],
)
def test_a_point(clients: dict[str, Client], run: Run, given: dict[str, Any], field: str, words: str) -> None:
    body = {**at(18, 9), "accuracy": "8 in", "depth": "30", "unit": "in", **given}
    answer = clients["member"].post(f"/locates/runs/{run.pk}/point", body)
    assert answer.status_code == 400
    assert words in answer.context["point_form"].errors[field][0]
    assert "Nothing was saved" in answer.content.decode()
    assert run.points.count() == 6


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (HEAD + GOOD + f"{LATITUDE},{LONGITUDE},9999\n", "row 3, column depth_in"),
        (HEAD + GOOD + f"{LATITUDE},{LONGITUDE},-4\n", "row 3, column depth_in"),
        (HEAD + GOOD + f"{LONGITUDE},{LATITUDE},30\n", "row 3: Latitude"),
        (HEAD + GOOD + f"{LATITUDE + 0.01},{LONGITUDE},30\n", "row 3: This point lies"),
        (HEAD + GOOD + f"x,{LONGITUDE},30\n", "row 3, column latitude"),
        (HEAD.replace("depth_in", "depth_ft") + f"{LATITUDE},{LONGITUDE},30\n", "row 2, column depth_ft"),
    ],
)
def test_a_file_says_which_row_and_column(clients: dict[str, Client], run: Run, text: str, words: str) -> None:
    file = SimpleUploadedFile("points.csv", text.encode())
    answer = clients["member"].post(f"/locates/runs/{run.pk}/files", {"file": file, "grid": 0})
    assert answer.status_code == 400
    said = " ".join([*answer.context["form"].errors["file"], *answer.context["faults"]])
    assert words in said, said
    assert run.points.count() == 6


def test_geojson_says_which_feature(clients: dict[str, Client], run: Run) -> None:
    feature = '{"type":"Feature","geometry":{"type":"Point","coordinates":[37.4,-77.62]},"properties":{}}'
    text = f'{{"type":"FeatureCollection","features":[{feature}]}}'
    file = SimpleUploadedFile("points.geojson", text.encode())
    answer = clients["member"].post(f"/locates/runs/{run.pk}/files", {"file": file, "grid": 0})
    said = " ".join([*answer.context["form"].errors["file"], *answer.context["faults"]])
    assert "feature 1" in said
    assert "swapped" in said


@pytest.mark.parametrize(
    ("state", "zone", "latitude", "longitude", "unit"),
    [
        ("VA", "America/New_York", LATITUDE, LONGITUDE, LengthUnit.SURVEY_FOOT),
        ("OR", "America/Los_Angeles", 45.5, -122.0, LengthUnit.FOOT),
    ],
)
def test_the_two_feet_of_state_planes_are_told_apart(
    clients: dict[str, Client],
    people: dict[str, Any],
    state: str,
    zone: str,
    latitude: float,
    longitude: float,
    unit: Any,
) -> None:
    """Virginia's plane is in US survey feet, Oregon's in international feet: at the millions of feet of a false
    origin the wrong one is yards off. Out by the page, in by the page, to the millimetre."""
    job = make_job(
        actor=dispatcher(), state=state, time_zone=zone, latitude=latitude, longitude=longitude, dig_areas=[]
    )
    VisitFactory(job=job, crew=people["member"].crew, starts_at=NOW)
    plane = next(p for p in state_planes(latitude, longitude) if p.unit == unit)
    words = {g.epsg: g.words for g in exchange.grids_at(latitude, longitude)}[plane.epsg]
    assert ("US survey feet" in words) is (unit is LengthUnit.SURVEY_FOOT)
    run = start(job, people["member"])
    text = f"latitude,longitude\n{latitude},{longitude}\n{latitude},{longitude + 0.0001}\n"
    client = clients["member"]
    address = f"/locates/runs/{run.pk}/files"
    assert client.post(address, {"file": SimpleUploadedFile("a.csv", text.encode()), "grid": 0}).status_code == 302
    out = client.get(f"/locates/runs/{run.pk}/points.csv?grid={plane.epsg}").content
    easting, northing = (float(v) for v in out.decode().splitlines()[1].split(",")[:2])
    plain = Transformer.from_crs(plane.epsg, 4269, always_xy=True).transform(easting, northing)
    assert plain == pytest.approx((longitude, latitude), abs=1e-8)
    again = start(job, people["member"])
    back = {"file": SimpleUploadedFile("b.csv", out), "grid": plane.epsg}
    assert client.post(f"/locates/runs/{again.pk}/files", back).status_code == 302
    for one, other in zip(run.points.all(), again.points.all(), strict=True):
        assert (one.latitude, one.longitude) == pytest.approx((other.latitude, other.longitude), abs=1e-8)
