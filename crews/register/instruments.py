"""The register as the locates ask it: which instruments there are, and how each stands on a day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from crews.equipment.custody import Where
from crews.models import Equipment
from locates.field.register import Instrument

GONE = (str(Where.LOST), str(Where.STOLEN), str(Where.RETIRED))
MOST = 500


class EquipmentRegister:
    """Answers `locates.field.register.Register`."""

    def instruments(self, kinds: Iterable[str], person: Any, on: date) -> Sequence[Instrument]:
        """Items of these kinds that are still there, those with the person or the person's crew first."""
        found = Equipment.objects.filter(kind__in=list(kinds)).exclude(place__in=GONE)
        items = found.select_related("crew", "person").order_by("name", "id")[:MOST]
        return sorted((_instrument(item, person) for item in items), key=lambda one: not one.at_hand)

    def named(self, equipment_ids: Iterable[int], on: date) -> Sequence[Instrument]:
        """These items, wherever they are now."""
        found = Equipment.objects.filter(pk__in=list(equipment_ids)).select_related("crew", "person")
        return [_instrument(item, None) for item in found]


def _instrument(item: Equipment, person: Any) -> Instrument:
    mine = person is not None and (
        (item.crew_id is not None and item.crew_id == person.crew_id) or item.person_id == person.pk
    )
    flaw = f"out of service: {item.out_of_service_reason}" if item.out_of_service_reason else ""
    if not flaw and item.care_unknown and item.due_on is not None:
        flaw = f"{item.care_unknown.lower()} not on record"
    return Instrument(
        equipment_id=item.pk,
        kind=str(item.kind),
        name=item.name,
        serial=item.serial,
        frequencies_hz=tuple(float(f) for f in item.frequencies_hz),
        good_through=item.due_on,
        care_words=item.due_title or "Calibration",
        flaw=flaw,
        place_words=item.place_words,
        at_hand=mine,
    )
