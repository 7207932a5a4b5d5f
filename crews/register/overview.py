"""The owner's page: what is due, who holds what, how much it is used, what the year costs. Each part is one
query over indexed copies; nothing replays a history."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, Q, QuerySet, Sum

from crews.equipment.custody import WHERE_WORDS, Where
from crews.models import CALIBRATED, Crew, Equipment, EquipmentKind, UseTally
from crews.register.year_money import GONE, Standing, standing

HORIZONS = (30, 60, 90)
USE_SPAN_DAYS = 30
LISTED = 20


@dataclass(frozen=True, slots=True)
class Horizon:
    """How many items fall due up to a day; `days` 0: due now, the overdue ones among them."""

    days: int
    count: int


@dataclass(frozen=True, slots=True)
class Holder:
    """How many items are with a crew or in a place."""

    name: str
    count: int
    unconfirmed: int
    due: int
    crew_id: int | None = None


@dataclass(frozen=True, slots=True)
class KindUse:
    """Days of use of a kind in the last span, and the share of the days on which it could have been used."""

    kind: str
    name: str
    items: int
    use_days: int
    percent: int


@dataclass(frozen=True, slots=True)
class Overview:
    horizons: tuple[Horizon, ...]
    without_date: int
    out_of_service: int
    due: tuple[Equipment, ...]
    holders: tuple[Holder, ...]
    use: tuple[KindUse, ...]
    money: Standing


def overview(on: date) -> Overview:
    """Everything on the owner's page, as of a day: the same queries whatever the number of items."""
    there = _there()
    by_day = _due_by_day(on)
    kinds = [row for row in there if row["place"] not in GONE]
    return Overview(
        horizons=tuple(
            Horizon(days, sum(items for day, items in by_day.items() if day <= on + timedelta(days=days)))
            for days in (0, *HORIZONS)
        ),
        without_date=_without_date(),
        out_of_service=Equipment.objects.exclude(out_of_service_reason="").exclude(place__in=GONE).count(),
        due=tuple(due_within(on, HORIZONS[-1])[:LISTED]),
        holders=_holders(there, _due_now(on)),
        use=_use(kinds, on),
        money=standing(on),
    )


def due_within(on: date, days: int) -> QuerySet[Equipment]:
    """Due now or within so many days, the longest overdue first; what is gone or retired is left out."""
    found = Equipment.objects.filter(due_on__lte=on + timedelta(days=days)).exclude(place__in=GONE)
    return found.select_related("crew", "person", "own_kind").order_by("due_on", "id")


def _there() -> list[dict[str, Any]]:
    """Counts by place, kind and crew: one pass over an index that holds all of it, in its order."""
    rows = Equipment.objects.order_by().values("place", "kind", "crew_id")
    return list(rows.annotate(items=Count("id"), waiting=Count("id", filter=Q(unconfirmed=True))))


def _due_by_day(on: date) -> dict[date, int]:
    """How many fall due on each day up to the longest horizon; in the order of an index that holds all of it."""
    there = Equipment.objects.filter(due_on__lte=on + timedelta(days=HORIZONS[-1])).exclude(place__in=GONE)
    return dict(there.order_by().values_list("due_on").annotate(items=Count("place")))


def _due_now(on: date) -> dict[tuple[str, int | None], int]:
    """By place and crew, what is due. By day too, for so the index gives it; grouped otherwise it would be read
    row by row."""
    rows = Equipment.objects.filter(due_on__lte=on).order_by().values_list("due_on", "place", "crew_id")
    found: dict[tuple[str, int | None], int] = {}
    for _, place, crew, items in rows.annotate(items=Count("place")):
        found[place, crew] = found.get((place, crew), 0) + items
    return found


def _without_date() -> int:
    """Items with care that has no day to count from; two counts, so that each has its index."""
    present = Equipment.objects.exclude(place__in=GONE)
    unknown = present.exclude(care_unknown="").count()
    return unknown + present.filter(care_unknown="", calibration_due_on=None, kind__in=CALIBRATED).count()


def _holders(there: list[dict[str, Any]], due: dict[tuple[str, int | None], int]) -> tuple[Holder, ...]:
    names = dict(Crew.objects.values_list("pk", "name"))
    found: dict[tuple[str, int | None], list[int]] = {}
    for row in there:
        key = (row["place"], row["crew_id"])
        counts = found.setdefault(key, [0, 0, due.get(key, 0)])
        counts[0] += row["items"]
        counts[1] += row["waiting"]
    holders = [
        Holder(
            names.get(crew or 0, "") or WHERE_WORDS[Where(place)],
            count=items,
            unconfirmed=waiting,
            due=due_now,
            crew_id=crew,
        )
        for (place, crew), (items, waiting, due_now) in found.items()
    ]
    return tuple(sorted(holders, key=lambda holder: (holder.crew_id is None, holder.name)))


def _use(kinds: list[dict[str, Any]], on: date) -> tuple[KindUse, ...]:
    since = on - timedelta(days=USE_SPAN_DAYS - 1)
    tallies = UseTally.objects.filter(on__gte=since, on__lte=on).order_by()
    used = dict(tallies.values_list("kind").annotate(days=Sum("count")))
    names = dict(EquipmentKind.choices)
    items: dict[str, int] = {}
    for row in kinds:
        items[row["kind"]] = items.get(row["kind"], 0) + row["items"]
    return tuple(
        KindUse(kind, names[kind], count, used.get(kind, 0), round(100 * used.get(kind, 0) / (count * USE_SPAN_DAYS)))
        for kind, count in sorted(items.items(), key=lambda pair: names[pair[0]])
    )
