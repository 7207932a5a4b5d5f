"""From a camera's counter to a dig point, and a pipe's fall against the code."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.test import Client

from locates.field import selectors, services
from locates.field.drawing import draw
from locates.field.models import Observation, Run
from locates.field.plan import site_plan
from tests.factories import NOW, make_ticket
from tests.locates.field.making import RECEIVER, SONDE, add, finish, start
from tests.locates.field.test_report import context_of
from tickets.models import EvidenceEntry, Job

pytestmark = pytest.mark.usefixtures("frozen_now")
FT = 0.3048
EIGHTH = 0.125 / 12


def sewer(job: Job, actor: Any, fall: float = 2 * EIGHTH, marks: int = 6, level: str | None = "0") -> Run:
    """A sonde every 10 ft from a clean-out, running east, falling evenly from 3 ft; the counter begins at 2 ft."""
    run = start(job, actor, method="sonde", utility="sewer", frequency_hz=512.0, devices=(RECEIVER, SONDE))
    for index in range(marks):
        given = {} if level is None else {"ground_level": level}
        deep = (3 + 10 * index * fall) * 12
        add(
            run,
            actor,
            index * 10 * FT,
            0.0,
            depth=f"{deep:.3f}",
            counter=str(2 + 10 * index),
            accuracy_m=0.05,
            **given,
        )
    run.refresh_from_db()
    return run


@pytest.fixture
def run(job: Job, people: dict[str, Any]) -> Run:
    return sewer(job, people["member"])


def post(client: Client, run: Run, **given: Any) -> Any:
    given = {"client_id": str(uuid.uuid4()), "words": "break", **given}
    return client.post(f"/locates/runs/{run.pk}/pipe", given)


def test_the_break_is_at_43_ft(clients: dict[str, Client], run: Run) -> None:
    """Counter 43 ft lies 41 ft from the first mark: 1 ft past the mark at 40 ft, 9 ft before that at 50 ft."""
    assert post(clients["member"], run, counter="43").status_code == 302
    run.refresh_from_db()
    (spot,) = run.result["dig_points"]
    assert spot["trouble"] == ""
    assert (spot["x_m"], spot["y_m"]) == pytest.approx((41 * FT, 0.0), abs=0.05)
    assert 0.15 < spot["radius_m"] < 1.5
    assert spot["depth_m"] == pytest.approx((3 + 41 * 2 * EIGHTH) * FT, abs=0.05)
    page = clients["member"].get(f"/locates/runs/{run.pk}/pipe").content.decode()
    for words in ("Break at 43 ft of the counter", "1 ft from point 5 and 9 ft from point 6", "Radius of doubt"):
        assert words in page, words
    assert "never permits machine digging" in page
    for address in (f"/locates/runs/{run.pk}/", f"/locates/jobs/{run.job_id}/"):
        assert "Break at 43 ft of the counter" in clients["member"].get(address).content.decode()
    assert EvidenceEntry.objects.get(kind="camera_observation").payload["counter_m"] == pytest.approx(43 * FT)


def test_the_sonde_behind_the_lens_shifts_the_place(clients: dict[str, Client], run: Run) -> None:
    post(clients["member"], run, counter="43")
    given = {"pipe_size": "4 in", "plumbing_code": "IPC", "flows_away": "yes", "sonde_behind_lens": "6 in"}
    assert clients["member"].post(f"/locates/runs/{run.pk}/pipe/described", given).status_code == 302
    run.refresh_from_db()
    assert run.result["dig_points"][0]["x_m"] == pytest.approx(41.5 * FT, abs=0.05)


def test_it_is_drawn_with_its_doubt_and_held_against_the_tickets_area(
    clients: dict[str, Client], run: Run, people: dict[str, Any]
) -> None:
    post(clients["member"], run, counter="43")
    address = f"/locates/runs/{run.pk}/pipe"
    assert "ticket&#x27;s area" not in clients["member"].get(address).content.decode()
    make_ticket(run.job)  # a square of 20 m whose edge the line follows
    assert "reaches outside the ticket&#x27;s area" in clients["member"].get(address).content.decode()
    job = selectors.located_job(run.job_id, people["owner"])
    drawing = draw(site_plan(job, selectors.runs_of(job), NOW))
    assert drawing is not None
    assert [s.words.words for s in drawing.spots] == ["43 ft: break"]


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"counter": ""}, "counter", "Fill this in"),
        ({"counter": "-3"}, "counter", "cannot be"),
        ({"counter": "far"}, "counter", "not a length"),
        ({"counter": "9999"}, "counter", "cannot be"),
        ({"counter": "43", "words": " "}, "words", "Fill this in"),
    ],
)
def test_a_wrong_observation_is_refused_beside_its_field(
    clients: dict[str, Client], run: Run, given: dict[str, str], field: str, words: str
) -> None:
    answer = post(clients["member"], run, **given)
    assert answer.status_code == 400
    assert words in answer.context["form"].errors[field][0]
    assert not Observation.objects.exists()


def test_far_beyond_the_marks_it_has_no_place_and_says_why(clients: dict[str, Client], run: Run) -> None:
    post(clients["member"], run, counter="80")
    page = clients["member"].get(f"/locates/runs/{run.pk}/pipe").content.decode()
    assert "No place on the ground" in page
    assert "beyond the last mark" in page


def test_taken_out_it_stays_on_file(clients: dict[str, Client], run: Run) -> None:
    post(clients["member"], run, counter="43")
    made = Observation.objects.get()
    address = f"/locates/runs/{run.pk}/pipe/{made.pk}/out"
    assert clients["other"].post(address).status_code == 404
    clients["member"].post(address, {"words": "Other lateral"})
    run.refresh_from_db()
    assert run.result["dig_points"] == []
    assert Observation.objects.get().taken_out_words == "Other lateral"


def test_after_the_run_the_office_still_reads_the_video(clients: dict[str, Client], run: Run, people: Any) -> None:
    finish(run, people["member"])
    assert post(clients["dispatcher"], run, counter="20 ft").status_code == 302
    run.refresh_from_db()
    assert len(run.result["dig_points"]) == 1


def described(run: Run, actor: Any, **given: Any) -> dict[str, Any]:
    pipe = services.PipeGiven(**{"pipe_size_m": 4 * 0.0254, **given})
    services.describe_pipe(run=run, given=pipe, actor=actor, now=NOW)
    run.refresh_from_db()
    found: dict[str, Any] = run.result["pipe"]
    return found


def test_a_fall_of_a_quarter_inch_a_foot_is_found(run: Run, people: dict[str, Any]) -> None:
    """Table 704.1 of the International Plumbing Code: 1/8 in per ft for 3 to 6 in pipe."""
    found = described(run, people["member"])
    assert found["trouble"] == ""
    assert found["inch_per_foot"] == pytest.approx(0.25, abs=0.005)
    assert found["minimum"] == pytest.approx(EIGHTH, abs=1e-6)
    assert "International Plumbing Code Table 704.1" in found["source"]
    assert len(found["stretches"]) == 5
    against = described(run, people["member"], flows_away=False)
    assert against["inch_per_foot"] == pytest.approx(-0.25, abs=0.005)


def test_the_fall_and_its_source_are_on_page_and_in_the_report(
    clients: dict[str, Client], run: Run, people: dict[str, Any]
) -> None:
    described(run, people["member"])
    page = clients["member"].get(f"/locates/runs/{run.pk}/pipe").content.decode()
    report = render_to_string("field/report.html", context_of(run.job, people["owner"]))
    for text in (page, report):
        for words in (
            "1/8 in per ft for 4 in pipe",
            "International Plumbing Code Table 704.1",
            "survey levels or a test",
        ):
            assert words in text, words


@pytest.mark.parametrize(
    ("marks", "level", "size", "words"),
    [
        (6, "0", None, "nominal size"),
        (6, None, 0.1, "never assumed flat"),
        (2, "0", 0.1, "at least three marks"),
    ],
)
def test_without_what_it_takes_there_is_no_fall(
    job: Job, people: dict[str, Any], marks: int, level: str | None, size: float | None, words: str
) -> None:
    run = sewer(job, people["member"], marks=marks, level=level)
    assert words in described(run, people["member"], pipe_size_m=size)["trouble"]


def test_a_run_without_a_sonde_has_no_pipe(clients: dict[str, Client], job: Job, people: dict[str, Any]) -> None:
    run = start(job, people["member"])
    assert clients["member"].get(f"/locates/runs/{run.pk}/pipe").status_code == 404
