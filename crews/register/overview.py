"""The owner's page: what is due, who holds what, how much it is used, what the year costs. Each part is one
query over indexed copies; nothing replays a history."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

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
    """Everything on the owner's page, as of a day: six queries, whatever the number of items."""
    kinds = _kinds(on)
    return Overview(
        horizons=tuple(Horizon(days, sum(row[f"due_{days}"] for row in kinds)) for days in (0, *HORIZONS)),
        without_date=sum(row["without_date"] for row in kinds),
        out_of_service=sum(row["stopped"] for row in kinds),
        due=tuple(due_within(on, HORIZONS[-1])[:LISTED]),
        holders=_holders(on),
        use=_use(kinds, on),
        money=_money(kinds, on),
    )


def due_within(on: date, days: int) -> QuerySet[Equipment]:
    """Due now or within so many days, the longest overdue first; what is gone or retired is left out."""
    found = Equipment.objects.filter(due_on__lte=on + timedelta(days=days)).exclude(place__in=GONE)
    return found.select_related("crew", "person", "own_kind").order_by("due_on", "id")


def _kinds(on: date) -> list[dict]:
    """Counts by kind in one pass over the register."""
    counts = {f"due_{days}": Count("id", filter=Q(due_on__lte=on + timedelta(days=days))) for days in (0, *HORIZONS)}
    unknown = ~Q(care_unknown="") | Q(calibration_due_on=None, kind__in=CALIBRATED)
    there = Equipment.objects.exclude(place__in=GONE).order_by()
    return list(
        there.values("kind").annotate(
            items=Count("id"),
            without_date=Count("id", filter=unknown),
            stopped=Count("id", filter=~Q(out_of_service_reason="")),
            paid=Sum("price"),
            tax=Sum("tax"),
            priced=Count("price"),
            **counts,
        )
    )


def _holders(on: date) -> tuple[Holder, ...]:
    rows = (
        Equipment.objects.order_by()
        .values("place", "crew_id")
        .annotate(
            count=Count("id"),
            waiting=Count("id", filter=Q(unconfirmed=True)),
            due=Count("id", filter=Q(due_on__lte=on)),
        )
    )
    names = dict(Crew.objects.values_list("pk", "name"))
    found = [
        Holder(
            names.get(row["crew_id"], "") or WHERE_WORDS[Where(row["place"])],
            row["count"],
            row["waiting"],
            row["due"],
            row["crew_id"],
        )
        for row in rows
    ]
    return tuple(sorted(found, key=lambda holder: (holder.crew_id is None, holder.name)))


def _use(kinds: list[dict], on: date) -> tuple[KindUse, ...]:
    since = on - timedelta(days=USE_SPAN_DAYS - 1)
    tallies = UseTally.objects.filter(on__gte=since, on__lte=on).order_by()
    used = dict(tallies.values_list("kind").annotate(days=Sum("count")))
    names = dict(EquipmentKind.choices)
    return tuple(
        KindUse(
            row["kind"],
            names[row["kind"]],
            row["items"],
            used.get(row["kind"], 0),
            round(100 * used.get(row["kind"], 0) / (row["items"] * USE_SPAN_DAYS)),
        )
        for row in sorted(kinds, key=lambda row: names[row["kind"]])
    )


def _money(kinds: list[dict], on: date) -> Money:
    paid = sum(((row["paid"] or Decimal(0)) + (row["tax"] or Decimal(0)) for row in kinds), Decimal(0))
    yearly = ExpressionWrapper(
        F("last_cost") * Decimal(MONTHS) / F("every_months"),
        output_field=DecimalField(max_digits=14, decimal_places=2),
    )
    known = CareState.objects.filter(last_cost__gt=0, every_months__gt=0).exclude(item__place__in=GONE)
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
