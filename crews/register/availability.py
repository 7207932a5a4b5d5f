"""May an item go out on a day? What a planned visit needs, and what its crew then has."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from crews.equipment.care import is_overdue, may_go_out
from crews.equipment.custody import WHERE_WORDS, Where
from crews.models import Equipment, Override, VisitKind
from crews.words import day_words, zone_of

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
    return {pk: by_day[on] for pk, by_day in availability_over(items, [on]).items()}


def availability_over(items: Iterable[Equipment], days: Iterable[date]) -> dict[int, dict[date, Availability]]:
    """By primary key, then by day: what a plan over a span of days wants. One query for any number of items
    and days. It reads the items' own columns alone, so that they may come from any query. A day is a day of
    the calendar; see `days_of` for the days that a visit touches.
    """
    found, wanted = list(items), sorted(set(days))
    if not wanted:
        return {item.pk: {} for item in found}
    holding = Override.objects.filter(
        item__in=[item.pk for item in found], from_on__lte=wanted[-1], to_on__gte=wanted[0], ended_at=None
    )
    said: dict[int, list[Override]] = {}
    for override in holding.select_related("by").order_by("at", "id"):
        said.setdefault(override.item_id, []).append(override)
    return {item.pk: {on: _one(item, on, _governing(said.get(item.pk, ()), on)) for on in wanted} for item in found}


def _governing(overrides: Iterable[Override], on: date) -> Override | None:
    """The one given last of those that hold on the day."""
    return next((one for one in reversed(list(overrides)) if one.from_on <= on <= one.to_on), None)


@dataclass(frozen=True, slots=True)
class Fit:
    """Until when an item may go out, in short: up to `last_day` (None: no end known) and on the days `also`."""

    last_day: date | None
    also: frozenset[date]


def fit_spans(items: Iterable[Equipment], first: date, last: date) -> dict[int, Fit]:
    """By primary key, what `availability_over` says of every day from `first` to `last`, without a row for
    each day; one query."""
    found = list(items)
    holding = Override.objects.filter(
        item__in=[item.pk for item in found], from_on__lte=last, to_on__gte=first, ended_at=None
    )
    said: dict[int, set[date]] = {}
    for item_id, begins, ends in holding.values_list("item_id", "from_on", "to_on"):
        days = (min(ends, last) - max(begins, first)).days
        said.setdefault(item_id, set()).update(max(begins, first) + timedelta(days=n) for n in range(days + 1))
    return {item.pk: _fit(item, first, frozenset(said.get(item.pk, ()))) for item in found}


def _fit(item: Equipment, first: date, said: frozenset[date]) -> Fit:
    never = first - timedelta(days=1)
    if Where(item.place) in GONE or item.out_of_service_reason:
        return Fit(never, frozenset())
    if item.care_unknown or item.lacks_date():
        return Fit(never, said)
    return Fit(None if item.due_on is None else item.due_on - timedelta(days=1), said)


def days_of(starts_at: datetime, ends_at: datetime, time_zone: str) -> list[date]:
    """The days of the calendar that a visit touches on its crew's clock; an end at midnight touches no more."""
    zone = zone_of(time_zone)
    first = starts_at.astimezone(zone).date()
    last = (ends_at - timedelta(microseconds=1)).astimezone(zone).date()
    return [first + timedelta(days=n) for n in range((last - first).days + 1)]


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


def trust_fault(item: Equipment, on: date) -> str:
    """Why what was read with the item on a day past is not to be trusted as things stand; empty: nothing known. Its
    due day is its last good one, though no visit is planned for it."""
    if item.out_of_service_reason:
        return f"Out of service: {item.out_of_service_reason}"
    is_last_day = item.due_on == on and not item.care_unknown and not item.lacks_date()
    fault = "" if is_last_day else care_fault(item, on)
    word = Override.objects.filter(item=item, from_on__lte=on, to_on__gte=on, ended_at=None)
    return "" if not fault or word.exists() else fault


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
