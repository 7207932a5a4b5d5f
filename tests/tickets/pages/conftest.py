"""The office's pages at a frozen instant: the people, jobs that each may see, and ways to post."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from crews.models import Crew, Person
from tests.crews.factories import VisitFactory
from tests.crews.page_people import clients, crew, other_crew, people
from tests.factories import NOW, OPENS, make_clear_job
from tickets.models import Job

__all__ = ["clients", "crew", "other_crew", "people"]


@pytest.fixture(autouse=True)
def _at_ten(frozen_now: Any) -> None:
    """Wed 16 Sep 2026, 10:00 AM in New York."""


@pytest.fixture
def job(crew: Crew, people: dict[str, Person | None]) -> Job:
    """A job that may be dug now, with a visit of the member's crew."""
    made = make_clear_job(title="Sewer lateral")
    VisitFactory(job=made, crew=crew, starts_at=OPENS, ends_at=NOW)
    return made


@pytest.fixture
def office(clients: dict[str, Client]) -> Client:
    """The dispatcher's browser."""
    return clients["dispatcher"]
