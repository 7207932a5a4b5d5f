"""Visits that due days hit, and the proposed days, from rows."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from crews.models import Crew
from crews.register.away import away_plan
from tests.crews.factories import CrewFactory, EquipmentFactory, VisitFactory
from tests.crews.office import make_job

pytestmark = pytest.mark.django_db
TODAY = date(2026, 9, 16)


@pytest.fixture
def crew() -> Crew:
    crew = CrewFactory()
    EquipmentFactory(kind="transmitter", crew=crew, calibration_due_on=date(2027, 9, 1))
    return crew


def visit(crew: Crew, day: int, kind: str = "private_locate") -> None:
    VisitFactory(job=make_job(), crew=crew, kind=kind, starts_at=datetime(2026, 9, day, 13, tzinfo=UTC))


def test_a_visit_on_the_due_day_itself_is_hit(crew: Crew) -> None:
    EquipmentFactory(crew=crew, calibration_due_on=date(2026, 9, 22))
    for day in (21, 22, 23):
        visit(crew, day)
    hits = away_plan(TODAY).hits
    assert [(hit.visit.starts_at.day, hit.kinds) for hit in hits] == [(22, ("receiver",)), (23, ("receiver",))]


def test_a_spare_at_the_yard_saves_the_visit(crew: Crew) -> None:
    EquipmentFactory(crew=crew, calibration_due_on=date(2026, 9, 22))
    EquipmentFactory(calibration_due_on=date(2027, 1, 1))
    visit(crew, 23)
    plan = away_plan(TODAY)
    assert (plan.hits, plan.lost) == ((), ())


def test_it_is_sent_between_the_visits(crew: Crew) -> None:
    item = EquipmentFactory(crew=crew, calibration_due_on=date(2026, 9, 28))
    for day in (17, 18, 24, 25):
        visit(crew, day)
    plan = away_plan(TODAY, away_days=5)
    sending = plan.sendings[0]
    # Leaving on Mon 21 Sep for five days loses the 24th and 25th, on the 28th nothing: it is back late, but
    # no visit follows. On the 28th it may not go out any more anyway.
    assert (sending.item, sending.leave_on, sending.lost) == (item, date(2026, 9, 28), ())
    visit(crew, 29)
    visit(crew, 30)
    plan = away_plan(TODAY, away_days=2)
    assert (plan.sendings[0].leave_on, plan.lost) == (date(2026, 9, 22), ())
    assert plan.proven


def test_constant_in_queries(crew: Crew, django_assert_max_num_queries) -> None:
    for _ in range(6):
        EquipmentFactory(crew=crew, calibration_due_on=date(2026, 9, 25))
        visit(crew, 24)
    with django_assert_max_num_queries(5):
        away_plan(TODAY)
