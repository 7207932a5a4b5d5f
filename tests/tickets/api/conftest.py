"""Clients logged in as each of the people, and the clock stopped at NOW."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from rest_framework.test import APIClient

from tests.crews.factories import CrewFactory, PersonFactory
from tests.factories import NOW, dispatcher
from tickets.models import Job

As = Callable[[Any], APIClient]


@pytest.fixture(autouse=True)
def stopped_clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def as_person(db: None) -> As:
    def log_in(person: Any) -> APIClient:
        client = APIClient()
        client.force_authenticate(person)
        return client

    return log_in


@pytest.fixture
def office(as_person: As) -> APIClient:
    return as_person(dispatcher())


@pytest.fixture
def crew(db: None) -> Any:
    return CrewFactory()


@pytest.fixture
def mate(as_person: As, crew: Any) -> APIClient:
    """A member of the crew that goes to the job."""
    return as_person(PersonFactory(crew=crew))


@pytest.fixture
def stranger(as_person: As) -> APIClient:
    """A member of another crew."""
    return as_person(PersonFactory(crew=CrewFactory()))


@pytest.fixture
def send_crew(crew: Any) -> Callable[[Job], None]:
    """Place a visit of the crew on a job."""

    def send(job: Job) -> None:
        job.visits.create(
            crew=crew,
            kind="white_line",
            starts_at=NOW + timedelta(hours=1),
            ends_at=NOW + timedelta(hours=2),
            created_by=dispatcher(),
            created_at=NOW,
        )

    return send
