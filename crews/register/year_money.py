"""What the register as a whole is worth, has cost in the past year and will cost in the next one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from django.db.models import DecimalField, ExpressionWrapper, F, Q, Sum
from django.utils import timezone

from crews.equipment.custody import Where
from crews.equipment.money import MONTHS, Asset, Method, book_value, months_between, to_cents
from crews.models import CareResult, CareState, CustodyEvent, Equipment, RegisterMoney, UseTally
from crews.register.doubt import LOCATES_WITH
from tickets.models import PrivateLocate
from tickets.states import LocateKind

YEAR = timedelta(days=365)
GONE = (str(Where.LOST), str(Where.STOLEN), str(Where.RETIRED))
AT_ONCE = 300  # items at most that a page reckons itself while nothing is stored; above it waits for the sweep
NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Figures:
    """As of a day, over what is there. Depreciation needs price, life and day of purchase; `without_life` have a
    price and not all three. `locating_past` is what the kinds cost that locates are made with. Amounts in
    dollars; the past year is the 365 days before the day, which itself counts as past."""

    priced: int = 0
    unpriced: int = 0
    without_life: int = 0
    paid: Decimal = NOTHING
    book_value: Decimal = NOTHING
    depreciation_past: Decimal = NOTHING
    depreciation_ahead: Decimal = NOTHING
    care_past: Decimal = NOTHING
    care_ahead: Decimal = NOTHING
    replace_ahead: Decimal = NOTHING
    replace_count: int = 0
    locating_past: Decimal = NOTHING
    uses_past: int = 0
    locates_past: int = 0
    away_days_past: int = 0

    @property
    def spend_ahead(self) -> Decimal:
        """Care, and replacing what comes to the end of its life, at what it cost."""
        return self.care_ahead + self.replace_ahead

    @property
    def per_use(self) -> Decimal | None:
        """Care and depreciation of the past year by its days of use; None without use."""
        return _share(self.care_past + self.depreciation_past, self.uses_past)

    @property
    def per_locate(self) -> Decimal | None:
        """What the locating kinds cost in the past year by the locates made; None without any."""
        return _share(self.locating_past, self.locates_past)


def _share(total: Decimal, count: int) -> Decimal | None:
    return to_cents(total / count) if count else None


@dataclass(frozen=True, slots=True)
class Standing:
    """What a page shows: the figures and when they were reckoned; None: not yet."""

    figures: Figures | None
    reckoned_at: datetime | None
    exact: bool


def standing(on: date) -> Standing:
    """The stored figures when they are of the day and nothing has changed since; a small register is reckoned on
    the spot; a large one shows the last known ones with their time."""
    row = RegisterMoney.objects.order_by("-on").first()
    if row is not None and row.on == on and not row.stale:
        return Standing(figures_of(row), row.reckoned_at, True)
    if not Equipment.objects.order_by("id")[AT_ONCE : AT_ONCE + 1].exists():
        return Standing(reckon(on), None, True)
    return Standing(figures_of(row) if row else None, row.reckoned_at if row else None, False)


def figures_of(row: RegisterMoney) -> Figures:
    """A stored row as figures."""
    return Figures(**{field.name: getattr(row, field.name) for field in fields(Figures)})


def reckon(on: date) -> Figures:
    """From the register itself, item by item; a handful of queries."""
    year_ago = on - YEAR
    items = Equipment.objects.exclude(place__in=GONE).order_by()
    sums = _depreciation(
        items.values_list("kind", "price", "tax", "salvage", "life_years", "method", "bought_on").iterator(2000), on
    )
    spent = CareResult.objects.filter(cost__gt=0, done_on__gt=year_ago, done_on__lte=on)
    by_locating = spent.aggregate(
        every=Sum("cost"), locating=Sum("cost", filter=Q(item__kind__in=[str(kind) for kind in LOCATES_WITH]))
    )
    uses = UseTally.objects.filter(on__gt=year_ago, on__lte=on).aggregate(total=Sum("count"))["total"]
    return Figures(
        **sums | {"locating_past": to_cents(sums["locating_past"] + (by_locating["locating"] or NOTHING))},
        care_past=to_cents(by_locating["every"] or NOTHING),
        care_ahead=_care_ahead(),
        uses_past=uses or 0,
        locates_past=PrivateLocate.objects.filter(
            kind=LocateKind.LOCATED, made_at__gte=_midnight(year_ago, 1), made_at__lt=_midnight(on, 1)
        ).count(),
        away_days_past=_away_days(year_ago, on),
    )


def _depreciation(rows: Iterable[tuple], on: date) -> dict:
    """Sums over the items; see Figures."""
    paid = value = past = ahead = locating = replace = NOTHING
    priced = unpriced = without_life = ending = 0
    year_ago, year_on = on - YEAR, on + YEAR
    for kind, price, tax, salvage, life, method, bought in rows:
        if price is None:
            unpriced += 1
            continue
        priced += 1
        cost = price + (tax or NOTHING)
        paid += cost
        if life is None or bought is None:
            without_life += 1
            continue
        asset = Asset(cost, salvage or NOTHING, life, Method(method))
        now = book_value(asset, bought, on)
        charged = book_value(asset, bought, max(year_ago, bought)) - now
        value, past, ahead = value + now, past + charged, ahead + now - book_value(asset, bought, year_on)
        if kind in LOCATES_WITH:
            locating += charged
        if months_between(bought, on) < life * MONTHS <= months_between(bought, year_on):
            replace, ending = replace + cost, ending + 1
    return {
        "priced": priced,
        "unpriced": unpriced,
        "without_life": without_life,
        "paid": to_cents(paid),
        "book_value": to_cents(value),
        "depreciation_past": to_cents(past),
        "depreciation_ahead": to_cents(ahead),
        "replace_ahead": to_cents(replace),
        "replace_count": ending,
        "locating_past": locating,
    }


def _care_ahead() -> Decimal:
    """What each known care last cost, as often as it falls due within a year."""
    yearly = ExpressionWrapper(
        F("last_cost") * Decimal(MONTHS) / F("every_months"),
        output_field=DecimalField(max_digits=14, decimal_places=2),
    )
    gone = Equipment.objects.filter(place__in=GONE).values("pk")
    known = CareState.objects.filter(last_cost__gt=0, every_months__gt=0).exclude(item__in=gone)
    return to_cents(known.aggregate(total=Sum(yearly))["total"] or NOTHING)


def _away_days(start: date, end: date) -> int:
    """Days that items were away for repair or calibration within the span, an item's day counted once."""
    stays = CustodyEvent.objects.filter(place=Where.REPAIR, at__lt=_midnight(end, 1))
    days = 0
    for at, until in stays.filter(Q(until=None) | Q(until__gte=_midnight(start, 0))).values_list("at", "until"):
        last = min(timezone.localdate(until), end) if until is not None else end
        days += max((last - max(timezone.localdate(at), start)).days, 0)
    return days


def _midnight(day: date, later: int) -> datetime:
    return datetime.combine(day + timedelta(days=later), time.min, timezone.get_default_timezone())
