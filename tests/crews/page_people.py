"""The people who open pages, and a browser without JavaScript for each."""

from __future__ import annotations

import pytest
from django.test import Client

from crews.models import Crew, Person
from tests.crews.factories import CrewFactory, PersonFactory

Clients = dict[str, Client]


def client_of(person: Person | None) -> Client:
    client = Client()
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
        "owner": PersonFactory(owner=True, username="owner"),
        "dispatcher": PersonFactory(dispatcher=True, username="dispatcher"),
        "member": PersonFactory(crew=crew, username="member", first_name="Ines", last_name="Dunmarrow"),
        "other": PersonFactory(crew=other_crew, username="other"),
        "crewless": PersonFactory(username="crewless"),
        "stranger": None,
    }


@pytest.fixture
def clients(people: dict[str, Person | None]) -> Clients:
    return {name: client_of(person) for name, person in people.items()}
