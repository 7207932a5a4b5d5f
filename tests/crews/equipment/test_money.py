"""Depreciation and yearly cost against published cases and numpy-financial."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import numpy_financial as npf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from crews.equipment.money import (
    Asset,
    Method,
    book_value,
    charge_between,
    cost_per,
    months_between,
    schedule,
    yearly_cost,
)
from crews.equipment.refusal import EquipmentError


def charges(cost: int, salvage: int, years: int, method: Method) -> list[int]:
    found = schedule(Asset(Decimal(cost), Decimal(salvage), years, method))
    return [int(year.charge) for year in found]


def test_published_straight_line_and_double_declining() -> None:
    # A course solution published with the answers of exercise E11-2 (coursehero.com/file/6212225):
    # 50,000 down to 5,000 in five years.
    assert charges(50_000, 5_000, 5, Method.STRAIGHT_LINE) == [9_000] * 5
    assert charges(50_000, 5_000, 5, Method.DECLINING) == [20_000, 12_000, 7_200, 4_320, 1_480]
    # accountingmcq.blogspot.com, October 2020: 60,000, residual 5,000, five years; the second year is 14,400.
    assert charges(60_000, 5_000, 5, Method.DECLINING)[1] == 14_400
    # From memory of OpenStax, Principles of Accounting 1, section 11.3: 58,000, salvage 10,000, five years.
    assert charges(58_000, 10_000, 5, Method.STRAIGHT_LINE) == [9_600] * 5
    assert charges(58_000, 10_000, 5, Method.DECLINING) == [23_200, 13_920, 8_352, 2_528, 0]


@st.composite
def assets(draw: st.DrawFn) -> Asset:
    cost = draw(st.integers(1, 50_000_000))
    salvage = draw(st.integers(0, cost))
    return Asset(
        Decimal(cost) / 100, Decimal(salvage) / 100, draw(st.integers(1, 40)), draw(st.sampled_from(list(Method)))
    )


@given(assets())
def test_the_charges_add_up_to_the_cent_and_never_pass_the_salvage(asset: Asset) -> None:
    years = schedule(asset)
    assert sum(year.charge for year in years) == asset.cost - asset.salvage
    assert all(year.charge >= 0 and year.book_value >= asset.salvage for year in years)
    assert years[-1].book_value == asset.salvage


@given(assets(), st.integers(1, 30))
def test_the_yearly_cost_agrees_with_numpy_financial(asset: Asset, percent: int) -> None:
    rate = percent / 100
    wanted = -npf.pmt(rate, asset.life_years, float(asset.cost), -float(asset.salvage))
    assert float(yearly_cost(asset, Decimal(percent) / 100)) == pytest.approx(wanted, abs=0.006)


def test_the_yearly_cost_without_interest_is_the_straight_line() -> None:
    asset = Asset(Decimal(9_000), Decimal(1_000), 4)
    assert yearly_cost(asset, Decimal(0)) == Decimal(2_000)


def test_the_running_year_goes_by_whole_months() -> None:
    asset, bought = Asset(Decimal(12_000), Decimal(0), 5), date(2026, 1, 31)
    assert book_value(asset, bought, bought) == Decimal(12_000)
    assert book_value(asset, bought, date(2026, 7, 31)) == Decimal(10_800)
    assert book_value(asset, bought, date(2027, 1, 31)) == Decimal(9_600)
    assert book_value(asset, bought, date(2040, 1, 1)) == Decimal(0)
    assert charge_between(asset, bought, date(2027, 1, 31), date(2028, 1, 31)) == Decimal(2_400)
    assert months_between(date(2026, 3, 1), date(2026, 2, 1)) == 0


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"cost": Decimal(0)}, "price"),
        ({"cost": Decimal("NaN")}, "price"),
        ({"salvage": Decimal(200)}, "salvage"),
        ({"life_years": 0}, "life_years"),
        ({"factor": Decimal(9)}, "factor"),
    ],
)
def test_bad_money_is_refused_by_its_field(wrong: dict, field: str) -> None:
    with pytest.raises(EquipmentError) as refused:
        Asset(**{"cost": Decimal(100), "salvage": Decimal(0), "life_years": 5, **wrong})
    assert list(refused.value.fields) == [field]


def test_no_use_has_no_cost_a_use() -> None:
    assert cost_per(Decimal(100), 0) is None
    assert cost_per(Decimal(100), 3) == Decimal("33.33")
