"""The office's work through the API, from the job to the verdict and the proof."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from rest_framework.test import APIClient

from tests.factories import (
    LATITUDE,
    LONGITUDE,
    NOW,
    OPENS,
    RECEIVED,
    CustomerFactory,
    make_clear_job,
    make_job,
    make_ticket,
    square,
)
from tickets.models import Job

pytestmark = pytest.mark.django_db


def new_job(client: APIClient, **given: Any) -> Any:
    content: dict[str, Any] = {
        "customer": CustomerFactory().pk,
        "title": "Lateral",
        "street": "118 Copperthorn Road",
        "town": "Larkmoor",
        "latitude": LATITUDE,
        "longitude": LONGITUDE,
        "private_lines_likely": False,
        "dig_areas": [{"polygon": square(5, 5, 8), "method": "machine", "planned_depth_m": 1.2}],
    }
    return client.post("/api/v1/jobs", {**content, **given})


def test_from_the_job_to_clear_and_the_proof(office: APIClient) -> None:
    job = new_job(office)
    assert job.status_code == 201, job.data
    assert job.data["verdict"]["state"] == "unknown"
    assert job.data["site"]["state"] == "VA"
    ticket = office.post(
        "/api/v1/tickets",
        {
            "job": job.data["id"],
            "number": "A-1",
            "received_at": "2026-09-10T10:00:00-04:00",
            "operators": [{"name": "Fernbank Gas", "utility": "gas"}, {"name": "Ridge Power"}],
            "area": square(),
        },
    )
    # The job was entered later than the notice was given, as happens when a ticket is copied in.
    assert ticket.status_code == 201, ticket.data
    assert ticket.data["opens_at"] == "2026-09-15T11:00:00Z"
    assert ticket.data["window_steps"]
    for operator in ticket.data["operators"]:
        told = office.post("/api/v1/answers", {"operator": operator["id"], "outcome": "marked"})
        assert told.status_code == 201, told.data
    found = office.get(f"/api/v1/jobs/{job.data['id']}/verdict").data
    assert (found["state"], found["may_dig"], found["as_of"]) == ("clear", True, "2026-09-16T14:00:00Z")
    assert all(reason["words"] for reason in found["reasons"])
    chain = office.get(f"/api/v1/jobs/{job.data['id']}/evidence-chain").data
    assert (chain["holds"], chain["first_break"]) == (True, None)
    log = office.get(f"/api/v1/evidence?job={job.data['id']}").data
    assert log["count"] == chain["entries"]
    assert [e["sequence"] for e in log["results"]] == list(range(1, chain["entries"] + 1))


def test_the_list_shows_the_verdict_of_this_instant_not_the_stored_copy(office: APIClient) -> None:
    job = make_clear_job()
    Job.objects.filter(pk=job.pk).update(verdict_state="clear", verdict_sentence="stale")
    ticket = job.tickets.get()
    ticket.closes_at = NOW
    ticket.save()
    assert office.get("/api/v1/jobs").data["results"][0]["verdict"]["state"] == "expired"


def test_refusals_are_problem_details_by_field(office: APIClient) -> None:
    answer = new_job(office, title="", state="OH")
    assert (answer.status_code, answer["Content-Type"]) == (400, "application/problem+json")
    assert "title" in answer.data["errors"]
    bad_area = new_job(office, dig_areas=[{"polygon": square(5, 5), "method": "spoon"}])
    assert (bad_area.data["code"], list(bad_area.data["errors"])) == ("bad_input", ["dig_areas.0.method"])
    assert "use one of hand" in bad_area.data["detail"]
    naive = office.post("/api/v1/tickets", {"job": make_job().pk, "number": "1", "received_at": "2026-09-10T10:00"})
    assert "offset" in naive.data["errors"]["received_at"][0]
    closed = make_job()
    office.post(f"/api/v1/jobs/{closed.pk}/close")
    again = office.post(f"/api/v1/jobs/{closed.pk}/close")
    assert (again.status_code, again.data["code"]) == (409, "transition_refused")
    reopened = office.post(f"/api/v1/jobs/{closed.pk}/reopen", {"reason": "One more trench"})
    assert (reopened.status_code, reopened.data["closed_at"]) == (200, None)


def test_a_write_sent_twice_under_one_id_changes_nothing_the_second_time(office: APIClient) -> None:
    job = make_clear_job()
    operator = job.tickets.get().operators.first()
    content = {"operator": operator.pk, "outcome": "marked"}
    first = office.post("/api/v1/answers", content, headers={"Idempotency-Key": "phone-7"})
    second = office.post("/api/v1/answers", content, headers={"Idempotency-Key": "phone-7"})
    assert first.data == second.data
    assert operator.answers.count() == 2  # the one from before and this one


def test_corrections_need_a_reason_and_keep_both_readings(office: APIClient) -> None:
    job = make_clear_job()
    ticket = job.tickets.get()
    path = f"/api/v1/tickets/{ticket.pk}"
    assert list(office.patch(path, {"number": "N9"}).data["errors"]) == ["reason"]
    answer = office.patch(path, {"number": "N9", "reason": "Misread"})
    assert answer.data["number"] == "N9"
    cancelled = office.post(f"{path}/cancel", {"reason": "Called off"})
    assert cancelled.data["cancelled_at"] == "2026-09-16T14:00:00Z"
    assert office.post(f"{path}/operators", {"name": "Hill Water"}).status_code == 409
    changed = office.patch(f"/api/v1/jobs/{job.pk}", {"title": "Main", "reason": "Wrong title"})
    assert changed.data["title"] == "Main"


def test_operators_sightings_locates_and_emergencies(office: APIClient) -> None:
    job = make_job(private_lines_likely=True)
    ticket = make_ticket(job)
    added = office.post(f"/api/v1/tickets/{ticket.pk}/operators", {"name": "Hill Water", "utility": "water"})
    assert (added.status_code, added.data["answers"]) == (201, [])
    area = office.post(f"/api/v1/jobs/{job.pk}/dig-areas", {"polygon": square(2, 2, 2), "method": "hand"})
    assert (area.status_code, area.data["method_words"]) == (201, "By hand")
    both = {"job": job.pk, "reason": "None there", "result_words": "Cable"}
    assert office.post("/api/v1/private-locates", both).status_code == 400
    waived = office.post("/api/v1/private-locates", {"job": job.pk, "reason": "Open field"})
    assert (waived.status_code, waived.data["kind"]) == (201, "waived")
    dig = office.post("/api/v1/emergencies", {"job": job.pk, "reason": "Water in a cellar"})
    assert office.get(f"/api/v1/jobs/{job.pk}/verdict").data["state"] == "emergency"
    path = f"/api/v1/emergencies/{dig.data['id']}"
    assert office.post(f"{path}/close").status_code == 409
    told = office.post(f"{path}/told", {"centre_told_at": NOW.isoformat()})
    assert told.data["centre_told_at"] == "2026-09-16T14:00:00Z"
    assert office.post(f"{path}/close").data["closed_at"] is not None
    work = office.post(f"/api/v1/jobs/{job.pk}/work", {"at": NOW.isoformat()})
    assert work.data["last_worked_on"] == "2026-09-16"


def test_local_rules_are_added_confirmed_and_ended(office: APIClient) -> None:
    job = make_clear_job()
    content = {"name": "Permit", "state": "VA", "requirement": "A permit is in hand.", "source": "Town code"}
    rule = office.post("/api/v1/local-rules", content)
    assert rule.status_code == 201
    assert office.get(f"/api/v1/jobs/{job.pk}/verdict").data["state"] == "unknown"
    office.post(f"/api/v1/local-rules/{rule.data['id']}/confirm", {"job": job.pk})
    assert office.get(f"/api/v1/jobs/{job.pk}/verdict").data["state"] == "clear"
    ended = office.post(f"/api/v1/local-rules/{rule.data['id']}/end", {"reason": "Repealed"})
    assert ended.data["active"] is False


def test_customers_and_known_sites(office: APIClient) -> None:
    made = office.post("/api/v1/customers", {"name": "Tilbrook Mill"})
    changed = office.patch(f"/api/v1/customers/{made.data['id']}", {"phone": "804-555-0140"})
    assert changed.data["phone"] == "804-555-0140"
    first = new_job(office)
    again = new_job(office, site=first.data["site"]["id"])
    assert again.data["site"]["id"] == first.data["site"]["id"]
    assert office.get("/api/v1/sites").data["count"] == 1


@pytest.mark.parametrize(
    ("query", "count"),
    [
        ("verdict_state=clear", 1),
        ("verdict_state=unknown&verdict_state=clear", 2),
        ("state=va", 2),
        ("state=OH", 0),
        ("place=larkmoor", 2),
        ("words=N1", 1),
        ("words=lateral", 2),
        ("closed=true", 0),
        ("closed=false", 2),
        ("changes_before=2027-01-01T00:00:00Z", 1),
        ("crew=1", 0),
    ],
)
def test_jobs_are_filtered(query: str, count: int, office: APIClient) -> None:
    make_clear_job()
    make_job()
    assert office.get(f"/api/v1/jobs?{query}").data["count"] == count


@pytest.mark.parametrize(
    ("query", "count"),
    [
        ("kind=normal", 1),
        ("kind=renewal", 0),
        ("operator=fernbank", 1),
        ("operator=hill", 0),
        ("unanswered=true", 1),
        ("unanswered=false", 0),
        ("cancelled=false", 1),
        ("received_after=2026-09-08T14:00:00Z", 1),
        ("received_before=2026-09-08T14:00:00Z", 0),
        ("closes_before=2026-09-16T00:00:00Z", 0),
        ("renew_before=2027-01-01T00:00:00Z", 1),
        ("state=VA", 1),
    ],
)
def test_tickets_are_filtered(query: str, count: int, office: APIClient) -> None:
    make_ticket(make_job())
    assert office.get(f"/api/v1/tickets?{query}").data["count"] == count


def test_a_word_that_is_no_choice_is_refused(office: APIClient) -> None:
    assert list(office.get("/api/v1/jobs?verdict_state=green").data["errors"]) == ["verdict_state"]


def test_lists_are_paged_and_ordered(office: APIClient) -> None:
    first = make_job(number="A")
    second = make_job(number="B", now=first.created_at + timedelta(hours=1))
    page = office.get("/api/v1/jobs?page_size=1").data
    assert (page["count"], page["results"][0]["id"]) == (2, second.pk)
    assert page["next"]
    up = office.get("/api/v1/jobs?ordering=number").data["results"]
    assert [row["number"] for row in up] == ["A", "B"]


def test_follow_ups_tell_what_falls_due(office: APIClient) -> None:
    job = make_job()
    make_ticket(job)
    rows = office.get(f"/api/v1/follow-ups?job={job.pk}").data["results"]
    due = {row["kind"]: row["due_at"] for row in rows}
    assert due["window_opens"] == due["answers_missing"] == OPENS.isoformat().replace("+00:00", "Z")
    assert {"renew_by", "expires", "verdict_changes"} <= set(due)
    assert RECEIVED < OPENS


def test_a_crew_phone_sees_the_same_verdict(
    office: APIClient, mate: APIClient, send_crew: Callable[[Job], None]
) -> None:
    job = make_clear_job()
    send_crew(job)
    path = f"/api/v1/jobs/{job.pk}/verdict"
    assert mate.get(path).data == office.get(path).data
