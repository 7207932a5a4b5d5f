"""Writes of the equipment register: entries and certificates by their date, which are the owner's; hand-overs, in
and out of service, which are the office's."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.db import transaction

from crews.equipment.custody import Event, Step, Where
from crews.equipment.fit import MOST_VOLTS
from crews.equipment.money import Asset, Method
from crews.equipment.refusal import EquipmentError
from crews.models import CareResult, Crew, Equipment, EquipmentKind, Person
from crews.services.care_states import company_day, refresh_care
from crews.services.custody import enter_item, locked_item, move_item, record_event
from crews.services.guards import need_owner
from crews.words import day_words
from locates import clock
from tickets.services.refusals import Conflict, Faults, need_office

TEXTS = frozenset({"name", "serial", "kind", "maker_words", "note", "modes", "voltage_class", "firmware", "method"})
FACTS = frozenset(
    {
        "own_kind",
        "kit",
        "frequencies_hz",
        "working_load_kg",
        "put_in_service_on",
        "bought_on",
        "price",
        "tax",
        "salvage",
        "life_years",
        "warranty_until",
    }
)
CHANGEABLE = TEXTS | FACTS
HIGHEST_HZ = 1_000_000


@transaction.atomic
def add_equipment(
    *,
    kind: str,
    name: str,
    serial: str,
    actor: Person,
    crew: Crew | None = None,
    calibration_due_on: date | None = None,
    now: datetime | None = None,
    **facts: Any,
) -> Equipment:
    """A new item; without a crew it is at the yard. `facts` are any of CHANGEABLE. `now` is read from the
    clock when it is not given."""
    need_owner(actor)
    at = now or clock.now()
    _check_names(facts)
    item = Equipment(kind=kind, name=name.strip(), serial=serial.strip(), stated_due_on=calibration_due_on)
    _set(item, facts)
    _check(item, company_day(at))
    _check_holder(crew)
    item.save()
    enter_item(item, actor, at)
    if crew is not None:
        record_event(item, Event(at, Step.ISSUED, crew_id=crew.pk), actor, confirmed=actor.crew_id == crew.pk)
        item.first_issued_on = company_day(at)
        item.save(update_fields=["first_issued_on"])
    return refresh_care(item, at)


@transaction.atomic
def change_equipment(*, item: Equipment, actor: Person, now: datetime | None = None, **changes: Any) -> Equipment:
    """Correct any of CHANGEABLE."""
    need_owner(actor)
    at = now or clock.now()
    _check_names(changes)
    item = locked_item(item)
    _set(item, changes)
    _check(item, company_day(at))
    item.save()
    return refresh_care(item, at)


def _check_names(given: dict[str, Any]) -> None:
    unknown = set(given) - CHANGEABLE
    if unknown:
        raise TypeError(f"not a field that can be changed: {', '.join(sorted(unknown))}")


def _set(item: Equipment, given: dict[str, Any]) -> None:
    for field, value in given.items():
        setattr(item, field, value.strip() if field in TEXTS else value)


@transaction.atomic
def hand_over_equipment(
    *, item: Equipment, crew: Crew | None, actor: Person, now: datetime | None = None
) -> Equipment:
    """Give the item to a crew, or back to the yard with None; nothing changes when it is there already."""
    need_office(actor)
    at = now or clock.now()
    held = locked_item(item)
    _check_holder(crew)
    if crew is not None:
        if held.crew_id == crew.pk:
            return held
        return move_item(item=held, step=Step.ISSUED, crew=crew, actor=actor, now=at)
    if held.place == Where.YARD:
        return held
    return move_item(item=held, step=Step.RETURNED, actor=actor, now=at)


@transaction.atomic
def set_calibration_due(
    *, item: Equipment, due_on: date | None, actor: Person, now: datetime | None = None
) -> Equipment:
    """The last day on which the present certificate is good, when only that is known of it."""
    need_owner(actor)
    item = locked_item(item)
    item.stated_due_on = due_on
    item.save(update_fields=["stated_due_on"])
    return refresh_care(item, now or clock.now())


@transaction.atomic
def take_out_of_service(*, item: Equipment, reason: str, actor: Person) -> Equipment:
    """The reason is what the crew will read."""
    need_office(actor)
    faults = Faults()
    faults.need(out_of_service_reason=reason)
    faults.refuse()
    item = locked_item(item)
    item.out_of_service_reason = reason.strip()
    item.save(update_fields=["out_of_service_reason"])
    return item


@transaction.atomic
def return_to_service(*, item: Equipment, actor: Person) -> Equipment:
    """The item may go out again; not while the last result of a check is a failure."""
    need_office(actor)
    item = locked_item(item)
    failed = _failed(item)
    if failed is not None:
        words = (
            f"{failed.title} failed {day_words(failed.done_on)} and has not passed since; enter a good result first."
        )
        raise Conflict(words, fields={"out_of_service_reason": words})
    item.out_of_service_reason = ""
    item.save(update_fields=["out_of_service_reason"])
    return item


def _failed(item: Equipment) -> CareResult | None:
    """A check whose latest result is a failure."""
    latest: dict[str, CareResult] = {}
    for result in item.care_results.order_by("done_on", "pk"):
        latest[result.key] = result
    return next((result for result in latest.values() if not result.passed), None)


def _check(item: Equipment, today: date) -> None:
    faults = Faults()
    faults.need(name=item.name, serial=item.serial)
    if item.kind not in EquipmentKind.values:
        faults.add("kind", f"{item.kind!r} is not a kind; use one of {', '.join(EquipmentKind.values)}.")
    if item.own_kind is not None and item.kind != EquipmentKind.OTHER:
        faults.add("own_kind", "Your own kinds go with the kind Other.")
    if Equipment.objects.filter(serial__iexact=item.serial).exclude(pk=item.pk).exists():
        faults.add("serial", f"Serial {item.serial!r} is in the register already.")
    _check_facts(item, today, faults)
    faults.refuse()


def _check_facts(item: Equipment, today: date, faults: Faults) -> None:
    for field in ("bought_on", "put_in_service_on"):
        day = getattr(item, field)
        if day is not None and day > today:
            faults.add(field, f"{day_words(day)} has not come yet.")
    if item.working_load_kg is not None and not 0 < item.working_load_kg < 1e6:
        faults.add("working_load_kg", "The working load must lie above zero.")
    if item.voltage_class and item.voltage_class not in MOST_VOLTS:
        faults.add("voltage_class", f"{item.voltage_class!r} is no class; use one of {', '.join(MOST_VOLTS)}.")
    if item.method not in list(Method):
        faults.add("method", f"{item.method!r} is not known; use one of {', '.join(Method)}.")
    wrong = [hz for hz in item.frequencies_hz if not (isinstance(hz, int) and 0 < hz <= HIGHEST_HZ)]
    if wrong:
        faults.add("frequencies_hz", f"{wrong[0]!r} is no frequency; give whole hertz from 1 to {HIGHEST_HZ}.")
    if item.tax is not None and item.tax < 0:
        faults.add("tax", f"{item.tax} is below zero.")
    if item.life_years == 0:
        faults.add("life_years", "0; give whole years of at least 1.")
    if item.price is not None:
        try:
            Asset(item.price + (item.tax or 0), item.salvage or 0 * item.price, item.life_years or 1)
        except EquipmentError as refused:
            faults.take(refused)


def _check_holder(crew: Crew | None) -> None:
    if crew is not None and not crew.active:
        raise Conflict(
            f"{crew.name} is not active; choose another crew.", code="crew_inactive", fields={"crew": "not active"}
        )
