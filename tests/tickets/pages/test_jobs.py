"""The list of jobs: who sees which, what finds what, the verdict as it stands now."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.factories import NOW, JobFactory, SiteFactory, make_clear_job, make_job
from tickets.models import Job

pytestmark = pytest.mark.django_db


def numbers(client: Client, **asked: str) -> list[str]:
    return [job.number for job, _ in client.get("/jobs/", asked).context["rows"]]


def test_each_sees_the_own_jobs(clients: dict[str, Client], job: Job) -> None:
    make_job()
    counts = {name: len(numbers(client)) for name, client in clients.items() if name != "stranger"}
    assert counts == {"owner": 2, "dispatcher": 2, "member": 1, "other": 0, "crewless": 0}
    assert clients["stranger"].get("/jobs/").status_code == 302
    assert "A new job and its ticket" not in clients["member"].get("/jobs/").content.decode()


def test_filters(office: Client) -> None:
    clear = make_clear_job(title="Sewer lateral", number="A-1")
    JobFactory(number="A-2", title="Gas yard line", site=SiteFactory(town="Wickerby", state="WA"))
    JobFactory(number="A-3", title="Gas yard line", closed_at=NOW)
    assert set(numbers(office)) == {"A-1", "A-2"}
    assert numbers(office, state="clear") == ["A-1"]
    assert numbers(office, words="yard") == ["A-2"]
    assert set(numbers(office, words="yard", closed="1")) == {"A-2", "A-3"}
    assert numbers(office, words=clear.tickets.get().number) == ["A-1"]
    assert numbers(office, words=clear.customer.name) == ["A-1"]
    assert numbers(office, place="wickerby wa") == ["A-2"]
    assert numbers(office, place="larkmoor wa") == []
    assert len(numbers(office, state="no such state")) == 2
    assert "No job fits these words" in office.get("/jobs/", {"words": "zzz"}).content.decode()


def test_a_stale_copy_of_the_verdict_is_not_shown(office: Client) -> None:
    job = make_clear_job()
    ticket = job.tickets.get()
    type(ticket).objects.filter(pk=ticket.pk).update(closes_at=NOW - timedelta(minutes=1))
    page = office.get("/jobs/")
    [(_, verdict)] = page.context["rows"]
    assert Job.objects.get().verdict_state == "clear"  # no sweep has come by
    assert verdict.may_dig is False
    assert "Clear to dig</span>" not in page.content.decode()


def test_an_empty_list_says_how_to_begin(clients: dict[str, Client]) -> None:
    assert "Begin with" in clients["dispatcher"].get("/jobs/").content.decode()
    assert "The dispatcher enters them" in clients["member"].get("/jobs/").content.decode()


def test_the_list_is_paged_and_constant_in_queries(office: Client) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert office.get("/jobs/").status_code == 200
        return len(seen)

    make_clear_job()
    one = queries()
    for _ in range(30):
        JobFactory()
    for _ in range(3):
        make_clear_job()
    assert queries() == one <= 15
    second = office.get("/jobs/", {"page": "2", "words": "L"})
    assert len(second.context["rows"]) == 9
    assert "words=L&amp;page=1" in second.content.decode()


def test_htmx_gets_the_list_alone(office: Client, job: Job) -> None:
    part = office.get("/jobs/", headers={"HX-Request": "true", "HX-Target": "jobs"}).content.decode()
    assert "<html" not in part
    assert "Sewer lateral" in part
