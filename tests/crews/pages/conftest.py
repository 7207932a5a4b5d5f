from __future__ import annotations

from datetime import date

import pytest

from crews import services
from crews.models import Crew, Equipment, Person
from locates import clock
from tests.crews.page_people import clients, crew, other_crew, people

__all__ = ["clients", "crew", "other_crew", "people"]

People = dict[str, Person | None]


@pytest.fixture
def owner(people: People) -> Person:
    assert people["owner"] is not None
    return people["owner"]


@pytest.fixture
def item(owner: Person, crew: Crew) -> Equipment:
    return services.add_equipment(
        kind="receiver",
        name="Receiver A",
        serial="S-1",
        crew=crew,
        calibration_due_on=date(2026, 9, 30),
        frequencies_hz=[512],
        actor=owner,
        now=clock.now(),
    )
