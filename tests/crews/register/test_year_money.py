"""The whole register's money: against a textbook case, against the sum of the items' own pages, and kept fresh."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from crews import services
from crews.models import CareResult, CustodyEvent, Equipment, Person, RegisterMoney, UseTally
from crews.register import year_money
from crews.register.money import money_of
from crews.register.overview import overview
from crews.register.year_money import Figures, figures_of, reckon, standing
from crews.services import Laboratory
from crews.services.register_money import keep_money
from tests.crews.factories import EquipmentFactory, PersonFactory
from tests.crews.office import make_job
from tickets.models import PrivateLocate

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 9, 16, 14, tzinfo=UTC)
TODAY = date(2026, 9, 16)


@pytest.fixture
def owner() -> Person:
    return PersonFactory(owner=True)


def own(**more: Any) -> Equipment:
    given: dict[str, Any] = {
        "price": Decimal(9_000),
        "tax": Decimal(0),
        "salvage": Decimal(1_000),
        "life_years": 4,
        "bought_on": date(2024, 9, 16),
        "calibration_due_on": date(2027, 1, 1),
    }
    return EquipmentFactory(**{**given, **more})


def test_a_textbook_case_to_the_cent() -> None:
    """From memory of OpenStax, Principles of Accounting 1, section 11.3: cost 58,000, salvage 10,000, five years;
    straight line 9,600 a year; double declining 23,200, 13,920, 8,352, 2,528, 0."""
    for method in ("straight_line", "declining"):
        own(price=Decimal(55_000), tax=Decimal(3_000), salvage=Decimal(10_000), life_years=5, method=method)
    found = reckon(TODAY)  # two whole years after
    assert found.paid == Decimal(116_000)
    assert found.book_value == Decimal(58_000 - 2 * 9_600) + Decimal(58_000 - 23_200 - 13_920)
    assert found.depreciation_past == Decimal(9_600 + 13_920)
    assert found.depreciation_ahead == Decimal(9_600 + 8_352)


def test_it_is_the_sum_of_the_items_own(owner: Person) -> None:
    items = [
        own(),
        own(method="declining", bought_on=date(2025, 2, 28), price=Decimal("4850.00"), tax=Decimal("291.00")),
        own(bought_on=date(2026, 3, 31)),
        own(bought_on=date(2019, 1, 1)),
        own(kind="truck", life_years=None),
        own(kind="ladder", price=None),
    ]
    own(place="retired")
    own(place="stolen")
    for number, item in enumerate(items[:3]):
        laboratory = Laboratory("Tarn Bench", cost=Decimal(100 + number))
        services.record_result(
            item=item,
            key="calibration",
            done_on=date(2026, 9, 1),
            passed=True,
            laboratory=laboratory,
            actor=owner,
            now=NOW,
        )
        services.note_use_day(item=item, on=date(2026, 9, 2 + number), actor=owner, now=NOW)
    found = reckon(TODAY)
    singles = [money_of(Equipment.objects.get(pk=item.pk), TODAY) for item in items]
    assert found.book_value == sum(one.value for one in singles if one.value is not None)
    assert found.depreciation_ahead == sum(one.depreciation_ahead or 0 for one in singles)
    assert found.care_past == sum(one.care_past_year for one in singles) == Decimal(303)
    assert found.care_ahead == sum(one.care_ahead for one in singles) == Decimal(303)
    assert found.uses_past == sum(one.uses_past_year for one in singles) == 3
    assert (found.priced, found.unpriced, found.without_life) == (5, 1, 1)
    assert found.per_use == ((found.care_past + found.depreciation_past) / 3).quantize(Decimal("0.01"))


def test_what_comes_to_the_end_of_its_life_is_counted_once(owner: Person) -> None:
    for bought in (date(2022, 9, 16), date(2022, 9, 17), date(2023, 9, 16), date(2023, 9, 17)):
        own(bought_on=bought, price=Decimal(1_000), salvage=Decimal(0))
    found = reckon(TODAY)
    # The first has ended; the second and third end within the year to 16 Sep 2027, the fourth a day after it.
    assert (found.replace_count, found.replace_ahead) == (2, Decimal(2_000))
    assert found.spend_ahead == Decimal(2_000)


def test_locates_and_days_away_of_the_past_year(owner: Person) -> None:
    receiver = own()
    own(kind="truck", price=Decimal(90_000))
    for day in ((2026, 9, 16), (2026, 1, 5), (2025, 9, 1)):
        made_at = datetime(*day, 13, tzinfo=UTC)
        PrivateLocate.objects.create(job=make_job(), kind="located", made_at=made_at, by=owner, result_words="Cable")
    services.move_item(item=receiver, step="sent_away", actor=owner, now=datetime(2026, 8, 1, 14, tzinfo=UTC))
    services.move_item(item=receiver, step="came_back", actor=owner, now=datetime(2026, 8, 6, 14, tzinfo=UTC))
    services.move_item(item=receiver, step="sent_away", actor=owner, now=datetime(2026, 9, 14, 14, tzinfo=UTC))
    found = reckon(TODAY)
    assert found.locates_past == 2
    assert found.locating_past == Decimal(2_000)  # the receiver's (9,000 - 1,000) / 4; the truck makes no locate
    assert found.per_locate == Decimal(1_000)
    assert found.away_days_past == 5 + 2
    assert money_of(Equipment.objects.get(pk=receiver.pk), TODAY).away_days_past_year == 7


def test_nothing_used_has_no_cost_a_use() -> None:
    own()
    found = reckon(TODAY)
    assert (found.per_use, found.per_locate) == (None, None)
    assert reckon(TODAY - timedelta(days=4_000)).book_value == Decimal(9_000)  # before it was bought: what was paid


def test_a_change_makes_it_stale_and_the_sweep_makes_it_good(
    owner: Person, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    monkeypatch.setattr(year_money, "AT_ONCE", 0)
    own()
    assert standing(TODAY) == year_money.Standing(None, None, False)
    assert keep_money(now=NOW)
    assert not keep_money(now=NOW + timedelta(minutes=1))
    kept = standing(TODAY)
    assert (kept.exact, kept.figures, kept.reckoned_at) == (True, reckon(TODAY), NOW)
    with django_capture_on_commit_callbacks(execute=True):
        services.add_equipment(
            kind="truck", name="T", serial="T-1", price=Decimal(500), actor=owner, now=NOW + timedelta(minutes=2)
        )
    assert (standing(TODAY).exact, standing(TODAY).figures) == (False, kept.figures)
    assert keep_money(now=NOW + timedelta(minutes=3))
    assert standing(TODAY).figures == reckon(TODAY) != kept.figures
    assert not standing(TODAY + timedelta(days=1)).exact
    keep_money(now=NOW + timedelta(days=1))
    assert standing(TODAY + timedelta(days=1)).exact


def test_what_changes_while_it_is_reckoned_is_not_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    own()

    def meanwhile(on: date) -> Figures:
        RegisterMoney.objects.filter(on=on).update(changes=1)
        return reckon(on)

    monkeypatch.setattr("crews.services.register_money.reckon", meanwhile)
    keep_money(now=NOW)
    assert RegisterMoney.objects.get().stale
    monkeypatch.undo()
    assert keep_money(now=NOW)
    assert figures_of(RegisterMoney.objects.get()) == reckon(TODAY)


def test_a_small_register_is_reckoned_on_the_spot() -> None:
    own()
    found = standing(TODAY)
    assert (found.exact, found.figures) == (True, reckon(TODAY))


def test_constant_in_queries(django_assert_num_queries: Any, owner: Person) -> None:
    for many in (1, 20):
        for _ in range(many):
            item = own()
            CareResult.objects.create(
                item=item,
                key="calibration",
                care="calibration",
                title="x",
                done_on=TODAY,
                passed=True,
                cost=Decimal(10),
                by=owner,
                recorded_at=NOW,
            )
            UseTally.objects.get_or_create(kind=item.kind, on=TODAY)
        assert CustodyEvent.objects.count() >= many
        with django_assert_num_queries(6):
            reckon(TODAY)
        RegisterMoney.objects.all().delete()
        keep_money(now=NOW)
        with django_assert_num_queries(10):
            overview(TODAY)
