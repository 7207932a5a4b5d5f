"""Writes of care rules: the owner's, for a single item or for a kind of the company's own."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from crews.equipment.care import Care, Interval
from crews.equipment.refusal import EquipmentError
from crews.models import Equipment, ItemCareRule, OwnKind, OwnKindRule, Person
from crews.services.care_states import refresh_care
from crews.services.custody import locked_item
from crews.services.guards import need_owner
from tickets.services.refusals import Faults


@dataclass(frozen=True, slots=True)
class RuleGiven:
    """What an owner says of a care rule; `key` is its short name, `source` the standard or why. Intervals as in
    `crews.equipment.care.Interval`; `not_needed` puts a rule of the kind out of force."""

    key: str
    care: str
    title: str
    source: str
    every_months: int | None = None
    every_days: int | None = None
    every_uses: int | None = None
    each_day_of_use: bool = False
    not_needed: bool = False


@transaction.atomic
def set_item_rule(*, item: Equipment, given: RuleGiven, actor: Person, now: datetime) -> ItemCareRule:
    """The owner's own rule for one item."""
    need_owner(actor)
    facts = _checked(given)
    item = locked_item(item)
    row, _ = ItemCareRule.objects.update_or_create(
        item=item, key=facts.pop("key"), defaults={**facts, "set_by": actor, "set_at": now}
    )
    refresh_care(item, now)
    return row


@transaction.atomic
def set_own_kind_rule(*, own_kind: OwnKind, given: RuleGiven, actor: Person, now: datetime) -> OwnKindRule:
    """The owner's rule for every item of a kind of the company's own; a single item's own rule goes before it."""
    need_owner(actor)
    facts = _checked(given)
    row, _ = OwnKindRule.objects.update_or_create(
        own_kind=own_kind, key=facts.pop("key"), defaults={**facts, "set_by": actor, "set_at": now}
    )
    for item in Equipment.objects.filter(own_kind=own_kind).order_by("pk"):
        refresh_care(locked_item(item), now)
    return row


def _checked(given: RuleGiven) -> dict[str, Any]:
    """The fields of a rule. Raises BadInput."""
    faults = Faults()
    faults.need(key=given.key, title=given.title, source=given.source)
    faults.word("care", given.care, Care)
    try:
        interval = Interval(given.every_months, given.every_days, given.every_uses, given.each_day_of_use)
    except EquipmentError as refused:
        faults.take(refused)
    else:
        if interval == Interval() and not given.not_needed and given.care != Care.FIRMWARE:
            faults.add("every_months", "give an interval, or say that it is not needed.")
    faults.refuse()
    stripped = {name: getattr(given, name).strip() for name in ("key", "title", "source")}
    return {**asdict(given), **stripped}
