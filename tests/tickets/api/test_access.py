"""Owner, dispatcher, crew-mate, stranger, nobody: who reaches what; lists constant in queries."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from rest_framework.test import APIClient

from tests.crews.factories import PersonFactory
from tests.factories import (
    NOW,
    OPENS,
    RECEIVED,
    CustomerFactory,
    JobFactory,
    LocalRuleFactory,
    SiteFactory,
    make_clear_job,
    square,
)
from tickets import services
from tickets.models import Job

LISTS = (
    "customers",
    "sites",
    "jobs",
    "tickets",
    "answers",
    "sightings",
    "private-locates",
    "emergencies",
    "local-rules",
    "evidence",
    "follow-ups",
)


@pytest.fixture
def full_job(db: None) -> Job:
    """A job with a row in every list."""
    job = make_clear_job()
    actor = PersonFactory(dispatcher=True)
    services.record_sighting(job=job, actor=actor, now=NOW, kind="marks_seen")
    services.record_private_locate(job=job, actor=actor, now=NOW, result_words="None found")
    services.declare_emergency(job=job, actor=actor, now=NOW, reason="Water in a cellar")
    LocalRuleFactory(state="OH")
    return job


@pytest.mark.parametrize("name", LISTS)
def test_nobody_reaches_nothing(name: str, db: None) -> None:
    answer = APIClient().get(f"/api/v1/{name}")
    assert answer.status_code == 403
    assert answer["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize("name", LISTS)
def test_the_office_and_the_crew_mate_see_the_job_a_stranger_does_not(
    name: str,
    full_job: Job,
    send_crew: Callable[[Job], None],
    office: APIClient,
    mate: APIClient,
    stranger: APIClient,
    as_person: Callable[[Any], APIClient],
) -> None:
    path = f"/api/v1/{name}"
    shared = name == "local-rules"
    owner = as_person(PersonFactory(owner=True))
    assert office.get(path).data["count"] > 0
    assert owner.get(path).data["count"] == office.get(path).data["count"]
    assert (mate.get(path).data["count"] > 0) is shared  # no visit yet
    send_crew(full_job)
    assert mate.get(path).data["count"] == office.get(path).data["count"]
    assert (stranger.get(path).data["count"] > 0) is shared
    row = office.get(path).data["results"][0]["id"]
    assert mate.get(f"{path}/{row}").status_code == 200
    assert stranger.get(f"{path}/{row}").status_code == (200 if shared else 404)


def test_someone_without_a_crew_sees_nothing(full_job: Job, as_person: Callable[[Any], APIClient]) -> None:
    assert as_person(PersonFactory()).get("/api/v1/jobs").data["count"] == 0


OFFICE_WRITES = (
    ("customers", {"name": "Mill"}),
    ("jobs", {"title": "x"}),
    ("jobs/{job}/close", {}),
    ("jobs/{job}/dig-areas", {}),
    ("tickets", {}),
    ("tickets/{ticket}/cancel", {"reason": "x"}),
    ("answers", {}),
    ("local-rules", {}),
)


@pytest.mark.parametrize(("path", "content"), OFFICE_WRITES)
def test_the_crew_does_not_write_the_offices_rows(
    path: str, content: dict[str, Any], full_job: Job, send_crew: Callable[[Job], None], mate: APIClient
) -> None:
    send_crew(full_job)
    url = f"/api/v1/{path.format(job=full_job.pk, ticket=full_job.tickets.get().pk)}"
    answer = mate.post(url, content)
    assert (answer.status_code, answer.data["code"]) == (403, "permission_denied")


def test_the_crew_writes_what_it_sees_on_its_own_jobs_only(
    full_job: Job, send_crew: Callable[[Job], None], mate: APIClient, stranger: APIClient
) -> None:
    send_crew(full_job)
    seen = {"job": full_job.pk, "kind": "marks_seen"}
    assert mate.post("/api/v1/sightings", seen).status_code == 201
    refused = stranger.post("/api/v1/sightings", seen)
    assert (refused.status_code, list(refused.data["errors"])) == (400, ["job"])
    assert mate.post(f"/api/v1/jobs/{full_job.pk}/verdict-seen").status_code == 200
    assert stranger.post(f"/api/v1/jobs/{full_job.pk}/verdict-seen").status_code == 404
    assert mate.get(f"/api/v1/jobs/{full_job.pk}/evidence-chain").status_code == 403


@pytest.mark.parametrize("name", LISTS)
def test_nothing_is_deleted_through_the_api(name: str, full_job: Job, office: APIClient) -> None:
    row = office.get(f"/api/v1/{name}").data["results"][0]["id"]
    assert office.delete(f"/api/v1/{name}/{row}").status_code == 405


def many_jobs(count: int) -> None:
    """Rows only, all of one ticket with two operators and answers."""
    actor, site, customer = PersonFactory(), SiteFactory(), CustomerFactory()
    for number in range(count):
        job = JobFactory(site=site, customer=customer, private_lines_likely=False)
        job.dig_areas.create(polygon=square(5, 5, 8), method="hand")
        ticket = job.tickets.create(
            number=f"M{number}",
            received_at=RECEIVED,
            opens_at=OPENS,
            closes_at=NOW + timedelta(days=9),
            area=square(),
            rule_version="VA@2024-01-01",
        )
        for name in ("Fernbank Gas", "Ridge Power"):
            operator = ticket.operators.create(name=name)
            operator.answers.create(outcome="marked", answered_at=OPENS, recorded_by=actor, recorded_at=OPENS)
        job.sightings.create(kind="marks_seen", seen_at=OPENS, by=actor, recorded_at=OPENS)
        job.private_locates.create(kind="located", result_words="None", made_at=OPENS, by=actor)
        job.follow_ups.create(ticket=ticket, kind="expires", due_at=NOW + timedelta(days=9))
        job.emergencies.create(
            reason="Water", declared_by=actor, declared_at=OPENS, centre_told_at=OPENS, closed_at=NOW
        )


@pytest.mark.parametrize("name", LISTS)
def test_lists_are_constant_in_queries(
    name: str, office: APIClient, django_assert_max_num_queries: Any, django_assert_num_queries: Any
) -> None:
    path = f"/api/v1/{name}?page_size=200"
    many_jobs(1)
    with django_assert_max_num_queries(18) as first:
        office.get(path)
    many_jobs(49)
    with django_assert_num_queries(len(first)):
        answer = office.get(path)
    if name not in {"customers", "sites", "local-rules", "evidence"}:
        assert answer.data["count"] >= 50
