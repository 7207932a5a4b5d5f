from __future__ import annotations

import pytest

from crews.models import Crew
from tests.crews.factories import VisitFactory
from tests.crews.page_people import clients, crew, other_crew, people
from tests.factories import NOW, dispatcher, make_job
from tests.locates.field.on_phone import gone, phone
from tickets.models import Job

__all__ = ["clients", "crew", "gone", "other_crew", "people", "phone"]


@pytest.fixture
def job(db: None, crew: Crew) -> Job:
    """A job with private lines likely, visited by the crew."""
    made = make_job(actor=dispatcher(), private_lines_likely=True)
    VisitFactory(job=made, crew=crew, starts_at=NOW)
    return made
