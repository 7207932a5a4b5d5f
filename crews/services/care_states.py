"""Keeps an item's care states, its due day and its reminder as its results, rules and uses ask."""

from __future__ import annotations

from datetime import date, datetime

from django.db.models import Max, Q

from crews.equipment.care import Care, CareRule, Due, DueState, History, due
from crews.models import CareResult, CareState, Equipment, UseDay
from crews.register.rules import rules_of
from crews.selectors import company_today
from crews.services.register_money import mark_money_stale
from crews.services.reminders import plan_reminder

DATED_BY_CERTIFICATE = frozenset({Care.CALIBRATION, Care.ELECTRICAL_TEST})


def refresh_care(item: Equipment, now: datetime) -> Equipment:
    """Derive the states anew from what is on record; the same facts give the same states."""
    rules = rules_of(item, item.care_rules.all())
    good = _last_good(item)
    found = [(rule, due(rule, _history(item, rule, good.get(rule.key)))) for rule in rules]
    item.care_states.exclude(key__in=[rule.key for rule in rules]).delete()
    CareState.objects.bulk_create(
        [_state(item, rule, when, good.get(rule.key)) for rule, when in found],
        update_conflicts=True,
        unique_fields=["item", "key"],
        update_fields=[
            "care",
            "title",
            "source",
            "stops",
            "state",
            "due_on",
            "words",
            "every_months",
            "last_good_on",
            "last_cost",
        ],
    )
    _copy(item, found)
    plan_reminder(item, now)
    mark_money_stale(company_day(now))
    return item


def _last_good(item: Equipment) -> dict[str, CareResult]:
    """The latest good result by key."""
    rows = CareResult.objects.filter(item=item, passed=True).order_by("done_on", "pk")
    latest = rows.values("key").annotate(last=Max("done_on"))
    wanted = Q(pk__in=[])
    for row in latest.order_by():
        wanted |= Q(key=row["key"], done_on=row["last"])
    return {result.key: result for result in rows.filter(wanted)}


def _history(item: Equipment, rule: CareRule, good: CareResult | None) -> History:
    stated = good.stated_due_on if good is not None else None
    if item.stated_due_on is not None and rule.care in DATED_BY_CERTIFICATE:
        stated = min(stated or item.stated_due_on, item.stated_due_on)
    uses, last_used = 0, None
    if rule.interval.uses is not None:
        days = UseDay.objects.filter(item=item)
        if good is not None:
            days = days.filter(on__gt=good.done_on)
        uses = days.count()
        last_used = days.order_by("-on").values_list("on", flat=True).first()
    return History(
        last_good_on=good.done_on if good else None,
        put_in_service_on=item.put_in_service_on,
        first_issued_on=item.first_issued_on,
        uses_since_good=uses,
        last_used_on=last_used,
        stated_due_on=stated,
    )


def _state(item: Equipment, rule: CareRule, when: Due, good: CareResult | None) -> CareState:
    return CareState(
        item=item,
        key=rule.key,
        care=rule.care,
        title=rule.title,
        source=rule.source[:200],
        stops=rule.stops,
        state=when.state,
        due_on=when.on,
        words=when.words[:200],
        every_months=rule.interval.months,
        last_good_on=good.done_on if good else None,
        last_cost=good.cost if good else None,
    )


def _copy(item: Equipment, found: list[tuple[CareRule, Due]]) -> None:
    """The earliest due day of what stops the item, and what has no day to count from."""
    dated = sorted((w.on, r.title) for r, w in found if r.stops and w.on is not None)
    unknown = [rule.title for rule, when in found if rule.stops and when.state is DueState.UNKNOWN]
    calibrated: list[date] = [w.on for r, w in found if r.care is Care.CALIBRATION and w.on is not None]
    item.due_on, item.due_title = dated[0] if dated else (None, "")
    item.care_unknown = unknown[0] if unknown else ""
    item.calibration_due_on = min(calibrated, default=None)
    if item.calibration_due_on is not None and (item.due_on is None or item.calibration_due_on < item.due_on):
        item.due_on, item.due_title = item.calibration_due_on, "Calibration"
    item.save(update_fields=["due_on", "due_title", "care_unknown", "calibration_due_on"])


def company_day(now: datetime) -> date:
    """The company's local day; care is kept in the office."""
    return company_today(now)
