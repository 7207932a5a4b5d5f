from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from crews import services
from crews.models import Equipment, EquipmentKind, Person
from tests.crews.factories import CrewFactory, EquipmentFactory, PersonFactory
from tickets.services.refusals import BadInput, Conflict, Forbidden

pytestmark = pytest.mark.django_db
ITEM: dict[str, Any] = {"kind": EquipmentKind.RECEIVER, "name": "Receiver A", "serial": "S-1"}


@pytest.fixture
def dispatcher() -> Person:
    return PersonFactory(dispatcher=True)


@pytest.fixture
def owner() -> Person:
    return PersonFactory(owner=True)


def test_an_item_is_added_handed_over_and_taken_back(owner: Person, dispatcher: Person) -> None:
    crew = CrewFactory()
    item = services.add_equipment(**ITEM, calibration_due_on=date(2027, 1, 1), actor=owner)
    assert item.crew is None
    item = services.hand_over_equipment(item=item, crew=crew, actor=dispatcher)
    assert Equipment.objects.get().crew == crew
    item = services.hand_over_equipment(item=item, crew=None, actor=dispatcher)
    assert Equipment.objects.get().crew is None


@pytest.mark.parametrize(
    ("wrong", "field"),
    [({"name": " "}, "name"), ({"serial": ""}, "serial"), ({"kind": "spoon"}, "kind"), ({"serial": "s-0"}, "serial")],
)
def test_bad_input_is_refused_whole(owner: Person, wrong: dict[str, Any], field: str) -> None:
    EquipmentFactory(serial="S-0")
    with pytest.raises(BadInput) as refused:
        services.add_equipment(**{**ITEM, **wrong}, actor=owner)
    assert field in refused.value.fields
    assert Equipment.objects.count() == 1


def test_nothing_is_handed_to_a_crew_that_rests(owner: Person, dispatcher: Person) -> None:
    resting = CrewFactory(active=False)
    with pytest.raises(Conflict):
        services.add_equipment(**ITEM, crew=resting, actor=owner)
    with pytest.raises(Conflict):
        services.hand_over_equipment(item=EquipmentFactory(), crew=resting, actor=dispatcher)


def test_out_of_service_needs_a_reason_and_ends(dispatcher: Person) -> None:
    item = EquipmentFactory()
    with pytest.raises(BadInput):
        services.take_out_of_service(item=item, reason=" ", actor=dispatcher)
    services.take_out_of_service(item=item, reason="Cracked case", actor=dispatcher)
    assert Equipment.objects.get().out_of_service_reason == "Cracked case"
    services.return_to_service(item=item, actor=dispatcher)
    assert Equipment.objects.get().out_of_service_reason == ""


def test_an_item_is_good_to_the_end_of_its_due_day() -> None:
    item = EquipmentFactory.build(calibration_due_on=date(2026, 9, 16))
    assert not item.is_overdue(date(2026, 9, 16))
    assert item.is_overdue(date(2026, 9, 17))


@pytest.mark.parametrize(("kind", "lacks"), [("receiver", True), ("gas_monitor", True), ("truck", False)])
def test_a_reading_kind_without_a_date_is_unknown_not_fine(kind: str, lacks: bool) -> None:
    item = EquipmentFactory.build(kind=kind, calibration_due_on=None)
    assert item.lacks_date() is lacks
    assert not item.is_overdue(date(2026, 9, 16))


def test_corrections_and_dates(owner: Person) -> None:
    item = EquipmentFactory(serial="S-9")
    services.change_equipment(item=item, actor=owner, name=" Receiver Z ", serial="S-9")
    services.set_calibration_due(item=item, due_on=date(2027, 2, 3), actor=owner)
    held = Equipment.objects.get()
    assert (held.name, held.calibration_due_on) == ("Receiver Z", date(2027, 2, 3))
    with pytest.raises(TypeError, match="crew"):
        services.change_equipment(item=item, actor=owner, crew=None)


def test_a_crew_member_reads_only() -> None:
    member, item = PersonFactory(), EquipmentFactory()
    writes: list[Any] = [
        lambda: services.add_equipment(**ITEM, actor=member),
        lambda: services.change_equipment(item=item, actor=member, name="x"),
        lambda: services.hand_over_equipment(item=item, crew=None, actor=member),
        lambda: services.set_calibration_due(item=item, due_on=None, actor=member),
        lambda: services.take_out_of_service(item=item, reason="x", actor=member),
        lambda: services.return_to_service(item=item, actor=member),
    ]
    for write in writes:
        with pytest.raises(Forbidden):
            write()


def test_entries_and_certificates_are_the_owners(dispatcher: Person) -> None:
    item = EquipmentFactory()
    writes: list[Any] = [
        lambda: services.add_equipment(**ITEM, actor=dispatcher),
        lambda: services.change_equipment(item=item, actor=dispatcher, name="x"),
        lambda: services.set_calibration_due(item=item, due_on=date(2030, 1, 1), actor=dispatcher),
    ]
    for write in writes:
        with pytest.raises(Forbidden, match="Ask the owner"):
            write()
    assert Equipment.objects.get().name == item.name
