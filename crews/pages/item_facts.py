"""What an item's page tells beside the register's line: care, history, papers, money, fit."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.conf import settings

from crews.equipment.fit import MOST_VOLTS
from crews.models import Equipment, Person
from crews.pages.equipment_forms import KG_PER_LB
from crews.pages.owner import kit_misfits
from crews.register.availability import availability
from crews.register.doubt import LOCATES_WITH
from crews.register.money import money_of
from tickets.models import PrivateLocate

LISTED = 50
LATEST = 12


def item_facts(item: Equipment, on: date, person: Person) -> dict[str, Any]:
    """Constant in queries, whatever the length of the item's history."""
    results = item.care_results.select_related("by", "paper")[:LATEST]
    history = item.custody.select_related("crew", "person", "by", "confirmed_by").order_by("-sequence")[:LISTED]
    facts: dict[str, Any] = {
        "standing": availability([item], on)[item.pk],
        "states": list(item.care_states.all()),
        "results": list(results),
        "papers": list(item.papers.all()[:LISTED]),
        "history": list(history),
        "zone": settings.TIME_ZONE,
        "makes_locates": item.kind in LOCATES_WITH,
        "misfits": kit_misfits(item.kit) if item.kit is not None else (),
        "most_volts": MOST_VOLTS.get(item.voltage_class),
        "load_lb": None if item.working_load_kg is None else round(item.working_load_kg / KG_PER_LB),
    }
    if person.runs_the_office:
        facts["doubted"] = list(_doubted(item))
        facts["money"] = money_of(item, on)
    return facts


def _doubted(item: Equipment) -> Any:
    """Locates marked in doubt because of this item: its serial stands in the reason."""
    marked = PrivateLocate.objects.exclude(doubted_at=None).filter(doubt_words__contains=f"({item.serial})")
    return marked.select_related("job__site").order_by("-made_at", "-id")[:LISTED]
