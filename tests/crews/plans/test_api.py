"""Plans through the API: by role, from asking to acceptance."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from rest_framework.test import APIClient

from crews.models import Crew, Person, Plan, Visit
from tests.crews.factories import PersonFactory
from tests.crews.plans.conftest import stop_for
from tickets.models import Job

Computed = Callable[..., Plan]


@pytest.fixture
def office(dispatcher: Person, frozen_now: object) -> APIClient:
    client = APIClient()
    client.force_login(dispatcher)
    return client


def test_asking_and_calling_off(office: APIClient, crew: Crew) -> None:
    asked = office.post("/api/v1/plans", {"working_days": 2, "seconds": 5})
    assert asked.status_code == 201, asked.json()
    plan = asked.json()
    assert (plan["state"], plan["stops"]) == ("waiting", [])
    assert office.post("/api/v1/plans", {"seconds": 5}).status_code == 409
    assert office.post("/api/v1/plans", {"seconds": 7}).status_code == 400
    assert office.post(f"/api/v1/plans/{plan['id']}/call-off").json()["state"] == "called_off"


def test_moving_and_accepting(computed: Computed, office: APIClient, crew: Crew, clear: Job, waiting: Job) -> None:
    plan = computed()
    home = f"/api/v1/plans/{plan.pk}"
    stop = stop_for(plan, waiting)
    refused = office.post(f"{home}/stops/{stop.pk}/move", {"starts_at": "2026-09-17T09:00-04:00"})
    assert refused.status_code == 409
    assert refused.json()["first_lawful_at"].startswith("2026-09-18T")
    moved = office.post(f"{home}/stops/{stop.pk}/move", {"starts_at": "2026-09-21T09:00-04:00"})
    assert moved.status_code == 200, moved.json()
    one = office.post(f"{home}/stops/{stop_for(plan, clear).pk}/accept")
    assert one.status_code == 200, one.json()
    assert Visit.objects.count() == 1
    whole = office.post(f"{home}/accept").json()
    assert whole["state"] == "accepted"
    assert {s["job_number"] for s in whole["stops"] if s["visit"]} == {clear.number, waiting.number}
    assert office.post(f"{home}/accept").status_code == 409


def test_pinning_and_setting_aside(computed: Computed, office: APIClient, crew: Crew, clear: Job) -> None:
    plan = computed()
    home = f"/api/v1/plans/{plan.pk}"
    stop = stop_for(plan, clear)
    pinned = office.post(f"{home}/stops/{stop.pk}/pin", {"pinned": True}).json()
    assert [s["pinned"] for s in pinned["stops"] if s["id"] == stop.pk] == [True]
    assert office.post(f"{home}/stops/{stop.pk}/pin", {}).status_code == 400
    assert office.post(f"{home}/set-aside").json()["state"] == "set_aside"
    assert office.post(f"{home}/accept").status_code == 409
    assert not Visit.objects.exists()


def test_the_office_alone(computed: Computed, crew: Crew, clear: Job, frozen_now: object) -> None:
    plan = computed()
    member, stranger = APIClient(), APIClient()
    member.force_login(PersonFactory(crew=crew))
    for address in ("/api/v1/plans", f"/api/v1/plans/{plan.pk}"):
        assert member.get(address).status_code == 403
        assert stranger.get(address).status_code in {401, 403}
    assert member.post(f"/api/v1/plans/{plan.pk}/accept").status_code == 403
    assert not Visit.objects.exists()
