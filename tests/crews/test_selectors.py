from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from crews import selectors
from crews.models import Equipment
from tests.crews.factories import CrewFactory, EquipmentFactory, VisitFactory
from tests.crews.office import at, clear_job, copies

Queries = Callable[[int], AbstractContextManager[Any]]
pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("on", "start", "hours"),
    [
        (date(2026, 9, 16), datetime(2026, 9, 16, 4, tzinfo=UTC), 24),
        # Daylight saving in 2026 begins on 8 March and ends on 1 November (15 U.S.C. 260a).
        (date(2026, 3, 8), datetime(2026, 3, 8, 5, tzinfo=UTC), 23),
        (date(2026, 11, 1), datetime(2026, 11, 1, 4, tzinfo=UTC), 25),
    ],
)
def test_a_local_day_is_as_long_as_its_clock_makes_it(on: date, start: datetime, hours: int) -> None:
    begins, ends = selectors.local_day(CrewFactory.build(), on)
    assert begins == start
    assert ends - begins == timedelta(hours=hours)


def test_visits_between_touch_the_span_and_are_in_order() -> None:
    job, crew = clear_job(), CrewFactory()
    late = VisitFactory(job=job, crew=crew, starts_at=at(17, 10))
    early = VisitFactory(job=job, crew=crew, starts_at=at(17, 8))
    other = VisitFactory(job=job, starts_at=at(17, 9))
    VisitFactory(job=job, crew=crew, starts_at=at(17, 9), cancelled_at=at(16, 9))
    assert list(selectors.visits_between(at(17, 0), at(18, 0))) == [early, other, late]
    assert list(selectors.visits_between(at(17, 0), at(18, 0), crew)) == [early, late]
    # Half open: one that ends as the span begins, or begins as it ends, is outside.
    assert list(selectors.visits_between(at(17, 9), at(17, 10), crew)) == []
    assert list(selectors.visits_between(at(17, 8, 59), at(17, 9), crew)) == [early]


def test_equipment_due_longest_overdue_first_and_undated_last() -> None:
    on = date(2026, 9, 16)
    wanted = [("late", -20), ("just late", -1), ("today", 0), ("soon", 30)]
    for name, days in reversed(wanted):
        EquipmentFactory(name=name, calibration_due_on=on + timedelta(days=days))
    EquipmentFactory(name="later", calibration_due_on=on + timedelta(days=31))
    EquipmentFactory(name="undated")
    EquipmentFactory(name="truck", kind="truck")
    found = [item.name for item in selectors.equipment_due(on)]
    assert found == [*(name for name, _ in wanted), "undated"]
    assert [item.name for item in selectors.equipment_due(on, 0)] == ["late", "just late", "today", "undated"]


@pytest.mark.parametrize(
    ("given", "flag"),
    [
        ({"calibration_due_on": date(2026, 9, 16)}, ""),
        ({"calibration_due_on": date(2026, 9, 15)}, "Calibration overdue by 1 day"),
        ({}, "No calibration date on record"),
        ({"kind": "truck"}, ""),
        (
            {"calibration_due_on": date(2026, 9, 1), "out_of_service_reason": "Dropped"},
            "Out of service: Dropped",
        ),
    ],
)
def test_what_is_wrong_with_an_item(given: dict[str, Any], flag: str) -> None:
    item: Equipment = EquipmentFactory.build(**given)
    assert selectors.flag_of(item, date(2026, 9, 16)) == flag


def test_a_day_is_constant_in_queries(django_assert_num_queries: Queries) -> None:
    crew = CrewFactory()
    jobs = copies(clear_job(), 30)
    for many in (1, 30):
        for number, job in enumerate(jobs[:many] if many == 1 else jobs[1:]):
            VisitFactory(job=job, crew=crew, starts_at=at(16, 11) + timedelta(minutes=many + number))
        with django_assert_num_queries(11):  # visits, ten of the facts
            day = selectors.day_of(crew, date(2026, 9, 16), at(16, 10))
            assert len(day.stops) == many
            assert all(stop.verdict.may_dig for stop in day.stops)
            assert [stop.job.site.town for stop in day.stops] == ["Larkmoor"] * many
