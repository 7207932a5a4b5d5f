"""The locate report: a PDF with drawings, for those who may see the job."""

from __future__ import annotations

from typing import Any

import pytest
from django.template.loader import render_to_string
from django.test import Client

from locates.field import selectors
from locates.field.pages import report
from locates.field.pages.job_view import job_context
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
    with pytest.raises(ValueError, match="nothing from elsewhere"):
        report._nothing("https://example.org/a.css")
