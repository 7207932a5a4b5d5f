"""What a crew is told about its kit before it leaves the yard."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest

from crews import services
from crews.models import Crew, Override, Visit, VisitKind, WantedVisit
from crews.register.day_kit import held_on
from crews.register.visit_kit import kit_of_day
from crews.selectors import local_day, visits_between
from tests.crews.factories import CrewFactory, EquipmentFactory, PersonFactory, VisitFactory
from tests.crews.office import at, make_job

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 22)
LATER = date(2027, 9, 1)


@pytest.fixture
def crew() -> Crew:
    return CrewFactory(name="Alder crew")


def visit(crew: Crew, hour: int = 8, kind: str = VisitKind.PRIVATE_LOCATE) -> Visit:
    return VisitFactory(job=make_job(), crew=crew, kind=kind, starts_at=at(22, hour))


def told(crew: Crew) -> dict[int, tuple[str, ...]]:
    return kit_of_day(crew, ON, list(visits_between(*local_day(crew, ON), crew=crew)))


def test_nothing_to_say_when_all_is_good(crew: Crew) -> None:
    EquipmentFactory(crew=crew, calibration_due_on=LATER, frequencies_hz=[512, 8192])
    EquipmentFactory(kind="transmitter", crew=crew, calibration_due_on=LATER, frequencies_hz=[8192])
    good, dig = visit(crew), visit(crew, 11, VisitKind.DIG)
    assert told(crew) == {good.pk: (), dig.pk: ()}


def test_a_lack_names_the_item_and_a_spare_is_to_be_taken_along(crew: Crew) -> None:
    EquipmentFactory(name="Receiver 3", serial="QX-3", crew=crew, calibration_due_on=ON)
    EquipmentFactory(kind="transmitter", name="Sender 9", serial="QX-9", calibration_due_on=LATER)
    one = visit(crew)
    lack, take = told(crew)[one.pk]
    assert lack == (
        "Alder crew has no receiver that may go out on Tue 22 Sep 2026. "
        "Receiver 3 (QX-3): Calibration is due on the day itself, Tue 22 Sep 2026."
    )
    assert take == "Take along a transmitter: Sender 9 (QX-9), at the yard."


def test_what_the_register_does_not_keep_is_unknown_and_not_fine(crew: Crew) -> None:
    one = visit(crew, kind=VisitKind.CAMERA)
    assert told(crew)[one.pk] == (
        "No camera reel is in the register: nobody knows whether the one you take may be trusted.",
    )


def test_what_does_not_hear_each_other_is_told(crew: Crew) -> None:
    EquipmentFactory(name="R", crew=crew, calibration_due_on=LATER, frequencies_hz=[512])
    EquipmentFactory(name="T", kind="transmitter", crew=crew, calibration_due_on=LATER, frequencies_hz=[8192])
    one = visit(crew)
    assert told(crew)[one.pk] == ("T and the receiver share no frequency.",)
    EquipmentFactory(name="U", kind="transmitter", crew=crew, calibration_due_on=LATER, frequencies_hz=[512])
    assert told(crew)[one.pk] == ()


def test_the_kit_that_was_asked_for_governs(crew: Crew) -> None:
    EquipmentFactory(kind="sonde", crew=crew, out_of_service_reason="Cracked", name="Sonde 1", serial="QX-1")
    one = visit(crew, kind=VisitKind.CAMERA)
    WantedVisit.objects.create(
        job=one.job, kind=one.kind, minutes=60, kit=["sonde"], visit=one, asked_by=PersonFactory(), asked_at=at(16, 9)
    )
    assert "Sonde 1 (QX-1): Out of service: Cracked" in told(crew)[one.pk][0]


def test_constant_in_queries(crew: Crew, django_assert_num_queries: Any) -> None:
    EquipmentFactory(crew=crew, calibration_due_on=LATER, frequencies_hz=[512])
    EquipmentFactory(kind="transmitter", crew=crew, calibration_due_on=LATER, frequencies_hz=[512])
    for many in (1, 6):
        for hour in range(many):
            visit(crew, 7 + hour)
        held = list(visits_between(*local_day(crew, ON), crew=crew))
        with django_assert_num_queries(4):
            assert set(kit_of_day(crew, ON, held).values()) == {()}


def test_held_says_whose_word_it_goes_out_on(crew: Crew) -> None:
    item = EquipmentFactory(crew=crew, calibration_due_on=ON)
    assert [(one.may_go_out, one.word) for one in held_on(crew, ON)] == [(False, "")]
    owner = PersonFactory(owner=True, first_name="Merle", last_name="Ashgrove")
    given = datetime(2026, 9, 16, 14, tzinfo=UTC)
    Override.objects.create(item=item, from_on=ON, to_on=ON, reason="Bench is full", by=owner, at=given)
    (one,) = held_on(crew, ON)
    assert (one.may_go_out, one.flag) == (True, one.word)
    assert one.word.endswith("Goes out on the word of Merle Ashgrove: Bench is full")


def test_checks_before_use_are_to_do_until_one_of_that_day_is_entered(crew: Crew) -> None:
    owner, now = PersonFactory(owner=True), at(16, 9)
    item = services.add_equipment(
        kind="receiver", name="R", serial="R-1", crew=crew, calibration_due_on=LATER, actor=owner, now=now
    )
    assert [(one.key, one.title) for one in held_on(crew, date(2026, 9, 16))[0].checks] == [
        ("known_line", "Check on a known line")
    ]
    services.record_result(item=item, key="known_line", done_on=date(2026, 9, 16), passed=True, actor=owner, now=now)
    assert held_on(crew, date(2026, 9, 16))[0].checks == ()
    assert len(held_on(crew, date(2026, 9, 17))[0].checks) == 1  # each day anew
