"""The owner's page: what is due, who holds what, how much it is used, what the year costs. Each part is one
query over indexed copies; nothing replays a history."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Count, DecimalField, ExpressionWrapper, F, Q, QuerySet, Sum

from crews.equipment.custody import WHERE_WORDS, Where
from crews.equipment.money import MONTHS, cost_per, to_cents
from crews.models import CALIBRATED, CareState, Crew, Equipment, EquipmentKind, UseTally

HORIZONS = (30, 60, 90)
USE_SPAN_DAYS = 30
GONE = (str(Where.LOST), str(Where.STOLEN), str(Where.RETIRED))
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
class Money:
    """What was paid for what is there, and what known care will cost within a year."""

    paid: Decimal
    priced: int
    unpriced: int
    care_ahead: Decimal
    cost_per_use: Decimal | None


@dataclass(frozen=True, slots=True)
class Overview:
    horizons: tuple[Horizon, ...]
    without_date: int
    out_of_service: int
    due: tuple[Equipment, ...]
    holders: tuple[Holder, ...]
    use: tuple[KindUse, ...]
    money: Money


def overview(on: date) -> Overview:
    """Everything on the owner's page, as of a day: the same queries whatever the number of items."""
    there = _there()
    due = _due(on)
    kinds = [row for row in there if row["place"] not in GONE]
    return Overview(
        horizons=tuple(
            Horizon(days, sum(row[f"due_{days}"] for row in due if row["place"] not in GONE))
            for days in (0, *HORIZONS)
        ),
        without_date=_without_date(),
        out_of_service=Equipment.objects.exclude(out_of_service_reason="").exclude(place__in=GONE).count(),
        due=tuple(due_within(on, HORIZONS[-1])[:LISTED]),
        holders=_holders(there, due),
        use=_use(kinds, on),
        money=_money(kinds, on),
    )


def due_within(on: date, days: int) -> QuerySet[Equipment]:
    """Due now or within so many days, the longest overdue first; what is gone or retired is left out."""
    found = Equipment.objects.filter(due_on__lte=on + timedelta(days=days)).exclude(place__in=GONE)
    return found.select_related("crew", "person", "own_kind").order_by("due_on", "id")


def _there() -> list[dict[str, Any]]:
    """Counts and sums by place, kind and crew: one pass over an index that holds all of it."""
    rows = Equipment.objects.order_by().values("place", "kind", "crew_id")
    counted = rows.annotate(
        items=Count("id"),
        waiting=Count("id", filter=Q(unconfirmed=True)),
        paid=Sum("price"),
        tax_paid=Sum("tax"),
        priced=Count("price"),
    )
    return list(counted)


def _due(on: date) -> list[dict[str, Any]]:
    """What falls due within the longest horizon, by day, place and crew: in the order of its index, so that
    the rows are never read."""
    rows = Equipment.objects.filter(due_on__lte=on + timedelta(days=HORIZONS[-1])).order_by()
    found = list(rows.values("due_on", "place", "crew_id").annotate(items=Count("place")))
    for row in found:
        for days in (0, *HORIZONS):
            row[f"due_{days}"] = row["items"] if row["due_on"] <= on + timedelta(days=days) else 0
    return found


def _without_date() -> int:
    """Items with care that has no day to count from; two counts, so that each has its index."""
    present = Equipment.objects.exclude(place__in=GONE)
    unknown = present.exclude(care_unknown="").count()
    return unknown + present.filter(care_unknown="", calibration_due_on=None, kind__in=CALIBRATED).count()


def _holders(there: list[dict[str, Any]], due: list[dict[str, Any]]) -> tuple[Holder, ...]:
    names = dict(Crew.objects.values_list("pk", "name"))
    found: dict[tuple[str, int | None], list[int]] = {}
    for row in there:
        counts = found.setdefault((row["place"], row["crew_id"]), [0, 0, 0])
        counts[0] += row["items"]
        counts[1] += row["waiting"]
    for row in due:
        found[row["place"], row["crew_id"]][2] += row["due_0"]
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


def _money(kinds: list[dict[str, Any]], on: date) -> Money:
    paid = sum(((row["paid"] or Decimal(0)) + (row["tax_paid"] or Decimal(0)) for row in kinds), Decimal(0))
    yearly = ExpressionWrapper(
        F("last_cost") * Decimal(MONTHS) / F("every_months"),
        output_field=DecimalField(max_digits=14, decimal_places=2),
    )
    gone = Equipment.objects.filter(place__in=GONE).values("pk")
    known = CareState.objects.filter(last_cost__gt=0, every_months__gt=0).exclude(item__in=gone)
    ahead = known.aggregate(total=Sum(yearly))["total"] or Decimal(0)
    uses = UseTally.objects.filter(on__gt=on - timedelta(days=365), on__lte=on).aggregate(total=Sum("count"))["total"]
    priced = sum(row["priced"] for row in kinds)
    return Money(
        paid=to_cents(paid),
        priced=priced,
        unpriced=sum(row["items"] for row in kinds) - priced,
        care_ahead=to_cents(ahead),
        cost_per_use=cost_per(ahead, uses or 0),
    )
