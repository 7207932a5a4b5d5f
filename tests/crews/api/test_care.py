"""The API of custody and care."""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework.test import APIClient

from crews import services
from crews.models import Crew, Equipment, Person
from locates import clock
from tests.crews.factories import CrewFactory, PersonFactory
from tests.crews.office import make_job
from tickets.models import PrivateLocate

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("frozen_now")]


def client_of(person: Person) -> APIClient:
    client = APIClient()
    client.force_authenticate(person)
    return client


@pytest.fixture
def crew() -> Crew:
    return CrewFactory()


@pytest.fixture
def owner() -> Person:
    return PersonFactory(owner=True)


@pytest.fixture
def item(owner: Person) -> Equipment:
    return services.add_equipment(kind="receiver", name="R", serial="S", actor=owner, now=clock.now())


def post(person: Person, item: Equipment, act: str, given: dict[str, Any] | None = None) -> Any:
    return client_of(person).post(f"/api/v1/equipment/{item.pk}/{act}", given or {}, format="json")


def test_issue_confirm_and_history(item: Equipment, owner: Person, crew: Crew) -> None:
    member = PersonFactory(crew=crew)
    answer = post(owner, item, "step", {"step": "issued", "crew": crew.pk})
    assert (answer.status_code, answer.data["place"], answer.data["unconfirmed"]) == (200, "crew", True)
    assert post(PersonFactory(crew=CrewFactory()), item, "confirm").status_code == 404
    assert post(member, item, "confirm").data["unconfirmed"] is False
    refused = post(owner, item, "step", {"step": "found"})
    assert (refused.status_code, refused.data["code"]) == (409, "custody_refused")
    history = client_of(member).get(f"/api/v1/equipment/{item.pk}/custody").data
    assert [row["step"] for row in history["results"]] == ["issued", "entered"]


def test_results_compute_and_refuse(item: Equipment, owner: Person) -> None:
    given = {"key": "known_line", "done_on": "2026-09-16", "known_value": 1.0, "readings": [1.3]}
    answer = post(owner, item, "results", given)
    assert (answer.status_code, answer.data["passed"], answer.data["in_doubt"]) == (201, False, [])
    assert client_of(owner).get(f"/api/v1/equipment/{item.pk}").data["may_go_out"] is False
    tomorrow = post(owner, item, "results", {**given, "done_on": "2026-09-17"})
    assert (tomorrow.status_code, list(tomorrow.data["errors"])) == (400, ["done_on"])
    care = client_of(owner).get(f"/api/v1/equipment/{item.pk}/care").data
    assert {row["key"] for row in care} == {"battery", "calibration", "firmware", "known_line"}


def test_a_locate_made_with_it_follows_its_state(item: Equipment, owner: Person) -> None:
    made = PrivateLocate.objects.create(
        job=make_job(), kind="located", made_at=clock.now(), by=owner, result_words="Cable"
    )
    answer = post(owner, item, "locates", {"locate": made.pk})
    assert (answer.status_code, answer.data) == (200, {"locate": made.pk, "in_doubt": True})  # no date on record
    made.refresh_from_db()
    assert "no date on record" in made.doubt_words.casefold()
    assert post(owner, item, "locates", {"locate": made.pk + 1}).status_code == 400
    assert post(PersonFactory(crew=CrewFactory()), item, "locates", {"locate": made.pk}).status_code == 404
