"""Writes of care: results, an item's own rules, days of use, the owner's overrides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import F

from crews.equipment.care import Care, CareRule
from crews.equipment.known_target import Outcome, judge
from crews.models import (
    CareResult,
    Equipment,
    LocateInstrument,
    Override,
    Paper,
    Person,
    UseDay,
    UseTally,
)
from crews.register.availability import trust_fault
from crews.register.doubt import locates_in_doubt
from crews.register.rules import rules_of
from crews.services.care_states import company_day, refresh_care
from crews.services.custody import locked_item
from crews.services.guards import need_owner
from crews.words import day_words
from locates.lengths import INCH_M
from tickets.models import PrivateLocate
from tickets.services import doubt_private_locates
from tickets.services.refusals import BadInput, Conflict, Faults, Forbidden, need_office, need_person
from tickets.states import LocateKind

LONGEST_OVERRIDE_DAYS = 31
_BY_THE_CREW = frozenset({Care.FUNCTION_CHECK, Care.BUMP_TEST, Care.INSPECTION, Care.BATTERY})


@dataclass(frozen=True, slots=True)
class Recorded:
    """A result, and the locates that a failure has put in doubt."""

    result: CareResult
    in_doubt: tuple[PrivateLocate, ...]


@dataclass(frozen=True, slots=True)
class Laboratory:
    """What a laboratory's certificate says."""

    laboratory: str = ""
    certificate_number: str = ""
    as_found: str = ""
    as_left: str = ""
    uncertainty: str = ""
    stated_due_on: date | None = None
    cost: Decimal | None = None


@transaction.atomic
def record_result(
    *,
    item: Equipment,
    key: str,
    done_on: date,
    actor: Person,
    now: datetime,
    passed: bool | None = None,
    known_value: float | None = None,
    readings: Sequence[float] = (),
    laboratory: Laboratory | None = None,
    note: str = "",
    paper: Paper | None = None,
) -> Recorded:
    """Enter what a check found. With readings against a known value, pass or fail is computed. A failure
    takes the item out of service and puts the locates since the last good check in doubt."""
    need_person(actor)
    item = locked_item(item)
    rule = _rule(item, key)
    _may_check(actor, item, rule)
    told = laboratory or Laboratory()
    _check_days(done_on, told, company_day(now))
    passed, unit, words = _outcome(rule, passed, known_value, readings)
    doubted = [] if passed else list(locates_in_doubt(item, done_on))
    result = CareResult.objects.create(
        item=item,
        key=rule.key,
        care=rule.care,
        title=rule.title,
        done_on=done_on,
        passed=passed,
        laboratory=told.laboratory.strip(),
        certificate_number=told.certificate_number.strip(),
        as_found=told.as_found.strip(),
        as_left=told.as_left.strip(),
        uncertainty=told.uncertainty.strip(),
        known_value=known_value,
        readings=list(readings),
        unit=unit,
        outcome_words=words,
        stated_due_on=told.stated_due_on,
        cost=told.cost,
        note=note.strip()[:400],
        paper=paper,
        by=actor,
        recorded_at=now,
    )
    if rule.interval.each_day_of_use:
        note_use(item=item, on=done_on)
    if passed:
        if rule.care in (Care.CALIBRATION, Care.ELECTRICAL_TEST):
            item.stated_due_on = None
            item.save(update_fields=["stated_due_on"])
    else:
        _fail(item, result, doubted, actor, now)
    refresh_care(item, now)
    return Recorded(result, tuple(doubted))


def _rule(item: Equipment, key: str) -> CareRule:
    rules = {rule.key: rule for rule in rules_of(item, item.care_rules.all())}
    if key not in rules:
        said = ", ".join(rules) or "none"
        words = f"{item.name} has no care named {key!r}; it has {said}."
        raise BadInput(words, fields={"key": words})
    return rules[key]


def _may_check(actor: Person, item: Equipment, rule: CareRule) -> None:
    if actor.runs_the_office:
        return
    own = item.person_id == actor.pk or (item.crew_id is not None and item.crew_id == actor.crew_id)
    if not (own and rule.care in _BY_THE_CREW):
        raise Forbidden("A crew enters the daily checks of what it holds; the office enters the rest.")


def _check_days(done_on: date, told: Laboratory, today: date) -> None:
    faults = Faults()
    if done_on > today:
        faults.add("done_on", f"{day_words(done_on)} has not come yet; give the day on which it was done.")
    if told.stated_due_on is not None and told.stated_due_on <= done_on:
        faults.add("stated_due_on", "The certificate cannot run out on or before the day of the check.")
    if told.cost is not None and told.cost < 0:
        faults.add("cost", f"{told.cost} is below zero; give what was paid.")
    faults.refuse()


