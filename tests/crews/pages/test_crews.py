"""The owner's list of crews: added, renamed, given a truck, retired."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest

from crews.models import Crew, Equipment, Person
from tests.crews.factories import CrewFactory, EquipmentFactory, PersonFactory, VisitFactory
from tests.crews.office import at, make_job
from tests.crews.page_people import Clients
from tests.crews.wcag import sideways, small_targets, violations

Queries = Callable[[int], AbstractContextManager[Any]]
LogIn = Callable[[Any], Any]
pytestmark = pytest.mark.usefixtures("frozen_now")
GOOD = {
    "name": "Dogwood crew",
    "yard_name": "Mill yard",
    "yard_latitude": "41.8781",
    "yard_longitude": "-87.6298",
    "skills": ["dig", "camera"],
    "more_skills": "traffic, dig",
}


def test_they_are_the_owners_alone(clients: Clients, crew: Crew) -> None:
    at_crew = f"/people/crews/{crew.pk}/"
    for address in ("/people/crews/", "/people/crews/new/", at_crew):
        assert [clients[who].get(address).status_code for who in ("owner", "dispatcher", "member", "stranger")] == [
            200, 403, 403, 302,
        ]  # fmt: skip
    for act in ("", "rest", "truck"):
        assert clients["dispatcher"].post(f"{at_crew}{act}", {"active": "no"}).status_code == 403
    assert 'href="/people/crews/"' in clients["owner"].get("/people/").content.decode()


def test_a_crew_is_added_with_the_zone_of_its_yard(clients: Clients) -> None:
    answer = clients["owner"].post("/people/crews/new/", GOOD, follow=True)
    assert "Dogwood crew is there." in answer.content.decode()
    made = Crew.objects.get(name="Dogwood crew")
    assert (made.yard_name, made.time_zone, made.active) == ("Mill yard", "America/Chicago", True)
    assert made.skills == ["dig", "camera", "traffic"]
    assert f"/plans/hours/{made.pk}/" in answer.content.decode()


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"name": "alder CREW"}, "name", "There is a crew"),
        ({"name": ""}, "name", "required"),
        ({"yard_name": " "}, "yard_name", "required"),
        ({"yard_longitude": "87.6"}, "yard_latitude", "outside the United States"),
        ({"yard_latitude": "north"}, "yard_latitude", "number"),
        ({"time_zone": "Mars/Olympus"}, "time_zone", "is not a time zone"),
        ({"skills": ["juggling"]}, "skills", "juggling"),
    ],
)
def test_a_fault_stands_beside_its_field_and_nothing_is_saved(
    clients: Clients, crew: Crew, wrong: dict[str, Any], field: str, words: str
) -> None:
    before = Crew.objects.count()
    answer = clients["owner"].post("/people/crews/new/", {**GOOD, **wrong})
    beside = answer.content.decode().partition(f'id="id_{field}_error">')[2].partition("</p>")[0]
    assert answer.status_code == 400
    assert words in beside
    assert Crew.objects.count() == before


def test_a_crew_is_renamed_and_its_skills_stay(clients: Clients, crew: Crew) -> None:
    crew.skills = ["dig", "vacuum"]
    crew.save()
    page = clients["owner"].get(f"/people/crews/{crew.pk}/").content.decode()
    assert 'value="vacuum"' in page
    answer = clients["owner"].post(
        f"/people/crews/{crew.pk}/",
        {**GOOD, "name": "Elder crew", "time_zone": "America/New_York", "more_skills": "vacuum"},
        follow=True,
    )
    assert "The changes are saved." in answer.content.decode()
    crew.refresh_from_db()
    assert (crew.name, crew.time_zone, crew.skills) == ("Elder crew", "America/New_York", ["dig", "camera", "vacuum"])


def test_a_truck_is_handed_over_and_awaits_the_crews_yes(clients: Clients, crew: Crew) -> None:
    truck = EquipmentFactory(kind="truck", name="Truck 7")
    EquipmentFactory(kind="receiver", name="Not a truck")
    lost = EquipmentFactory(kind="truck", name="Lost truck", place="lost")
    page = clients["owner"].get(f"/people/crews/{crew.pk}/").content.decode()
    assert "Truck 7" in page
    assert "Not a truck" not in page
    assert "Lost truck" not in page
    assert clients["owner"].post(f"/people/crews/{crew.pk}/truck", {"truck": lost.pk}).status_code == 400
    answer = clients["owner"].post(f"/people/crews/{crew.pk}/truck", {"truck": truck.pk}, follow=True)
    assert "Truck 7 is with Alder crew" in answer.content.decode()
    held = Equipment.objects.get(pk=truck.pk)
    assert (held.crew, held.unconfirmed) == (crew, True)


def test_a_crew_with_visits_ahead_is_not_retired(clients: Clients, crew: Crew) -> None:
    visit = VisitFactory(job=make_job(), crew=crew, starts_at=at(17, 8))
    answer = clients["owner"].post(f"/people/crews/{crew.pk}/rest", {"active": "no"})
    assert answer.status_code == 409
    assert "still has 1 visit ahead; move or cancel first" in answer.content.decode()
    visit.cancelled_at = at(16, 9)
    visit.save()
    clients["owner"].post(f"/people/crews/{crew.pk}/rest", {"active": "no"})
    crew.refresh_from_db()
    assert not crew.active
    assert "goes out no more" in clients["owner"].get(f"/people/crews/{crew.pk}/").content.decode()
    clients["owner"].post(f"/people/crews/{crew.pk}/rest", {"active": "yes"})
    crew.refresh_from_db()
    assert crew.active


def test_the_list_is_constant_in_queries(clients: Clients, crew: Crew, django_assert_num_queries: Queries) -> None:
    for count in (1, 12):
        for _ in range(count):
            held = CrewFactory()
            PersonFactory(crew=held)
            EquipmentFactory(kind="truck", crew=held)
        with django_assert_num_queries(3):  # session, person, crews
            assert clients["owner"].get("/people/crews/").status_code == 200


@pytest.mark.browser
@pytest.mark.parametrize(("width", "least_px", "scheme"), [(1280, 24, "light"), (360, 44, "dark")])
def test_in_the_browser(
    page: Any, log_in: LogIn, people: dict[str, Person | None], crew: Crew, width: int, least_px: int, scheme: str
) -> None:
    EquipmentFactory(kind="truck", name="Truck with a long name " * 3, crew=crew)
    EquipmentFactory(kind="truck", name="Truck 7")
    page.set_viewport_size({"width": width, "height": 740})
    page.emulate_media(color_scheme=scheme)
    log_in(people["owner"])
    for address in ("/people/crews/", "/people/crews/new/", f"/people/crews/{crew.pk}/"):
        page.goto(address)
        assert violations(page) == [], address
        assert sideways(page) == 0, address
        assert small_targets(page, least_px) == [], address
    page.goto("/people/crews/new/")
    page.get_by_role("button", name="Add the crew").click()
    page.get_by_text("Nothing was saved.").wait_for()
    assert violations(page) == []
