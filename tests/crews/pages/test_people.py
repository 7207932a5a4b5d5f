"""The owner's list of people."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest
from django.test import Client

from crews.models import Crew, Person, Role
from tests.crews.factories import PersonFactory
from tests.crews.page_people import Clients

Queries = Callable[[int], AbstractContextManager[Any]]
pytestmark = pytest.mark.django_db
GOOD = "copper-kettle-41"


def test_the_list_is_the_owners_alone(clients: Clients, people: dict[str, Person | None]) -> None:
    member = people["member"]
    assert member is not None
    for address in ("/people/", "/people/new/", f"/people/{member.pk}/"):
        reached = {who: clients[who].get(address).status_code for who in clients}
        assert reached == {
            "owner": 200,
            "dispatcher": 403,
            "member": 403,
            "other": 403,
            "crewless": 403,
            "stranger": 302,
        }
    for act in ("password", "log-in"):
        assert clients["dispatcher"].post(f"/people/{member.pk}/{act}", {"password": GOOD}).status_code == 403
    assert 'href="/people/"' in clients["owner"].get("/people/").content.decode()
    assert 'href="/people/"' not in clients["dispatcher"].get("/equipment/").content.decode()


def test_the_list_names_roles_and_crews(clients: Clients) -> None:
    page = clients["owner"].get("/people/").content.decode()
    for words in ("Ines Dunmarrow", "Crew member", "Alder crew", "Basalt crew", "Dispatcher", "No crew"):
        assert words in page, words


def test_add_a_person_who_can_then_log_in(clients: Clients, crew: Crew) -> None:
    given = {"username": "wendell", "password": GOOD, "role": "crew_member", "crew": crew.pk, "first_name": "Wendell"}
    answer = clients["owner"].post("/people/new/", given, follow=True)
    assert "Wendell can log in as wendell." in answer.content.decode()
    made = Person.objects.get(username="wendell")
    assert (made.role, made.crew) == (Role.CREW_MEMBER, crew)
    assert Client().login(username="wendell", password=GOOD)


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"username": "Member"}, "username", "is taken"),
        ({"password": "short"}, "password", "too short"),
        ({"crew": ""}, "crew", "A crew member needs a crew"),
        ({"role": "king"}, "role", "king"),
        ({"email": "no mail"}, "email", "valid email"),
    ],
)
def test_every_fault_stands_beside_its_field(
    clients: Clients, crew: Crew, changed: dict[str, str], field: str, words: str
) -> None:
    before = Person.objects.count()
    given = {"username": "wendell", "password": GOOD, "role": "crew_member", "crew": crew.pk, **changed}
    answer = clients["owner"].post("/people/new/", given)
    page = answer.content.decode()
    assert answer.status_code == 400
    assert words in page.partition(f'id="id_{field}_error">')[2].partition("</p>")[0]
    assert GOOD not in page
    assert Person.objects.count() == before


def test_change_role_and_crew(clients: Clients, people: dict[str, Person | None], other_crew: Crew) -> None:
    member = people["member"]
    assert member is not None
    given = {"first_name": "Ines", "last_name": "Dunmarrow", "role": "dispatcher", "crew": other_crew.pk}
    assert clients["owner"].post(f"/people/{member.pk}/", given).status_code == 302
    member.refresh_from_db()
    assert (member.role, member.crew) == ("dispatcher", other_crew)


def test_the_last_owner_stays(clients: Clients, people: dict[str, Person | None]) -> None:
    owner = people["owner"]
    assert owner is not None
    answer = clients["owner"].post(f"/people/{owner.pk}/", {"role": "dispatcher"})
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "last owner" in page.partition('id="id_role_error">')[2].partition("</p>")[0]
    answer = clients["owner"].post(f"/people/{owner.pk}/log-in", {"active": "no"})
    assert (answer.status_code, "last owner" in answer.content.decode()) == (409, True)
    owner.refresh_from_db()
    assert (owner.role, owner.is_active) == ("owner", True)


def test_an_ended_log_in_sees_nothing_more(clients: Clients, people: dict[str, Person | None]) -> None:
    member = people["member"]
    assert member is not None
    assert clients["member"].get("/today/").status_code == 200
    clients["owner"].post(f"/people/{member.pk}/log-in", {"active": "no"})
    assert clients["member"].get("/today/").status_code == 302
    assert "This log-in has ended." in clients["owner"].get(f"/people/{member.pk}/").content.decode()
    clients["owner"].post(f"/people/{member.pk}/log-in", {"active": "yes"})
    assert clients["member"].get("/today/").status_code == 200


def test_a_new_password_ends_the_old_sessions_but_not_the_owners_own(
    clients: Clients, people: dict[str, Person | None]
) -> None:
    member, owner = people["member"], people["owner"]
    assert member is not None
    assert owner is not None
    assert clients["owner"].post(f"/people/{member.pk}/password", {"password": "12345678"}).status_code == 400
    assert clients["owner"].post(f"/people/{member.pk}/password", {"password": GOOD}).status_code == 302
    assert clients["member"].get("/today/").status_code == 302
    assert Client().login(username="member", password=GOOD)
    assert clients["owner"].post(f"/people/{owner.pk}/password", {"password": GOOD}).status_code == 302
    assert clients["owner"].get("/people/").status_code == 200


def test_constant_in_queries(clients: Clients, crew: Crew, django_assert_num_queries: Queries) -> None:
    for many in (1, 30):
        PersonFactory.create_batch(many, crew=crew)
        with django_assert_num_queries(4):  # session, person, how many, the page with crews
            assert clients["owner"].get("/people/").status_code == 200
