from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from crews import services
from crews.models import Crew, Person, Role
from tests.crews.factories import CrewFactory, PersonFactory
from tickets.services.refusals import BadInput, Conflict, Forbidden

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 9, 16, 14, tzinfo=UTC)
YARD: dict[str, Any] = {
    "name": "Elm crew",
    "yard_name": "Elm yard",
    "yard_latitude": 37.5,
    "yard_longitude": -77.4,
    "time_zone": "America/New_York",
}


@pytest.fixture
def owner() -> Person:
    return PersonFactory(owner=True)


def test_the_first_person_is_the_owner_and_there_is_one_first_only() -> None:
    first = services.add_first_owner(username="maren", password="dig-with-care")
    assert (first.role, first.check_password("dig-with-care")) == (Role.OWNER, True)
    with pytest.raises(Conflict, match="already"):
        services.add_first_owner(username="other", password="dig-with-care")


def test_a_new_log_in_works_and_sees_least_by_its_role(owner: Person) -> None:
    crew = CrewFactory()
    person = services.add_person(
        username=" ines ", password="dig-with-care", role=Role.CREW_MEMBER, crew=crew, actor=owner
    )
    assert person.username == "ines"
    assert person.check_password("dig-with-care")
    assert not person.runs_the_office


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"username": " "}, "username"),
        ({"username": "TAKEN"}, "username"),
        ({"password": "short"}, "password"),
        ({"role": "visitor"}, "role"),
        ({"role": Role.CREW_MEMBER}, "crew"),
    ],
)
def test_bad_input_is_refused_whole(owner: Person, wrong: dict[str, Any], field: str) -> None:
    PersonFactory(username="taken", dispatcher=True)
    before = Person.objects.count()
    good = {"username": "new", "password": "dig-with-care", "role": Role.DISPATCHER}
    with pytest.raises(BadInput) as refused:
        services.add_person(**{**good, **wrong}, actor=owner)
    assert field in refused.value.fields
    assert Person.objects.count() == before


def test_every_fault_is_told_at_once(owner: Person) -> None:
    with pytest.raises(BadInput) as refused:
        services.add_person(username="", password="x", role="visitor", actor=owner)
    assert set(refused.value.fields) == {"username", "password", "role"}
    for field in refused.value.fields:
        assert field in refused.value.message.lower()


@pytest.mark.parametrize("trait", ["dispatcher", "crew_member"])
def test_the_owner_alone_keeps_people_and_crews(trait: str) -> None:
    actor = PersonFactory(role=trait)
    with pytest.raises(Forbidden):
        services.add_person(username="x", password="dig-with-care", role=Role.DISPATCHER, actor=actor)
    with pytest.raises(Forbidden):
        services.change_person(person=actor, actor=actor, role=Role.OWNER)
    with pytest.raises(Forbidden):
        services.add_crew(**YARD, actor=actor)
    with pytest.raises(Forbidden):
        services.change_crew(crew=CrewFactory(), actor=actor, now=NOW, active=False)


def test_an_owner_whose_log_in_has_ended_reaches_nothing() -> None:
    with pytest.raises(Forbidden):
        services.add_crew(**YARD, actor=PersonFactory(owner=True, is_active=False))


def test_the_last_owner_stays(owner: Person) -> None:
    for change in ({"role": Role.DISPATCHER}, {"is_active": False}):
        with pytest.raises(Conflict, match="last owner"):
            services.change_person(person=owner, actor=owner, **change)
    owner.refresh_from_db()
    assert owner.is_owner
    PersonFactory(owner=True)
    assert not services.change_person(person=owner, actor=owner, is_active=False).is_active


def test_everybody_may_set_the_own_password_and_the_owner_any(owner: Person) -> None:
    one, other = PersonFactory.create_batch(2, dispatcher=True)
    services.set_password(person=one, password="a-new-word-1", actor=one)
    services.set_password(person=other, password="a-new-word-2", actor=owner)
    assert Person.objects.get(pk=one.pk).check_password("a-new-word-1")
    assert Person.objects.get(pk=other.pk).check_password("a-new-word-2")
    with pytest.raises(Forbidden):
        services.set_password(person=other, password="a-new-word-3", actor=one)
    with pytest.raises(BadInput):
        services.set_password(person=one, password="short", actor=one)


def test_a_crew_is_added(owner: Person) -> None:
    crew = services.add_crew(**YARD, skills=["dig"], actor=owner)
    assert Crew.objects.get() == crew
    assert crew.skills == ["dig"]


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"name": ""}, "name", "fill this in"),
        ({"name": "OAK CREW"}, "name", "already"),
        ({"time_zone": "America/Nowhere"}, "time_zone", "not a time zone"),
        ({"time_zone": ""}, "time_zone", "not a time zone"),
        ({"yard_latitude": -77.4, "yard_longitude": 37.5}, "yard_latitude", "swapped"),
        ({"yard_latitude": 51.5, "yard_longitude": -0.1}, "yard_latitude", "outside"),
        ({"skills": [""]}, "skills", "list of words"),
    ],
)
def test_a_crew_that_cannot_be_is_refused(owner: Person, wrong: dict[str, Any], field: str, words: str) -> None:
    CrewFactory(name="Oak crew")
    with pytest.raises(BadInput) as refused:
        services.add_crew(**{**YARD, **wrong}, actor=owner)
    assert words in refused.value.fields[field]
    assert Crew.objects.count() == 1


def test_a_crew_may_rest_and_keep_its_name(owner: Person) -> None:
    crew = CrewFactory(name="Oak crew")
    changed = services.change_crew(crew=crew, actor=owner, now=NOW, active=False, name="Oak crew")
    assert not changed.active


def test_a_slip_of_the_caller_is_a_fault_not_a_refusal(owner: Person) -> None:
    with pytest.raises(TypeError, match="is_superuser"):
        services.change_person(person=owner, actor=owner, is_superuser=True)
    with pytest.raises(TypeError, match="id"):
        services.change_crew(crew=CrewFactory(), actor=owner, now=NOW, id=7)
