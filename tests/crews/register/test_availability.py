"""What may go out on a day: due days, the owner's word, what is gone or stopped."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from crews.models import Override, Person
from crews.register.availability import availability, availability_over, days_of, fit_spans
from tests.crews.factories import CrewFactory, EquipmentFactory, PersonFactory

pytestmark = pytest.mark.django_db
TODAY = date(2026, 9, 16)
DUE = date(2026, 9, 22)


@pytest.fixture
def owner() -> Person:
    return PersonFactory(owner=True, first_name="Merle", last_name="Ashgrove")


def word(item: object, owner: Person, first: int, last: int, reason: str = "Bench is full") -> Override:
    return Override.objects.create(
        item=item,
        from_on=date(2026, 9, first),
        to_on=date(2026, 9, last),
        reason=reason,
        by=owner,
        at=datetime(2026, 9, 16, 14, tzinfo=UTC),
    )


def test_over_a_span_it_changes_on_the_due_day(django_assert_num_queries: object, owner: Person) -> None:
    items = [EquipmentFactory(calibration_due_on=DUE, crew=CrewFactory()) for _ in range(5)]
    word(items[0], owner, 22, 23)
    word(items[0], owner, 24, 24, "Back on Friday")
    word(items[1], owner, 22, 30).delete()
    days = [TODAY + timedelta(days=n) for n in range(10)]
    with django_assert_num_queries(1):  # type: ignore[operator]
        found = availability_over(items, days)
    good = {pk: [day.day for day, one in by_day.items() if one.available] for pk, by_day in found.items()}
    assert good[items[0].pk] == [16, 17, 18, 19, 20, 21, 22, 23, 24]
    assert all(good[item.pk] == [16, 17, 18, 19, 20, 21] for item in items[1:])
    assert "on the word of Merle Ashgrove: Bench is full" in found[items[0].pk][date(2026, 9, 23)].why
    assert "Back on Friday" in found[items[0].pk][date(2026, 9, 24)].why
    assert found[items[1].pk][DUE].why == "Calibration is due on the day itself, Tue 22 Sep 2026."
    assert found[items[1].pk][date(2026, 9, 23)].why == "Calibration was due Tue 22 Sep 2026."


def test_a_span_says_what_each_of_its_days_says(owner: Person) -> None:
    items = [
        EquipmentFactory(calibration_due_on=DUE),
        EquipmentFactory(),
        EquipmentFactory(kind="ladder", calibration_due_on=None),
        EquipmentFactory(calibration_due_on=DUE, place="lost"),
        EquipmentFactory(calibration_due_on=DUE, out_of_service_reason="Dropped"),
        EquipmentFactory(calibration_due_on=DUE, care_unknown="Bump test"),
    ]
    word(items[0], owner, 20, 22)
    word(items[0], owner, 24, 30)
    word(items[1], owner, 1, 18)
    word(items[4], owner, 10, 30)  # no word helps what has failed
    days = [TODAY + timedelta(days=n) for n in range(9)]
    over = availability_over(items, days)
    for day in days:
        assert availability(items, day) == {pk: by_day[day] for pk, by_day in over.items()}
    assert [over[item.pk][TODAY].available for item in items] == [True, True, True, False, False, False]
    for pk, fit in fit_spans(items, days[0], days[-1]).items():
        said = [fit.last_day is None or day <= fit.last_day or day in fit.also for day in days]
        assert said == [over[pk][day].available for day in days]
    assert availability_over(items, []) == {item.pk: {} for item in items}


def test_the_days_that_a_visit_touches_are_those_of_the_crews_clock() -> None:
    late = datetime(2026, 9, 17, 3, tzinfo=UTC)  # Wed 11 PM in New York
    assert days_of(late, late + timedelta(hours=1), "America/New_York") == [TODAY]
    assert days_of(late, late + timedelta(hours=2), "America/New_York") == [TODAY, date(2026, 9, 17)]
    assert days_of(late, late + timedelta(hours=1), "UTC") == [date(2026, 9, 17)]
