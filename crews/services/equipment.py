"""Writes of the equipment register."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import transaction

from crews.models import Crew, Equipment, EquipmentKind, Person
from tickets.services.refusals import Conflict, Faults, need_office

CHANGEABLE = frozenset({"name", "serial", "kind", "maker_words", "note"})


@transaction.atomic
def add_equipment(
    *,
    kind: str,
    name: str,
    serial: str,
    actor: Person,
    crew: Crew | None = None,
    calibration_due_on: date | None = None,
    maker_words: str = "",
    note: str = "",
) -> Equipment:
    """A new item; without a crew it is at the yard."""
    need_office(actor)
    item = Equipment(
        kind=kind,
        name=name.strip(),
        serial=serial.strip(),
        crew=crew,
        calibration_due_on=calibration_due_on,
        maker_words=maker_words.strip(),
        note=note.strip(),
    )
    _check(item)
    _check_holder(crew)
    item.save()
    return item


@transaction.atomic
def change_equipment(*, item: Equipment, actor: Person, **changes: Any) -> Equipment:
    """Correct any of CHANGEABLE."""
    need_office(actor)
    unknown = set(changes) - CHANGEABLE
    if unknown:
        raise TypeError(f"not a field that can be changed: {', '.join(sorted(unknown))}")
    item = _locked(item)
    for field, value in changes.items():
        setattr(item, field, value.strip())
    _check(item)
    item.save()
    return item


@transaction.atomic
def hand_over_equipment(*, item: Equipment, crew: Crew | None, actor: Person) -> Equipment:
    """Give the item to a crew, or back to the yard with None."""
    need_office(actor)
    item = _locked(item)
    _check_holder(crew)
    item.crew = crew
    item.save(update_fields=["crew"])
    return item


@transaction.atomic
def set_calibration_due(*, item: Equipment, due_on: date | None, actor: Person) -> Equipment:
    """The last day on which the present certificate is good."""
    need_office(actor)
    item = _locked(item)
    item.calibration_due_on = due_on
    item.save(update_fields=["calibration_due_on"])
    return item


@transaction.atomic
def take_out_of_service(*, item: Equipment, reason: str, actor: Person) -> Equipment:
    """The reason is what the crew will read."""
    need_office(actor)
    faults = Faults()
    faults.need(out_of_service_reason=reason)
    faults.refuse()
    item = _locked(item)
    item.out_of_service_reason = reason.strip()
    item.save(update_fields=["out_of_service_reason"])
    return item


@transaction.atomic
def return_to_service(*, item: Equipment, actor: Person) -> Equipment:
    """The item may go out again."""
    need_office(actor)
    item = _locked(item)
    item.out_of_service_reason = ""
    item.save(update_fields=["out_of_service_reason"])
    return item


def _locked(item: Equipment) -> Equipment:
    return Equipment.objects.select_for_update().get(pk=item.pk)


def _check(item: Equipment) -> None:
    faults = Faults()
    faults.need(name=item.name, serial=item.serial)
    if item.kind not in EquipmentKind.values:
        faults.add("kind", f"{item.kind!r} is not a kind; use one of {', '.join(EquipmentKind.values)}.")
    if Equipment.objects.filter(serial__iexact=item.serial).exclude(pk=item.pk).exists():
        faults.add("serial", f"Serial {item.serial!r} is in the register already.")
    faults.refuse()


def _check_holder(crew: Crew | None) -> None:
    if crew is not None and not crew.active:
        raise Conflict(
            f"{crew.name} is not active; choose another crew.", code="crew_inactive", fields={"crew": "not active"}
        )
