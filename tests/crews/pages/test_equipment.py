"""The equipment register: order, filters, who may do what, refusals beside the field."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date
from typing import Any

import pytest
from django.test import Client

from crews.models import Crew, Equipment
from tests.crews.factories import CrewFactory, EquipmentFactory
from tests.crews.page_people import Clients

Queries = Callable[[int], AbstractContextManager[Any]]
pytestmark = pytest.mark.usefixtures("frozen_now")  # Wed 16 Sep 2026
HTMX = {"HX-Request": "true"}


def names(client: Client, query: str = "") -> list[str]:
    answer = client.get(f"/equipment/{query}")
    assert answer.status_code == 200
    return re.findall(r'<th scope="row"><a href="[^"]+">([^<]+)</a>', answer.content.decode())


@pytest.fixture
def items(crew: Crew, other_crew: Crew) -> dict[str, Equipment]:
    made = [
        EquipmentFactory(name="Fine", crew=crew, calibration_due_on=date(2027, 9, 1)),
        EquipmentFactory(name="Soon", crew=crew, calibration_due_on=date(2026, 10, 16)),
        EquipmentFactory(name="Not so soon", crew=crew, calibration_due_on=date(2026, 10, 17)),
        EquipmentFactory(name="Today", crew=other_crew, calibration_due_on=date(2026, 9, 16)),
        EquipmentFactory(name="Overdue", crew=other_crew, calibration_due_on=date(2026, 9, 15)),
        EquipmentFactory(name="Long overdue", calibration_due_on=date(2026, 8, 15)),
        EquipmentFactory(name="No date"),
        EquipmentFactory(name="Truck", kind="truck", maker_words="Ketterby 350"),
        EquipmentFactory(name="Broken", kind="trench_box", out_of_service_reason="Spreader pin bent"),
    ]
    return {item.name: item for item in made}


def test_overdue_first_then_unknown_then_due_soon(clients: Clients, items: dict[str, Equipment]) -> None:
    assert names(clients["owner"]) == [
        "Long overdue",
        "Overdue",
        "No date",
        "Today",
        "Soon",
        "Broken",
        "Not so soon",
        "Fine",
        "Truck",
    ]
    page = clients["dispatcher"].get("/equipment/").content.decode()
    for words in (
        "Calibration overdue by 32 days",
        "Calibration overdue by 1 day<",
        "No calibration date on record",
        "Due within 30 days: today is the last day",
        "Due within 30 days: 30 days left",
        "Out of service: Spreader pin bent",
        "Overdue: 2",
        "In order: 3",
        "At the yard",
    ):
        assert words in page, words


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("?standing=overdue", ["Long overdue", "Overdue"]),
        ("?standing=due_soon", ["Today", "Soon"]),
        ("?kind=truck", ["Truck"]),
        ("?holder=yard&standing=overdue", ["Long overdue"]),
        ("?text=ketterby+350", ["Truck"]),
        ("?text=nothing+such", []),
    ],
)
def test_filters(clients: Clients, items: dict[str, Equipment], query: str, found: list[str]) -> None:
    assert names(clients["owner"], query) == found


def test_the_filter_by_crew_and_the_part(clients: Clients, items: dict[str, Equipment], other_crew: Crew) -> None:
    address = f"/equipment/?holder={other_crew.pk}"
    assert names(clients["owner"], f"?holder={other_crew.pk}") == ["Overdue", "Today"]
    part = clients["owner"].get(address, headers=HTMX).content.decode()
    assert part.lstrip().startswith('<div id="register">')
    assert "<html" not in part


def test_a_filter_that_is_none_is_refused(clients: Clients) -> None:
    answer = clients["owner"].get("/equipment/?standing=rusty")
    assert answer.status_code == 400
    assert "rusty" in answer.content.decode()


def test_a_crew_reads_its_own_kit_only(clients: Clients, items: dict[str, Equipment]) -> None:
    assert names(clients["member"]) == ["Soon", "Not so soon", "Fine"]
    assert names(clients["other"]) == ["Overdue", "Today"]
    assert names(clients["crewless"]) == []
    assert clients["stranger"].get("/equipment/").status_code == 302
    assert clients["member"].get(f"/equipment/{items['Soon'].pk}/").status_code == 200
    assert clients["member"].get(f"/equipment/{items['Overdue'].pk}/").status_code == 404
    page = clients["member"].get(f"/equipment/{items['Soon'].pk}/").content.decode()
    assert 'action="/equipment/' not in page
    assert "Add an item" not in clients["member"].get("/equipment/").content.decode()


def test_who_may_change_what(clients: Clients, items: dict[str, Equipment]) -> None:
    at = f"/equipment/{items['Soon'].pk}"

    def reached(who: str) -> dict[str, int]:
        client = clients[who]
        return {
            "new": client.get("/equipment/new/").status_code,
            "edit": client.get(f"{at}/edit/").status_code,
            "hand-over": client.post(f"{at}/hand-over", {"crew": ""}).status_code,
            "certificate": client.post(f"{at}/certificate", {"due_on": "2027-01-01"}).status_code,
            "out": client.post(f"{at}/out", {"out_of_service_reason": "Dropped"}).status_code,
            "back": client.post(f"{at}/back").status_code,
        }

    owner_alone = ("new", "edit", "certificate")
    assert set(reached("member").values()) == {403}
    assert set(reached("stranger").values()) == {302}
    found = reached("dispatcher")
    assert [found[act] for act in owner_alone] == [403] * 3
    assert (found["hand-over"], found["out"], found["back"]) == (302, 302, 302)
    assert 403 not in reached("owner").values()


def test_add_an_item(clients: Clients, crew: Crew) -> None:
    given = {
        "kind": "receiver",
        "name": "Receiver Q",
        "serial": "QQ-1",
        "calibration_due_on": "2027-03-01",
        "crew": crew.pk,
    }
    answer = clients["owner"].post("/equipment/new/", given, follow=True)
    assert "Receiver Q is in the register." in answer.content.decode()
    made = Equipment.objects.get()
    assert (made.crew, made.calibration_due_on) == (crew, date(2027, 3, 1))


def test_every_fault_stands_beside_its_field_and_nothing_is_saved(clients: Clients) -> None:
    EquipmentFactory(serial="QQ-1")
    given = {"kind": "receiver", "name": "Receiver Q", "serial": "qq-1"}
    answer = clients["owner"].post("/equipment/new/", given)
    page = answer.content.decode()
    assert answer.status_code == 400
    beside = page.partition('id="id_serial_error">')[2].partition("</p>")[0]
    assert "is in the register already" in beside
    assert 'value="Receiver Q"' in page
    answer = clients["owner"].post("/equipment/new/", {"kind": "spade", "calibration_due_on": "soon"})
    page = answer.content.decode()
    assert answer.status_code == 400
    for field in ("kind", "name", "serial", "calibration_due_on"):
        assert f'id="id_{field}_error"' in page, field
        # A screen reader hears the error with the field.
        field_tag = next(tag for tag in re.findall(r"<(?:input|select)[^>]*>", page) if f'id="id_{field}"' in tag)
        assert f"id_{field}_error" in field_tag.partition('aria-describedby="')[2].partition('"')[0]
    assert Equipment.objects.count() == 1


def test_correct_hand_over_certify(clients: Clients, other_crew: Crew, crew: Crew) -> None:
    item = EquipmentFactory(name="Receiver Q", serial="QQ-1", crew=crew)
    at = f"/equipment/{item.pk}"
    owner = clients["owner"]
    given = {"kind": "receiver", "name": "Receiver R", "serial": "QQ-1", "note": "New battery lid"}
    assert owner.post(f"{at}/edit/", given).status_code == 302
    assert owner.post(f"{at}/hand-over", {"crew": other_crew.pk}).status_code == 302
    assert owner.post(f"{at}/certificate", {"due_on": "2027-05-01"}).status_code == 302
    item.refresh_from_db()
    assert (item.name, item.note, item.crew) == ("Receiver R", "New battery lid", other_crew)
    assert item.calibration_due_on == date(2027, 5, 1)
    answer = owner.post(f"{at}/certificate", {"due_on": "1.5.2027"})
    assert (answer.status_code, "id_due_on_error" in answer.content.decode()) == (400, True)
    idle = CrewFactory(active=False)
    assert owner.post(f"{at}/hand-over", {"crew": idle.pk}).status_code == 400
    assert owner.post(f"{at}/hand-over", {"crew": ""}, follow=True).status_code == 200
    item.refresh_from_db()
    assert item.crew is None


def test_out_of_service_wants_a_reason_and_the_crew_reads_it(clients: Clients, crew: Crew) -> None:
    item = EquipmentFactory(crew=crew, calibration_due_on=date(2027, 1, 1))
    at = f"/equipment/{item.pk}"
    answer = clients["dispatcher"].post(f"{at}/out", {"out_of_service_reason": "  "})
    assert answer.status_code == 400
    assert "id_out_of_service_reason_error" in answer.content.decode()
    clients["dispatcher"].post(f"{at}/out", {"out_of_service_reason": "Dropped in the trench"})
    assert "Out of service: Dropped in the trench" in clients["member"].get("/today/").content.decode()
    clients["dispatcher"].post(f"{at}/back")
    assert "Dropped" not in clients["member"].get("/today/").content.decode()


def test_paged_and_constant_in_queries(clients: Clients, django_assert_num_queries: Queries) -> None:
    queries = 6  # session, person, crews of the filter, tally, how many, the page's items with their holders
    crew = CrewFactory()
    counts = []
    for many in (1, 59):
        EquipmentFactory.create_batch(many, crew=crew)
        with django_assert_num_queries(queries):
            counts.append(len(names(clients["owner"])))
    assert counts == [1, 25]
    assert len(names(clients["owner"], "?page=3")) == 10
    page = clients["owner"].get("/equipment/?kind=receiver&page=2").content.decode()
    assert "?kind=receiver&amp;page=3" in page
    assert "Page 2 of 3" in page


def test_an_empty_register_says_how_to_begin(clients: Clients) -> None:
    assert "Add the first item to begin." in clients["owner"].get("/equipment/").content.decode()
    assert "The owner adds the first item." in clients["dispatcher"].get("/equipment/").content.decode()
