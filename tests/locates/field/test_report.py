"""The locate report: a PDF with drawings, for those who may see the job."""

from __future__ import annotations

import io
import uuid
from pathlib import Path
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.test import Client
from PIL import Image

from locates.field import selectors
from locates.field.pages import report
from locates.field.pages.job_view import job_context
from locates.field.pages.report_photos import MOST_A_RUN, picture
from locates.field.services import add_photo
from tests.factories import NOW
from tests.locates.field.making import finish, follow, start
from tickets.models import Job

pytestmark = pytest.mark.usefixtures("frozen_now")


@pytest.fixture
def located(job: Job, people: dict[str, Any]) -> Job:
    finish(follow(start(job, people["member"]), people["member"]), people["member"], locate_complete=True)
    return job


def context_of(job: Job, person: Any) -> dict[str, Any]:
    found = selectors.located_job(job.pk, person)
    more = report.report_context(selectors.runs_of(found))
    return {**job_context(found, NOW), **more, "now": NOW, "svg_style": report.svg_style()}


def test_the_report_is_a_pdf_for_those_who_may_see_the_job(clients: dict[str, Client], located: Job) -> None:
    address = f"/locates/jobs/{located.pk}/report.pdf"
    answer = clients["member"].get(address)
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "application/pdf")
    assert answer.content.startswith(b"%PDF-")
    assert clients["other"].get(address).status_code == 404


def test_it_says_what_it_rests_on_and_what_it_does_not_permit(located: Job, people: dict[str, Any]) -> None:
    html = render_to_string("field/report.html", context_of(located, people["owner"]))
    for words in (
        "never permits machine digging inside a zone",
        "No calibration date known that day",
        "level D input",
        "Direct connection follows the metal",
        "Va. Code",
        "29 CFR 1926.651(b)(3)",
        "<svg",
    ):
        assert words in html, words


def test_drawings_carry_their_own_colours_and_nothing_is_fetched() -> None:
    style = report.svg_style()
    assert "var(" not in style
    assert ".line.power" in style
    for address in ("https://example.org/a.css", "file:///etc/hostname", "photo:1", "photo:", "photo:²"):
        with pytest.raises(ValueError, match="nothing from elsewhere"):
            picture(address, {})


def test_it_shows_a_few_photos_of_each_run_and_says_how_many_it_leaves_out(
    located: Job, people: dict[str, Any], settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    run = located.locate_runs.get()
    out = io.BytesIO()
    Image.new("RGB", (1800, 1200), "red").save(out, "JPEG")
    for number in range(MOST_A_RUN + 2):
        given = {"content": out.getvalue(), "words": f"Flag {number}", "point_number": 1}
        add_photo(run=run, client_id=uuid.uuid4(), actor=people["member"], now=NOW, **given)
    context = context_of(located, people["owner"])
    html = render_to_string("field/report.html", context)
    assert [f"Flag {number} (" in html for number in range(MOST_A_RUN + 2)] == [True] * MOST_A_RUN + [False] * 2
    assert "2 more photos of Power to the shed are kept with the run." in html
    photos = {photo.pk: photo for photo in context["detailed"][0]["shown"].photos}
    with Image.open(io.BytesIO(picture(f"photo:{min(photos)}", photos))) as small:
        assert (small.format, small.size) == ("JPEG", (900, 600))
    assert report.pdf(context).count(b"/Subtype /Image") == MOST_A_RUN
