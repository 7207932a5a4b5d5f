"""The people who ask: owner, dispatcher, a crew's member, a member of another crew, nobody."""

from __future__ import annotations

import pytest
from rest_framework.test import APIClient

from crews.models import Crew, Person
from tests.crews.factories import CrewFactory, PersonFactory


def client_of(person: Person | None) -> APIClient:
    client = APIClient()
    if person is not None:
        client.force_login(person)
    return client


@pytest.fixture
def crew(db: None) -> Crew:
    return CrewFactory(name="Alder crew")


@pytest.fixture
def other_crew(db: None) -> Crew:
    return CrewFactory(name="Basalt crew", time_zone="America/Chicago")


@pytest.fixture
def people(crew: Crew, other_crew: Crew) -> dict[str, Person | None]:
    """One of each kind; the stranger has not logged in."""
    return {
        "owner": PersonFactory(owner=True),
        "dispatcher": PersonFactory(dispatcher=True),
        "member": PersonFactory(crew=crew),
        "other": PersonFactory(crew=other_crew),
        "crewless": PersonFactory(),
        "stranger": None,
    }


@pytest.fixture
def clients(people: dict[str, Person | None]) -> dict[str, APIClient]:
    return {name: client_of(person) for name, person in people.items()}
