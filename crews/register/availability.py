"""May an item go out on a day? What a planned visit needs, and what its crew then has."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from crews.equipment.care import is_overdue, may_go_out
from crews.equipment.custody import WHERE_WORDS, Where
from crews.models import Equipment, Override, VisitKind
from crews.words import day_words

# What a visit cannot do without (common practice, no source). A dig's own needs are the job's to say.
NEEDED: Mapping[str, tuple[str, ...]] = {
    VisitKind.PRIVATE_LOCATE: ("receiver", "transmitter"),
    VisitKind.CAMERA: ("camera_reel",),
}
GONE = frozenset({Where.REPAIR, Where.LOST, Where.STOLEN, Where.RETIRED})


@dataclass(frozen=True, slots=True)
class Availability:
    """Whether the item may go out that day; `why` says why not, or on whose word it goes."""

    available: bool
    why: str
    override: Override | None = None


def availability(items: Iterable[Equipment], on: date) -> dict[int, Availability]:
    """By primary key, for one day; one query for any number of items."""
    found = list(items)
    said: dict[int, Override] = {}
    holding = Override.objects.filter(
        item__in=[item.pk for item in found], from_on__lte=on, to_on__gte=on, ended_at=None
    )
    for override in holding.select_related("by").order_by("at", "id"):
        said[override.item_id] = override
    return {item.pk: _one(item, on, said.get(item.pk)) for item in found}


def _one(item: Equipment, on: date, override: Override | None) -> Availability:
    if Where(item.place) in GONE:
        return Availability(False, f"{WHERE_WORDS[Where(item.place)]}.")
    if item.out_of_service_reason:  # no word of anybody's makes a failed instrument good
        return Availability(False, f"Out of service: {item.out_of_service_reason}")
    fault = care_fault(item, on)
    if not fault:
        return Availability(True, "")
    if override is not None:
        return Availability(True, f"{fault} Goes out on the word of {override.by}: {override.reason}", override)
    return Availability(False, fault)


def care_fault(item: Equipment, on: date) -> str:
    """What care the item lacks for a visit of that day, in words; empty: none known."""
    title = item.due_title or "Calibration"
    if item.due_on is not None and not may_go_out(item.due_on, on):
        verb = "was due" if is_overdue(item.due_on, on) else "is due on the day itself,"
        return f"{title} {verb} {day_words(item.due_on)}."
    if item.care_unknown:
        return f"{item.care_unknown}: no date on record."
    if item.lacks_date():
        return "No calibration date on record."
    return ""


def available_on(items: Iterable[Equipment], on: date) -> list[Equipment]:
    """Those that may go out that day, in the order given."""
    listed = list(items)
    known = availability(listed, on)
    return [item for item in listed if known[item.pk].available]
