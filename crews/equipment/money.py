"""What an item costs: depreciation, the equivalent yearly cost, cost per use. Decimal, to the cent. Pure.

The schedules are the textbook ones (the tests name the published cases they are held against). They are
a picture for the owner, not a tax return.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from functools import lru_cache

from crews.equipment.refusal import refuse

CENT = Decimal("0.01")
MONTHS = 12
LONGEST_LIFE_YEARS = 50


class Method(StrEnum):
    """How the price is spread over the life."""

    STRAIGHT_LINE = "straight_line"
    DECLINING = "declining"


METHOD_WORDS = {Method.STRAIGHT_LINE: "Straight line", Method.DECLINING: "Declining balance"}


@dataclass(frozen=True, slots=True)
class Asset:
    """What was paid (price and tax), what will be left, how long it lasts.

    `factor` is the multiple of the straight-line rate that a declining balance takes: 2 is double."""

    cost: Decimal
    salvage: Decimal
    life_years: int
    method: Method = Method.STRAIGHT_LINE
    factor: Decimal = Decimal(2)

    def __post_init__(self) -> None:
        if not self.cost.is_finite() or self.cost <= 0:
            raise refuse("price", f"{self.cost} cannot be a price; give an amount above zero.")
        if not self.salvage.is_finite() or not 0 <= self.salvage <= self.cost:
            raise refuse("salvage", f"{self.salvage} must lie between zero and what was paid ({self.cost}).")
        if not 1 <= self.life_years <= LONGEST_LIFE_YEARS:
            raise refuse("life_years", f"{self.life_years}; give whole years from 1 to {LONGEST_LIFE_YEARS}.")
        if not Decimal("0.5") <= self.factor <= 3:
            raise refuse("factor", f"{self.factor}; give a multiple from 0.5 to 3.")


@dataclass(frozen=True, slots=True)
class Year:
    """One year of the schedule, counted from 1; amounts to the cent."""

    number: int
    charge: Decimal
    book_value: Decimal


def to_cents(amount: Decimal) -> Decimal:
    """Rounded half up to the cent."""
    return amount.quantize(CENT, rounding=ROUND_HALF_UP)


@lru_cache(maxsize=4096)
def schedule(asset: Asset) -> tuple[Year, ...]:
    """The charge of each year; they add up to the cent.

    Straight line: (cost - salvage) / life. Declining balance: factor / life of the value at the year's
    start, never below the salvage value, and what then remains falls in the last year.
    """
    years, value = [], asset.cost
    spread = asset.cost - asset.salvage
    for number in range(1, asset.life_years + 1):
        if number == asset.life_years:
            charge = value - asset.salvage
        elif asset.method is Method.STRAIGHT_LINE:
            charge = to_cents(spread * number / asset.life_years) - (asset.cost - value)
        else:
            rate = min(asset.factor / asset.life_years, Decimal(1))
            charge = min(to_cents(value * rate), value - asset.salvage)
        value -= charge
        years.append(Year(number, charge, value))
    return tuple(years)


def months_between(start: date, on: date) -> int:
    """Whole months from `start` to `on`; 0 when `on` is not later."""
    months = (on.year - start.year) * MONTHS + on.month - start.month
    return max(months - (on.day < start.day), 0)


def book_value(asset: Asset, bought_on: date, on: date) -> Decimal:
    """What is left on a day: whole years as scheduled, the running year by whole months (common practice)."""
    whole, months = divmod(months_between(bought_on, on), MONTHS)
    years = schedule(asset)
    if whole >= len(years):
        return asset.salvage
    before = asset.cost if whole == 0 else years[whole - 1].book_value
    return before - to_cents(years[whole].charge * months / MONTHS)


def charge_between(asset: Asset, bought_on: date, start: date, end: date) -> Decimal:
    """The depreciation that falls between two days."""
    return book_value(asset, bought_on, start) - book_value(asset, bought_on, end)


def yearly_cost(asset: Asset, rate: Decimal) -> Decimal:
    """The equal yearly amount that pays price and interest over the life and leaves the salvage value.

    The capital recovery of engineering economics: (cost - salvage/(1+i)^n) * i / (1 - (1+i)^-n); with no
    interest it is the straight-line charge. Checked against numpy-financial's `pmt`.
    """
    if not rate.is_finite() or not 0 <= rate < 1:
        raise refuse("interest_rate", f"{rate} cannot be a rate; 6 % is 0.06.")
    if rate == 0:
        return to_cents((asset.cost - asset.salvage) / asset.life_years)
    growth = (1 + rate) ** asset.life_years
    return to_cents((asset.cost - asset.salvage / growth) * rate / (1 - 1 / growth))


def cost_per(total: Decimal, count: int) -> Decimal | None:
    """The share of one use; None when there was none, which is not the same as nothing."""
    return to_cents(total / count) if count > 0 else None
