"""The care rules that hold for an item: those of its kind, with the item's own in their place."""

from __future__ import annotations

from collections.abc import Iterable

from django.conf import settings

from crews.equipment.care import COMMON_PRACTICE, Care, CareRule, Interval
from crews.equipment.rules import load_rules
from crews.models import Equipment, ItemCareRule, OwnKindRule

CARE_FILE = settings.ROOT / "fixtures" / "equipment" / "care.toml"
STATED = CareRule(
    "calibration", Care.CALIBRATION, "Calibration", Interval(), f"{COMMON_PRACTICE}: as the certificate says"
)


def rules_of_kind(kind: str) -> tuple[CareRule, ...]:
    """The rules on file for a kind; none is no fault."""
    return load_rules(CARE_FILE).get(kind, ())


def rules_of(item: Equipment, own: Iterable[ItemCareRule]) -> tuple[CareRule, ...]:
    """The rules of one item: the file's for its kind, those set for the company's own kind, the item's own; a later
    one keeps from the one before what it does not say itself."""
    found = {rule.key: rule for rule in rules_of_kind(item.kind)}
    of_kind = OwnKindRule.objects.filter(own_kind=item.own_kind_id) if item.own_kind_id is not None else ()
    for row in (*of_kind, *own):
        if row.not_needed:
            found.pop(row.key, None)
            continue
        base = found.get(row.key)
        found[row.key] = CareRule(
            key=row.key,
            care=Care(row.care),
            title=row.title,
            interval=Interval(row.every_months, row.every_days, row.every_uses, row.each_day_of_use),
            source=row.source,
            before_first_use=base.before_first_use if base else False,
            shelf_months=base.shelf_months if base else None,
            stops=base.stops if base else True,
            tolerance=base.tolerance if base else None,
            words=base.words if base else "",
        )
    dated = {Care.CALIBRATION, Care.ELECTRICAL_TEST}
    if item.stated_due_on is not None and not any(rule.care in dated for rule in found.values()):
        found[STATED.key] = STATED
    return tuple(found.values())
