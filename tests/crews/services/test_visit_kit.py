"""A visit that needs an instrument, and what the crew may take along on the day."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest

from crews import services
from crews.models import Crew, Equipment, Person, Visit, VisitKind
from crews.register.visit_kit import lacks_of
from tests.crews.factories import CrewFactory, EquipmentFactory, PersonFactory, VisitFactory
from tests.crews.office import NOW, at, make_job
from tickets.services.refusals import Conflict

pytestmark = pytest.mark.django_db
TODAY = date(2026, 9, 16)
DUE = date(2026, 9, 22)


@pytest.fixture
def owner() -> Person:
    return PersonFactory(owner=True, first_name="Merle", last_name="Ashgrove")


@pytest.fixture
def crew() -> Crew:
    return CrewFactory(name="Alder crew")


@pytest.fixture
def receiver(crew: Crew) -> Equipment:
    return EquipmentFactory(name="Receiver 3", serial="QX-3", crew=crew, calibration_due_on=DUE)


@pytest.fixture(autouse=True)
def transmitter(crew: Crew) -> Equipment:
    return EquipmentFactory(kind="transmitter", name="Sender 3", crew=crew, calibration_due_on=date(2027, 9, 1))


def place(crew: Crew, actor: Person, day: int, **more: Any) -> Visit:
    given: dict[str, Any] = {
        "job": make_job(),
        "kind": VisitKind.PRIVATE_LOCATE,
        "starts_at": at(day, 8),
        "ends_at": at(day, 10),
        **more,
    }
    return services.schedule_visit(crew=crew, actor=actor, now=NOW, **given)


def test_the_day_before_the_due_day_is_the_last(owner: Person, crew: Crew, receiver: Equipment) -> None:
    assert place(crew, owner, 21).pk
    for day, why in ((22, "is due on the day itself, Tue 22 Sep 2026"), (23, "was due Tue 22 Sep 2026")):
        with pytest.raises(Conflict) as refused:
            place(crew, owner, day)
        assert refused.value.code == "kit_unavailable"
        assert f"Receiver 3 (QX-3): Calibration {why}" in refused.value.message
        assert "Enter a good result" in refused.value.message
        assert "ask the owner" in refused.value.message
    assert Visit.objects.count() == 1


def test_the_owners_word_holds_for_its_days_and_no_others(owner: Person, crew: Crew, receiver: Equipment) -> None:
    services.allow_despite_due(
        item=receiver, from_on=DUE, to_on=date(2026, 9, 23), reason="Bench is full", actor=owner, now=NOW
    )
    assert place(crew, owner, 22).pk
    assert place(crew, owner, 23).pk
    with pytest.raises(Conflict, match="was due Tue 22 Sep"):
        place(crew, owner, 24)


@pytest.mark.parametrize(
    ("step", "words"),
    [("sent_away", "Away for repair or calibration"), ("lost", "Lost"), ("stolen", "Stolen")],
)
def test_what_is_gone_does_not_count(owner: Person, crew: Crew, receiver: Equipment, step: str, words: str) -> None:
    services.move_item(item=receiver, step=step, actor=owner, now=NOW)
    with pytest.raises(Conflict, match="holds none and none lies at the yard") as refused:
        place(crew, owner, 17)
    assert f"Receiver 3 (QX-3): {words}." in refused.value.message


def test_what_is_stopped_or_without_a_date_does_not_count(owner: Person, crew: Crew, receiver: Equipment) -> None:
    services.take_out_of_service(item=receiver, reason="Dropped", actor=owner)
    EquipmentFactory(name="Receiver 4", serial="QX-4", crew=crew)
    with pytest.raises(Conflict) as refused:
        place(crew, owner, 17)
    assert "Receiver 3 (QX-3): Out of service: Dropped" in refused.value.message
    assert "Receiver 4 (QX-4): No calibration date on record." in refused.value.message


def test_a_spare_serves_one_crew_a_day(owner: Person, crew: Crew, receiver: Equipment) -> None:
    other = CrewFactory(name="Basalt crew", yard_latitude=40.0)
    EquipmentFactory(kind="transmitter", crew=other, calibration_due_on=date(2027, 9, 1))
    EquipmentFactory(name="Spare", calibration_due_on=date(2027, 9, 1))
    assert place(other, owner, 23).pk
    assert place(other, owner, 23, starts_at=at(23, 11), ends_at=at(23, 12)).pk
    with pytest.raises(Conflict, match="goes out with another crew that day"):
        place(crew, owner, 23)
    assert place(crew, owner, 24).pk


def test_a_truck_of_the_same_yard_without_a_visit_lends(owner: Person, crew: Crew, receiver: Equipment) -> None:
    idle = CrewFactory(name="Cedar crew")
    EquipmentFactory(crew=idle, calibration_due_on=date(2027, 9, 1))
    assert place(crew, owner, 23).pk
    VisitFactory(job=make_job(), crew=idle, starts_at=at(24, 8))
    with pytest.raises(Conflict, match="Receiver 3"):
        place(crew, owner, 24)


def test_the_day_is_the_crews_own(owner: Person, crew: Crew, receiver: Equipment) -> None:
    evening = at(21, 19) + timedelta(hours=3)  # 10 PM on the 21st in Virginia is the 22nd in UTC
    assert place(crew, owner, 21, starts_at=evening, ends_at=evening + timedelta(hours=2)).pk
    with pytest.raises(Conflict, match="is due on the day itself"):
        place(crew, owner, 21, starts_at=evening + timedelta(hours=2), ends_at=evening + timedelta(hours=3))


def test_what_was_asked_for_with_the_visit_stands_in_place_of_the_usual(
    owner: Person, crew: Crew, receiver: Equipment
) -> None:
    EquipmentFactory(kind="sonde", crew=crew, calibration_due_on=None)
    services.take_out_of_service(item=receiver, reason="Dropped", actor=owner)
    assert place(crew, owner, 17, kit=["transmitter"]).pk
    with pytest.raises(Conflict, match="no receiver"):
        place(crew, owner, 18, kit=["transmitter", "receiver"])


def test_two_of_a_kind_need_two(owner: Person, crew: Crew, receiver: Equipment) -> None:
    with pytest.raises(Conflict, match="no receiver"):
        place(crew, owner, 17, kit=["receiver", "receiver"])
    EquipmentFactory(crew=crew, calibration_due_on=date(2027, 9, 1))
    assert place(crew, owner, 17, kit=["receiver", "receiver"]).pk


def test_a_kind_that_nobody_keeps_in_the_register_is_not_judged(owner: Person, crew: Crew) -> None:
    Equipment.objects.filter(kind="receiver").delete()
    assert place(crew, owner, 17).pk
    assert place(crew, owner, 18, kind=VisitKind.CAMERA).pk


def test_a_move_is_held_to_the_same_and_a_stay_is_not(owner: Person, crew: Crew, receiver: Equipment) -> None:
    visit = place(crew, owner, 17)
    other = CrewFactory(name="Basalt crew", yard_latitude=40.0)
    for wanted in ({"starts_at": at(22, 8)}, {"crew": other}):
        with pytest.raises(Conflict) as refused:
            services.move_visit(visit=visit, actor=owner, now=NOW, **wanted)  # type: ignore[arg-type]
        assert refused.value.code == "kit_unavailable"
    visit.refresh_from_db()
    assert (visit.starts_at, visit.crew) == (at(17, 8), crew)
    services.take_out_of_service(item=receiver, reason="Dropped", actor=owner)
    assert services.move_visit(visit=visit, actor=owner, now=NOW, ends_at=at(17, 11)).ends_at == at(17, 11)


def test_constant_in_queries(owner: Person, crew: Crew, receiver: Equipment, django_assert_num_queries: Any) -> None:
    visit = VisitFactory.build(
        job=make_job(),
        crew=crew,
        created_by=owner,
        kind="private_locate",
        starts_at=datetime(2026, 9, 23, 13, tzinfo=NOW.tzinfo),
    )
    with django_assert_num_queries(4):
        assert len(lacks_of(visit, ("transmitter",))) == 0
    for number in range(6):
        held = CrewFactory(yard_latitude=30.0 + number)
        EquipmentFactory(kind="transmitter", crew=held, calibration_due_on=date(2027, 9, 1))
        VisitFactory(job=make_job(), crew=held, kind="private_locate", starts_at=at(23, 8 + number))
    with django_assert_num_queries(4):
        assert len(lacks_of(visit, ("transmitter",))) == 0
