"""What one item has cost and will cost, from its own record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Sum

from crews.equipment.custody import Where
from crews.equipment.money import (
    MONTHS,
    Asset,
    Method,
    Year,
    book_value,
    charge_between,
    cost_per,
    schedule,
    to_cents,
    yearly_cost,
)
from crews.models import Equipment

INTEREST = Decimal("0.06")  # for the equal yearly cost; common practice, no source


@dataclass(frozen=True, slots=True)
class ItemMoney:
    """None where something is not on record, which is not the same as nothing."""

    asset: Asset | None
    value: Decimal | None
    years: tuple[Year, ...]
    yearly: Decimal | None
    care_past_year: Decimal
    care_ahead: Decimal
    depreciation_ahead: Decimal | None
    uses_past_year: int
    locates_past_year: int
    per_use: Decimal | None
    per_locate: Decimal | None
    away_days_past_year: int


def asset_of(item: Equipment) -> Asset | None:
    """Price and tax, salvage and life; None unless price, life and day of purchase are on record."""
    if item.price is None or item.life_years is None or item.bought_on is None:
        return None
    return Asset(
        item.price + (item.tax or Decimal(0)), item.salvage or Decimal(0), item.life_years, Method(item.method)
    )


def money_of(item: Equipment, on: date) -> ItemMoney:
    """The item's money as of a day; a year is the 365 days before, or ahead."""
    asset, year_ago = asset_of(item), on - timedelta(days=365)
    results = item.care_results.filter(done_on__gt=year_ago, done_on__lte=on)
    spent = results.aggregate(total=Sum("cost"))["total"] or Decimal(0)
    ahead = sum(
        (s.last_cost * MONTHS / s.every_months for s in item.care_states.all() if s.last_cost and s.every_months),
        Decimal(0),
    )
    uses = item.use_days.filter(on__gt=year_ago, on__lte=on).count()
    locates = item.locate_uses.filter(locate__made_at__date__gt=year_ago, locate__made_at__date__lte=on).count()
    value = charge = charged = None
    if asset is not None and item.bought_on is not None:
        value = book_value(asset, item.bought_on, on)
        charge = charge_between(asset, item.bought_on, on, on + timedelta(days=365))
        charged = charge_between(asset, item.bought_on, max(year_ago, item.bought_on), on)
    cost = spent + (charged or Decimal(0))
    known = charged is not None or spent > 0
    return ItemMoney(
        asset=asset,
        value=value,
        years=schedule(asset) if asset else (),
        yearly=yearly_cost(asset, INTEREST) if asset else None,
        care_past_year=to_cents(spent),
        care_ahead=to_cents(ahead),
        depreciation_ahead=charge,
        uses_past_year=uses,
        locates_past_year=locates,
        per_use=cost_per(cost, uses) if known else None,
        per_locate=cost_per(cost, locates) if known else None,
        away_days_past_year=_away_days(item, year_ago, on),
    )


def _away_days(item: Equipment, start: date, end: date) -> int:
    """Downtime: days away for repair or calibration within the span."""
    days = 0
    for stay in item.custody.filter(place=Where.REPAIR):
        first = max(stay.at.date(), start)
        last = min(stay.until.date() if stay.until else end, end)
        days += max((last - first).days, 0)
    return days
