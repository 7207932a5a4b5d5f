"""Visits through the API: who reaches what, the refusal with the first lawful instant, constant queries."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import datetime, timedelta
from typing import Any

import pytest
from rest_framework.test import APIClient

from crews.models import Crew, Visit
from tests.crews.factories import EquipmentFactory, VisitFactory
from tests.crews.office import NOW, at, clear_job, copies, give_notice, make_job
from tickets.models import Job

Clients = dict[str, APIClient]
Queries = Callable[[int], AbstractContextManager[Any]]
pytestmark = pytest.mark.usefixtures("frozen_now")


def wanted(job: Job, crew: Crew, **given: Any) -> dict[str, Any]:
    return {
        "job": job.pk,
        "crew": crew.pk,
        "kind": "dig",
        "starts_at": "2026-09-17T08:00-04:00",
        "ends_at": "2026-09-17T12:00-04:00",
        **given,
    }


def put(job: Job, crew: Crew, start: datetime, **given: Any) -> Visit:
    return VisitFactory(job=job, crew=crew, starts_at=start, **given)


def test_the_office_places_a_visit(clients: Clients, crew: Crew) -> None:
    job = clear_job()
    for who in ("member", "other", "crewless", "stranger"):
        assert clients[who].post("/api/v1/visits", wanted(job, crew), format="json").status_code == 403
    assert not Visit.objects.exists()
    answer = clients["dispatcher"].post("/api/v1/visits", wanted(job, crew), format="json")
    assert answer.status_code == 201
    visit = answer.json()
    assert visit["words"] == "Thu 17 Sep, 8:00 AM to 12:00 PM EDT"
    assert (visit["starts_at"], visit["job_number"]) == ("2026-09-17T12:00:00Z", job.number)
    later = wanted(job, crew, starts_at="2026-09-18T08:00-04:00", ends_at="2026-09-18T09:00-04:00")
    assert clients["owner"].post("/api/v1/visits", later, format="json").status_code == 201


def test_a_locate_without_a_good_receiver_is_a_conflict_that_names_it(clients: Clients, crew: Crew) -> None:
    EquipmentFactory(name="Receiver 3", serial="QX-3", crew=crew, out_of_service_reason="Dropped")
    given = wanted(make_job(), crew, kind="private_locate")
    answer = clients["dispatcher"].post("/api/v1/visits", given, format="json")
    assert (answer.status_code, answer.json()["code"]) == (409, "kit_unavailable")
    assert "Receiver 3 (QX-3): Out of service: Dropped" in answer.json()["detail"]
    assert not Visit.objects.exists()


def test_an_unlawful_dig_is_a_conflict_with_the_first_lawful_instant(clients: Clients, crew: Crew) -> None:
    job = make_job()
    give_notice(job, received_at=at(15, 10), outcomes=("", ""))
    answer = clients["dispatcher"].post("/api/v1/visits", wanted(job, crew), format="json")
    assert answer.status_code == 409
    problem = answer.json()
    assert problem["code"] == "window_refused"
    assert datetime.fromisoformat(problem["first_lawful_at"]) == at(18, 7)
    assert problem["reasons"] == ["Under ticket D-1 digging may begin Fri 18 Sep, 7:00 AM EDT, not before."]
    assert "starts_at" in problem["errors"]
    assert not Visit.objects.exists()


def test_an_instant_without_offset_and_an_unknown_job_are_refused(clients: Clients, crew: Crew) -> None:
    job = clear_job()
    given = {**wanted(job, crew, starts_at="2026-09-17T08:00"), "job": job.pk + 99}
    answer = clients["dispatcher"].post("/api/v1/visits", given, format="json")
    assert answer.status_code == 400
    assert set(answer.json()["errors"]) == {"job", "starts_at"}


def test_sent_twice_the_crew_is_not_busy_with_itself(clients: Clients, crew: Crew) -> None:
    job, key = clear_job(), {"Idempotency-Key": "board-1"}
    send = [
        clients["dispatcher"].post("/api/v1/visits", wanted(job, crew), format="json", headers=key) for _ in range(2)
    ]
    assert [answer.status_code for answer in send] == [201, 201]
    assert send[0].json() == send[1].json()
    assert Visit.objects.count() == 1


def test_who_sees_which_visits(clients: Clients, crew: Crew, other_crew: Crew) -> None:
    job = clear_job()
    own, others = put(job, crew, at(17, 8)), put(job, other_crew, at(17, 8))

    def seen(who: str) -> list[int] | int:
        answer = clients[who].get("/api/v1/visits")
        if answer.status_code != 200:
            return answer.status_code
        return [row["id"] for row in answer.json()["results"]]

    assert {who: seen(who) for who in clients} == {
        "owner": [own.pk, others.pk],
        "dispatcher": [own.pk, others.pk],
        "member": [own.pk],
        "other": [others.pk],
        "crewless": [],
        "stranger": 403,
    }
    assert clients["other"].get(f"/api/v1/visits/{own.pk}").status_code == 404


def test_the_office_moves_notes_and_cancels(clients: Clients, crew: Crew) -> None:
    visit = put(clear_job(), crew, at(17, 8))
    path = f"/api/v1/visits/{visit.pk}"
    for who in ("member", "stranger"):
        assert clients[who].patch(path, {"note": "x"}, format="json").status_code == 403
        assert clients[who].post(f"{path}/cancel", {"reason": "x"}, format="json").status_code == 403
    given = {"starts_at": "2026-09-18T10:00-04:00", "note": "Bring the box", "pinned": True}
    moved = clients["dispatcher"].patch(path, given, format="json").json()
    assert (moved["words"], moved["note"]) == ("Fri 18 Sep, 10:00 AM to 11:00 AM EDT", "Bring the box")
    assert moved["pinned"]
    assert clients["dispatcher"].post(f"{path}/cancel", {}, format="json").status_code == 400
    gone = clients["dispatcher"].post(f"{path}/cancel", {"reason": "Rain"}, format="json").json()
    assert gone["cancel_reason"] == "Rain"
    again = clients["dispatcher"].post(f"{path}/cancel", {"reason": "Rain"}, format="json")
    assert (again.status_code, again.json()["code"]) == (409, "visit_cancelled")


def test_a_change_refused_in_one_part_changes_nothing(clients: Clients, crew: Crew) -> None:
    visit = put(clear_job(), crew, at(17, 8))
    given = {"note": "new", "starts_at": "2026-12-18T10:00-05:00"}
    answer = clients["dispatcher"].patch(f"/api/v1/visits/{visit.pk}", given, format="json")
    assert answer.status_code == 409
    visit.refresh_from_db()
    assert (visit.note, visit.starts_at) == ("", at(17, 8))


def test_an_empty_change_says_what_may_be_given(clients: Clients, crew: Crew) -> None:
    visit = put(clear_job(), crew, at(17, 8))
    answer = clients["dispatcher"].patch(f"/api/v1/visits/{visit.pk}", {}, format="json")
    assert answer.status_code == 400
    assert "starts_at" in answer.json()["detail"]


def test_filters(clients: Clients, crew: Crew, other_crew: Crew) -> None:
    job = clear_job()
    a = put(job, crew, at(17, 8))
    b = put(job, other_crew, at(18, 8), kind="camera", pinned=True)
    c = put(job, crew, at(19, 8), cancelled_at=NOW)

    def found(query: str) -> list[int]:
        return [row["id"] for row in clients["owner"].get(f"/api/v1/visits?{query}").json()["results"]]

    assert found(f"crew={crew.pk}") == [a.pk, c.pk]
    assert found("kind=camera") == [b.pk]
    assert found("pinned=true") == [b.pk]
    assert found("cancelled=false") == [a.pk, b.pk]
    assert found("cancelled=true") == [c.pk]
    assert found("state=va") == [a.pk, b.pk, c.pk]
    assert found("state=tx") == []
    # The edges touch and do not overlap: the first visit is over at nine.
    assert found("ends_after=2026-09-17T09:00-04:00&starts_before=2026-09-18T08:00:01-04:00") == [b.pk]
    assert found("ordering=-starts_at") == [c.pk, b.pk, a.pk]
    refused = clients["owner"].get("/api/v1/visits?kind=picnic")
    assert (refused.status_code, set(refused.json()["errors"])) == (400, {"kind"})


def test_the_list_is_constant_in_queries(clients: Clients, crew: Crew, django_assert_num_queries: Queries) -> None:
    jobs = copies(clear_job(), 40)
    put(jobs[0], crew, at(17, 8))
    for count in (1, 40):
        with django_assert_num_queries(4):  # session, person, count, rows
            rows = clients["owner"].get("/api/v1/visits?page_size=200").json()["results"]
        assert len(rows) == count
        for number, job in enumerate(jobs[1:]):
            put(job, crew, at(18, 8) + timedelta(hours=number))
