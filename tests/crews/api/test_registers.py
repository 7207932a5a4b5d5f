"""Crews, people and equipment through the API: who reaches what, and constant queries."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, datetime
from typing import Any

import pytest
from rest_framework.test import APIClient

from crews.models import Crew, Equipment, Person, Role
from tests.crews.factories import CrewFactory, EquipmentFactory, PersonFactory

Clients = dict[str, APIClient]
Queries = Callable[[int], AbstractContextManager[Any]]
WHO = ["owner", "dispatcher", "member", "other", "crewless", "stranger"]
NEW_CREW = {
    "name": "Elm crew",
    "yard_name": "Elm yard",
    "yard_latitude": 37.5,
    "yard_longitude": -77.4,
    "time_zone": "America/New_York",
    "skills": ["dig"],
}


def seen(client: APIClient, path: str) -> list[str] | int:
    answer = client.get(path)
    if answer.status_code != 200:
        return answer.status_code
    return [row.get("name") or row["username"] for row in answer.json()["results"]]


def statuses(clients: Clients, ask: Callable[[APIClient], Any]) -> dict[str, int]:
    return {who: ask(clients[who]).status_code for who in WHO}


# Crews


def test_who_sees_which_crews(clients: Clients) -> None:
    both = ["Alder crew", "Basalt crew"]
    assert {who: seen(clients[who], "/api/v1/crews") for who in WHO} == {
        "owner": both,
        "dispatcher": both,
        "member": ["Alder crew"],
        "other": ["Basalt crew"],
        "crewless": [],
        "stranger": 403,
    }


def test_another_crew_is_not_found(clients: Clients, crew: Crew) -> None:
    found = statuses(clients, lambda client: client.get(f"/api/v1/crews/{crew.pk}"))
    assert found == {
        "owner": 200, "dispatcher": 200, "member": 200, "other": 404, "crewless": 404, "stranger": 403,
    }  # fmt: skip


def test_the_owner_alone_adds_and_changes_crews(clients: Clients, crew: Crew) -> None:
    for who in WHO[1:]:
        assert clients[who].post("/api/v1/crews", NEW_CREW, format="json").status_code == 403
        assert clients[who].patch(f"/api/v1/crews/{crew.pk}", {"name": "X"}, format="json").status_code == 403
    assert clients["owner"].post("/api/v1/crews", NEW_CREW, format="json").status_code == 201
    changed = clients["owner"].patch(f"/api/v1/crews/{crew.pk}", {"yard_name": "New yard"}, format="json")
    assert changed.json()["yard_name"] == "New yard"
    assert set(Crew.objects.values_list("name", flat=True)) == {"Alder crew", "Basalt crew", "Elm crew"}


def test_a_bad_crew_is_refused_as_problem_details(clients: Clients) -> None:
    answer = clients["owner"].post("/api/v1/crews", {**NEW_CREW, "time_zone": "Mars/Base"}, format="json")
    assert answer.status_code == 400
    assert answer["Content-Type"] == "application/problem+json"
    problem = answer.json()
    assert problem["code"] == "bad_input"
    assert "America/Chicago" in problem["errors"]["time_zone"][0]
    assert problem["instance"] == "/api/v1/crews"


def test_nothing_is_deleted_through_the_api(clients: Clients, crew: Crew) -> None:
    item = EquipmentFactory()
    for path in (f"crews/{crew.pk}", f"equipment/{item.pk}", f"people/{PersonFactory().pk}"):
        answer = clients["owner"].delete(f"/api/v1/{path}")
        assert (answer.status_code, answer.json()["code"]) == (405, "method_not_allowed")


# People


def test_people_are_the_owners_alone(clients: Clients, people: dict[str, Person | None]) -> None:
    key = people["member"].pk  # type: ignore[union-attr]
    for ask in (
        lambda client: client.get("/api/v1/people"),
        lambda client: client.get(f"/api/v1/people/{key}"),
        lambda client: client.patch(f"/api/v1/people/{key}", {"phone": "804-555-0199"}, format="json"),
    ):
        found = statuses(clients, ask)
        assert found.pop("owner") == 200
        assert set(found.values()) == {403}


def test_a_person_is_added_and_the_password_never_comes_back(clients: Clients, crew: Crew) -> None:
    given = {"username": "ines", "password": "dig-with-care", "role": "crew_member", "crew": crew.pk}
    answer = clients["owner"].post("/api/v1/people", given, format="json")
    assert answer.status_code == 201
    assert "password" not in answer.json()
    person = Person.objects.get(username="ines")
    assert person.check_password("dig-with-care")
    changed = clients["owner"].patch(
        f"/api/v1/people/{person.pk}", {"password": "another-word", "is_active": False}, format="json"
    )
    assert changed.status_code == 200
    person.refresh_from_db()
    assert person.check_password("another-word")
    assert not person.is_active


def test_a_person_without_password_is_refused(clients: Clients) -> None:
    answer = clients["owner"].post("/api/v1/people", {"username": "x", "role": "dispatcher"}, format="json")
    assert answer.status_code == 400
    assert "password" in answer.json()["errors"]


def test_the_last_owner_is_a_conflict(clients: Clients, people: dict[str, Person | None]) -> None:
    key = people["owner"].pk  # type: ignore[union-attr]
    answer = clients["owner"].patch(f"/api/v1/people/{key}", {"role": "dispatcher"}, format="json")
    assert (answer.status_code, answer.json()["code"]) == (409, "last_owner")
    assert Person.objects.get(pk=key).role == Role.OWNER


def test_me(clients: Clients) -> None:
    answer = clients["member"].get("/api/v1/me").json()
    assert (answer["role"], answer["crew_name"]) == ("crew_member", "Alder crew")
    assert clients["owner"].get("/api/v1/me").json()["crew_name"] is None
    assert clients["stranger"].get("/api/v1/me").status_code == 403


# Equipment


def test_who_sees_which_equipment(clients: Clients, crew: Crew, other_crew: Crew) -> None:
    EquipmentFactory(name="A", crew=crew)
    EquipmentFactory(name="B", crew=other_crew)
    EquipmentFactory(name="Y")
    assert {who: seen(clients[who], "/api/v1/equipment?ordering=name") for who in WHO} == {
        "owner": ["A", "B", "Y"],
        "dispatcher": ["A", "B", "Y"],
        "member": ["A"],
        "other": ["B"],
        "crewless": [],
        "stranger": 403,
    }


def test_the_owner_writes_equipment(clients: Clients, crew: Crew) -> None:
    item = EquipmentFactory()
    for number, who in enumerate(WHO):
        may = who == "owner"
        new = {"kind": "sonde", "name": "Sonde", "serial": f"N-{number}"}
        assert clients[who].post("/api/v1/equipment", new, format="json").status_code == (201 if may else 403)
        for change in ({"note": who}, {"calibration_due_on": "2027-03-04"}, {"frequencies_hz": [512]}):
            answer = clients[who].patch(f"/api/v1/equipment/{item.pk}", change, format="json")
            assert answer.status_code == (200 if may else 403)
            if not may:
                assert (answer["Content-Type"], answer.json()["status"]) == ("application/problem+json", 403)
    item.refresh_from_db()
    assert (item.note, item.calibration_due_on, item.frequencies_hz) == ("owner", date(2027, 3, 4), [512])


def test_the_office_moves_equipment_and_stops_it(clients: Clients, crew: Crew) -> None:
    item = EquipmentFactory()
    for who in WHO:
        for change in ({"crew": crew.pk}, {"out_of_service_reason": "Dropped"}, {"out_of_service_reason": ""}):
            answer = clients[who].patch(f"/api/v1/equipment/{item.pk}", change, format="json")
            assert answer.status_code == (200 if who in {"owner", "dispatcher"} else 403)
    item.refresh_from_db()
    assert (item.crew, item.place) == (crew, "crew")


def test_a_dispatchers_change_that_reaches_too_far_is_refused_whole(clients: Clients, crew: Crew) -> None:
    item = EquipmentFactory()
    given = {"crew": crew.pk, "name": "Mine"}
    answer = clients["dispatcher"].patch(f"/api/v1/equipment/{item.pk}", given, format="json")
    assert (answer.status_code, answer.json()["code"]) == (403, "forbidden")
    item.refresh_from_db()
    assert (item.crew, item.name) == (None, item.name)


def test_one_change_may_touch_holder_date_service_and_name(clients: Clients, crew: Crew) -> None:
    item = EquipmentFactory()
    given = {
        "crew": crew.pk,
        "calibration_due_on": "2027-03-04",
        "out_of_service_reason": "Cracked case",
        "name": "Receiver Q",
    }
    answer = clients["owner"].patch(f"/api/v1/equipment/{item.pk}", given, format="json")
    assert answer.status_code == 200
    assert answer.json()["flag"] == "Out of service: Cracked case"
    item.refresh_from_db()
    assert (item.crew, item.calibration_due_on, item.name) == (crew, date(2027, 3, 4), "Receiver Q")
    clients["owner"].patch(f"/api/v1/equipment/{item.pk}", {"out_of_service_reason": ""}, format="json")
    item.refresh_from_db()
    assert item.out_of_service_reason == ""


def test_a_change_refused_in_one_part_leaves_the_other_parts(clients: Clients) -> None:
    EquipmentFactory(serial="TAKEN")
    item = EquipmentFactory(calibration_due_on=None)
    given = {"calibration_due_on": "2027-03-04", "serial": "taken"}
    answer = clients["owner"].patch(f"/api/v1/equipment/{item.pk}", given, format="json")
    assert answer.status_code == 400
    assert "serial" in answer.json()["errors"]
    item.refresh_from_db()
    assert item.calibration_due_on is None


def test_overdue_first_and_flagged(clients: Clients, frozen_now: datetime) -> None:
    EquipmentFactory(name="fine", calibration_due_on=date(2026, 12, 1))
    EquipmentFactory(name="long overdue", calibration_due_on=date(2026, 8, 1))
    EquipmentFactory(name="no date")
    EquipmentFactory(name="overdue", calibration_due_on=date(2026, 9, 15))
    EquipmentFactory(name="due today", calibration_due_on=date(2026, 9, 16))
    rows = clients["owner"].get("/api/v1/equipment").json()["results"]
    assert [(row["name"], row["overdue"], row["flag"]) for row in rows] == [
        ("long overdue", True, "Calibration overdue by 46 days"),
        ("overdue", True, "Calibration overdue by 1 day"),
        ("due today", False, ""),
        ("fine", False, ""),
        ("no date", False, "No calibration date on record"),
    ]
    assert seen(clients["owner"], "/api/v1/equipment?overdue=true") == ["long overdue", "overdue"]
    not_overdue = seen(clients["owner"], "/api/v1/equipment?overdue=false")
    assert not_overdue == ["due today", "fine", "no date"]
    assert seen(clients["owner"], "/api/v1/equipment?due_by=2026-09-16&kind=receiver") == [
        "long overdue", "overdue", "due today",
    ]  # fmt: skip


def test_the_office_day_decides_what_is_overdue(clients: Clients, travel: Callable[[datetime], None]) -> None:
    EquipmentFactory(name="due", calibration_due_on=date(2026, 9, 16))
    # 11:30 PM in New York, where the company is, though the 17th has begun in Greenwich.
    travel(datetime.fromisoformat("2026-09-17T03:30+00:00"))
    assert seen(clients["owner"], "/api/v1/equipment?overdue=true") == []
    travel(datetime.fromisoformat("2026-09-17T04:30+00:00"))
    assert seen(clients["owner"], "/api/v1/equipment?overdue=true") == ["due"]


@pytest.mark.parametrize("path", ["/api/v1/crews", "/api/v1/people", "/api/v1/equipment"])
def test_lists_are_constant_in_queries(clients: Clients, path: str, django_assert_num_queries: Queries) -> None:
    def more(count: int) -> None:
        for _ in range(count):
            new = CrewFactory()
            PersonFactory(crew=new)
            EquipmentFactory(crew=new)

    more(1)
    for wanted in (1, 40):
        with django_assert_num_queries(4):  # session, person, count, rows
            assert len(clients["owner"].get(path, {"page_size": 200}).json()["results"]) >= wanted
        more(39)


def test_pages_are_cut_and_named(clients: Clients) -> None:
    EquipmentFactory.create_batch(3)
    first = clients["owner"].get("/api/v1/equipment?page_size=2").json()
    assert (first["count"], len(first["results"]), first["previous"]) == (3, 2, None)
    assert "page=2" in first["next"]
    missing = clients["owner"].get("/api/v1/equipment?page=9")
    assert (missing.status_code, missing.json()["code"]) == (404, "not_found")


def test_a_write_sent_twice_is_done_once(clients: Clients) -> None:
    new: dict[str, Any] = {"kind": "sonde", "name": "Sonde", "serial": "N-1", "client_id": "phone-7-1"}
    first = clients["owner"].post("/api/v1/equipment", new, format="json")
    again = clients["owner"].post("/api/v1/equipment", new, format="json")
    assert (first.status_code, again.status_code, first.json()) == (201, 201, again.json())
    assert Equipment.objects.count() == 1