def _outcome(
    rule: CareRule, passed: bool | None, known_value: float | None, readings: Sequence[float]
) -> tuple[bool, str, str]:
    if readings or known_value is not None:
        if rule.tolerance is None:
            words = f"{rule.title} has no tolerance on file; say passed or failed instead."
            raise BadInput(words, fields={"readings": words})
        if known_value is None:
            words = "give the known value that the readings are held against."
            raise BadInput(f"Known value: {words}", fields={"known_value": words})
        found = judge(known_value, readings, rule.tolerance)
        return found.passed, rule.tolerance.unit, _length_words(found, rule.tolerance.unit)
    if passed is None:
        words = "say whether it passed, or give the readings."
        raise BadInput(f"Result: {words}", fields={"passed": words})
    return passed, "", ""


def _length_words(found: Outcome, unit: str) -> str:
    """Lengths are said in inches; to a tenth, for a check's error is small."""
    if unit != "m":
        return found.words
    return f"{found.worst / INCH_M:+.1f} in at the most, {found.allowed / INCH_M:.1f} in allowed"


def _fail(item: Equipment, result: CareResult, doubted: list[PrivateLocate], actor: Person, now: datetime) -> None:
    said = f"{result.title} failed {day_words(result.done_on)}"
    item.out_of_service_reason = f"{said}: {result.outcome_words}"[:200] if result.outcome_words else said
    item.save(update_fields=["out_of_service_reason"])
    if doubted:
        reason = f"{item.name} ({item.serial}): {said}."
        doubt_private_locates(locates=doubted, reason=reason, actor=actor, now=now)


def note_use(*, item: Equipment, on: date) -> None:
    """The item was used that day; saying it twice counts once. Inside a transaction."""
    _, is_new = UseDay.objects.get_or_create(item=item, on=on)
    if is_new:
        tally, _ = UseTally.objects.get_or_create(kind=item.kind, on=on)
        UseTally.objects.filter(pk=tally.pk).update(count=F("count") + 1)


@transaction.atomic
def note_use_day(*, item: Equipment, on: date, actor: Person, now: datetime) -> None:
    """A person's word that the item was used that day; counts towards intervals in uses."""
    need_person(actor)
    if on > company_day(now):
        words = f"{day_words(on)} has not come yet."
        raise BadInput(words, fields={"on": words})
    item = locked_item(item)
    note_use(item=item, on=on)
    refresh_care(item, now)


@transaction.atomic
def allow_despite_due(
    *, item: Equipment, from_on: date, to_on: date, reason: str, actor: Person, now: datetime
) -> Override:
    """The owner lets an item that is due go out for some days, by name and with a reason."""
    need_owner(actor)
    item = locked_item(item)
    faults = Faults()
    faults.need(reason=reason)
    if to_on < from_on:
        faults.add("to_on", "The last day lies before the first.")
    elif (to_on - from_on) >= timedelta(days=LONGEST_OVERRIDE_DAYS):
        faults.add("to_on", f"At most {LONGEST_OVERRIDE_DAYS} days at a time.")
    if to_on < company_day(now):
        faults.add("to_on", "These days are past.")
    faults.refuse()
    if item.out_of_service_reason:
        words = f"{item.name} is out of service ({item.out_of_service_reason}); only a good result brings it back."
        raise Conflict(words, fields={"reason": words})
    return Override.objects.create(item=item, from_on=from_on, to_on=to_on, reason=reason.strip(), by=actor, at=now)


@transaction.atomic
def end_override(*, override: Override, actor: Person, now: datetime) -> None:
    """The word is taken back; it stays on record."""
    need_owner(actor)
    if Override.objects.filter(pk=override.pk, ended_at=None).update(ended_at=now) != 1:
        raise Conflict("It was ended before.")


@transaction.atomic
def link_instruments(*, locate: PrivateLocate, items: Sequence[Equipment], actor: Person, now: datetime) -> int:
    """Write down with which items a private locate was made, in place of what was written before. One that was due
    that day or before, or stopped, without the owner's word, puts the locate in doubt at once. How many such."""
    need_person(actor)
    if locate.by_id != actor.pk:
        need_office(actor)
    LocateInstrument.objects.filter(locate=locate).exclude(item__in=items).delete()
    return sum(_link(locate, item, actor, now) for item in sorted(items, key=lambda one: one.pk))


@transaction.atomic
def add_instrument(*, locate: PrivateLocate, item: Equipment, actor: Person, now: datetime) -> bool:
    """One more item that a private locate was made with; whether that puts the locate in doubt."""
    need_person(actor)
    if locate.by_id != actor.pk:
        need_office(actor)
    if locate.kind != LocateKind.LOCATED:
        words = "No private locate was made there, so no instrument goes with it."
        raise BadInput(words, fields={"locate": words})
    return _link(locate, item, actor, now)


def _link(locate: PrivateLocate, item: Equipment, actor: Person, now: datetime) -> bool:
    held, on = locked_item(item), company_day(locate.made_at)
    LocateInstrument.objects.get_or_create(locate=locate, item=held)
    note_use(item=held, on=on)
    refresh_care(held, now)
    fault = trust_fault(held, on)
    if not fault:
        return False
    doubt_private_locates(locates=[locate], reason=f"{held}: {fault}", actor=actor, now=now)
    return True
