"""Who looks at the chart, and jobs in several states at the frozen instant."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from django.test import Client

from crews import services
from crews.models import Crew, Person, Visit
from tests.crews.factories import CrewFactory, PersonFactory
from tests.crews.office import NOW, at, clear_job, give_notice, make_job
from tickets.models import Job


@pytest.fixture
def dispatcher(db: None) -> Person:
    return PersonFactory(dispatcher=True)


@pytest.fixture
def crew(db: None) -> Crew:
    return CrewFactory(name="Alder crew")


@pytest.fixture
def office(dispatcher: Person, frozen_now: datetime) -> Client:
    """The dispatcher's browser at the frozen instant."""
    client = Client()
    client.force_login(dispatcher)
    return client


@pytest.fixture
def clear(db: None) -> Job:
    """May be dug from Wed 9 Sep, 11 AM, when all had answered, to Fri 2 Oct 2026, 7 AM EDT."""
    return clear_job()


@pytest.fixture
def waiting(db: None) -> Job:
    """Notice of Tue 15 Sep, 10 AM EDT: by Virginia's rule it opens Fri 18 Sep, 7 AM."""
    job = make_job(title="Gas yard line", town="Quillhaven")
    give_notice(job, number="D-2", received_at=at(15, 10), outcomes=("", ""))
    return job


@pytest.fixture
def put(dispatcher: Person, crew: Crew) -> Callable[..., Visit]:
    """Places a dig of four hours on a job: put(job, day, hour)."""

    def go(job: Job, day: int = 17, hour: int = 8) -> Visit:
        return services.schedule_visit(
            job=job,
            crew=crew,
            kind="dig",
            starts_at=at(day, hour),
            ends_at=at(day, hour + 4),
            actor=dispatcher,
            now=NOW,
        )

    return go
