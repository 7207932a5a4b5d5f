"""Rules of a kind of the company's own, and of a single item in their place."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest

from crews import services
from crews.models import Equipment, OwnKind, OwnKindRule, Person
from tests.crews.factories import PersonFactory
from tickets.services.refusals import BadInput, Forbidden

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 9, 16, 14, tzinfo=UTC)


@pytest.fixture
def owner() -> Person:
    return PersonFactory(owner=True)


@pytest.fixture
def kind(owner: Person) -> OwnKind:
    return services.add_own_kind(name="Plate compactor", actor=owner)


def add(owner: Person, kind: OwnKind | None, serial: str = "P-1", **more: Any) -> Equipment:
    given = {"kind": "other", "own_kind": kind, "name": "Plate", "put_in_service_on": date(2026, 8, 31), **more}
    return services.add_equipment(serial=serial, actor=owner, now=NOW, **given)


def rule(owner: Person, kind: OwnKind, **more: Any) -> OwnKindRule:
    given: dict[str, Any] = {
        "key": "service",
        "care": "inspection",
        "title": "Service",
        "source": "Common practice, no source",
        "every_months": 6,
        **more,
    }
    return services.set_own_kind_rule(own_kind=kind, given=services.RuleGiven(**given), actor=owner, now=NOW)


def due(item: Equipment) -> tuple[date | None, str]:
    item.refresh_from_db()
    return item.due_on, item.due_title


def test_it_holds_for_every_item_of_the_kind_old_and_new(owner: Person, kind: OwnKind) -> None:
    old, other = add(owner, kind), add(owner, None, "O-1")
    assert due(old) == (None, "")
    rule(owner, kind)
    new = add(owner, kind, "P-2")
    assert due(old) == due(new) == (date(2027, 2, 28), "Service")  # 31 Aug and six months: the last of February
    assert due(other) == (None, "")
    rule(owner, kind, every_months=12)
    assert due(old) == (date(2027, 8, 31), "Service")
    assert OwnKindRule.objects.count() == 1


def test_a_single_items_rule_goes_before_it(owner: Person, kind: OwnKind) -> None:
    item, other = add(owner, kind), add(owner, kind, "P-2")
    rule(owner, kind)
    given = services.RuleGiven("service", "inspection", "Service", "Heavy use", every_months=1)
    services.set_item_rule(item=item, given=given, actor=owner, now=NOW)
    assert due(item)[0] == date(2026, 9, 30)
    rule(owner, kind, every_months=3)
    assert due(item)[0] == date(2026, 9, 30)
    assert due(other)[0] == date(2026, 11, 30)
    rule(owner, kind, not_needed=True)
    assert due(other) == (None, "")
    assert due(item)[0] == date(2026, 9, 30)


def test_its_checks_are_entered_and_stop_the_item(owner: Person, kind: OwnKind) -> None:
    item = add(owner, kind)
    rule(owner, kind)
    services.record_result(item=item, key="service", done_on=date(2026, 9, 16), passed=False, actor=owner, now=NOW)
    item.refresh_from_db()
    assert item.out_of_service_reason == "Service failed Wed 16 Sep 2026"


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"every_months": 0}, "every_months"),
        ({"every_months": None}, "every_months"),
        ({"every_days": -1}, "every_days"),
        ({"source": " "}, "source"),
        ({"care": "polish"}, "care"),
    ],
)
def test_bad_input_is_refused_whole(owner: Person, kind: OwnKind, wrong: dict[str, Any], field: str) -> None:
    with pytest.raises(BadInput) as refused:
        rule(owner, kind, **wrong)
    assert list(refused.value.fields) == [field]
    assert not OwnKindRule.objects.exists()


def test_it_is_the_owners(kind: OwnKind) -> None:
    with pytest.raises(Forbidden):
        rule(PersonFactory(dispatcher=True), kind)
