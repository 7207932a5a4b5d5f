"""Writes of care rules: the owner's, for a single item or for a kind of the company's own."""

from __future__ import annotations

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


@transaction.atomic
def set_item_rule(
    *,
    item: Equipment,
    key: str,
    care: str,
    title: str,
    source: str,
    actor: Person,
    now: datetime,
    every_months: int | None = None,
    every_days: int | None = None,
    every_uses: int | None = None,
    each_day_of_use: bool = False,
    not_needed: bool = False,
) -> ItemCareRule:
    """The owner's own rule for one item; `source` says the standard or why."""
    need_owner(actor)
    interval = (every_months, every_days, every_uses, each_day_of_use)
    facts = _checked(key, care, title, source, interval, not_needed)
    item = locked_item(item)
    row, _ = ItemCareRule.objects.update_or_create(
        item=item, key=key.strip(), defaults={**facts, "set_by": actor, "set_at": now}
    )
    refresh_care(item, now)
    return row


@transaction.atomic
def set_own_kind_rule(
    *,
    own_kind: OwnKind,
    key: str,
    care: str,
    title: str,
    source: str,
    actor: Person,
    now: datetime,
    every_months: int | None = None,
    every_days: int | None = None,
    every_uses: int | None = None,
    each_day_of_use: bool = False,
    not_needed: bool = False,
) -> OwnKindRule:
    """The owner's rule for every item of a kind of the company's own; a single item's own rule goes before it."""
    need_owner(actor)
    interval = (every_months, every_days, every_uses, each_day_of_use)
    facts = _checked(key, care, title, source, interval, not_needed)
    row, _ = OwnKindRule.objects.update_or_create(
        own_kind=own_kind, key=key.strip(), defaults={**facts, "set_by": actor, "set_at": now}
    )
    for item in Equipment.objects.filter(own_kind=own_kind).order_by("pk"):
        refresh_care(locked_item(item), now)
    return row


def _checked(
    key: str,
    care: str,
    title: str,
    source: str,
    every: tuple[int | None, int | None, int | None, bool],
    not_needed: bool,
) -> dict[str, Any]:
    """The fields of a rule. Raises BadInput."""
    faults = Faults()
    faults.need(key=key, title=title, source=source)
    faults.word("care", care, Care)
    try:
        interval = Interval(*every)
    except EquipmentError as refused:
        faults.take(refused)
    else:
        if interval == Interval() and not not_needed and care != Care.FIRMWARE:
            faults.add("every_months", "give an interval, or say that it is not needed.")
    faults.refuse()
    months, days, uses, each_day = every
    return {
        "care": care,
        "title": title.strip(),
        "every_months": months,
        "every_days": days,
        "every_uses": uses,
        "each_day_of_use": each_day,
        "not_needed": not_needed,
        "source": source.strip(),
    }
