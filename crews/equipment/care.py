"""When care falls due: from the last good result, the day put in service, the first issue and use. Pure.

A due day is the last day on which the item is good: overdue begins the day after. A planned visit wants
more: an item whose due day is the visit's own day does not go (see `may_go_out`).
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from crews.equipment.refusal import refuse

COMMON_PRACTICE = "common practice, no source"
LONGEST_MONTHS = 240
LONGEST_DAYS = 3_660


class Care(StrEnum):
    """What is done to an item so that it may be trusted."""

    CALIBRATION = "calibration"
    FUNCTION_CHECK = "function_check"
    BUMP_TEST = "bump_test"
    ELECTRICAL_TEST = "electrical_test"
    INSPECTION = "inspection"
    BATTERY = "battery"
    FIRMWARE = "firmware"


CARE_WORDS = {
    Care.CALIBRATION: "Calibration",
    Care.FUNCTION_CHECK: "Function check",
    Care.BUMP_TEST: "Bump test",
    Care.ELECTRICAL_TEST: "Electrical test",
    Care.INSPECTION: "Inspection",
    Care.BATTERY: "Battery",
    Care.FIRMWARE: "Firmware",
}


class DueState(StrEnum):
    """What is known of the next due day."""

    DATED = "dated"
    UNKNOWN = "unknown"  # never done and no day to count from: not fine, unknown
    EACH_USE = "each_use"  # before each day's use; no day ahead
    NOTE = "note"  # nothing falls due


@dataclass(frozen=True, slots=True)
class Interval:
    """How often: calendar months or days from the last good result, a number of uses, or each day of use.
    The earliest of those given governs. None of them: a note without a due day."""

    months: int | None = None
    days: int | None = None
    uses: int | None = None
    each_day_of_use: bool = False

    def __post_init__(self) -> None:
        for field, value, most in (
            ("every_months", self.months, LONGEST_MONTHS),
            ("every_days", self.days, LONGEST_DAYS),
            ("every_uses", self.uses, 1_000_000),
        ):
            if value is not None and not 1 <= value <= most:
                raise refuse(field, f"{value} cannot be an interval; give a whole number from 1 to {most}.")


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a reading may lie from the known value: `absolute` in `unit` plus `fraction` of the value."""

    absolute: float
    fraction: float
    unit: str

    def allowed(self, known: float) -> float:
        return self.absolute + self.fraction * abs(known)


@dataclass(frozen=True, slots=True)
class CareRule:
    """One kind of care for one kind of item. `source` names the rule, or says common practice.

    `before_first_use`: without a good result the item is not good at all, whatever its age.
    `shelf_months`: tested but not yet issued, a good result lasts so long instead.
    `stops`: past its due day the item does not go out; otherwise it is only told.
    """

    key: str
    care: Care
    title: str
    interval: Interval
    source: str
    before_first_use: bool = False
    shelf_months: int | None = None
    stops: bool = True
    tolerance: Tolerance | None = None
    words: str = ""

    @property
    def cited(self) -> bool:
        """Whether a standard or regulation sets it."""
        return not self.source.casefold().startswith("common practice")


@dataclass(frozen=True, slots=True)
class History:
    """What has happened to an item, for one rule. `uses_since_good` counts days of use; `last_used_on` is
    the last of them. `stated_due_on` is the day that the certificate itself names: it may only shorten."""

    last_good_on: date | None = None
    put_in_service_on: date | None = None
    first_issued_on: date | None = None
    uses_since_good: int = 0
    last_used_on: date | None = None
    stated_due_on: date | None = None


@dataclass(frozen=True, slots=True)
class Due:
    """The last good day, and how it was counted."""

    state: DueState
    on: date | None
    words: str


def add_months(day: date, months: int) -> date:
    """The same day of the month so many months on; where that month is shorter, its last day.

    31 Jan + 1 month = 28 or 29 Feb; 29 Feb + 12 months = 28 Feb; 29 Feb + 48 months = 29 Feb; and
    28 Feb + 1 month = 28 Mar, not the end of March. Always counted from the result's own day, so that a
    short month in between shortens nothing: 31 Jan + 2 months = 31 Mar.
    """
    if months < 1:
        raise refuse("every_months", f"{months} cannot be an interval; give a whole number of at least 1.")
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    month += 1
    if year > 9999:
        raise refuse("done_on", f"{day.isoformat()} lies too far ahead to count from.")
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def due(rule: CareRule, history: History) -> Due:
    """When the care falls due next.

    Gloves and other insulating equipment: tested but not issued, a test is good for `shelf_months`; once
    issued the interval runs from the test or from the first issue, whichever is later, and never past
    `shelf_months` after the test (29 CFR 1910.137(c)(2)(viii), Table I-5 and its footnote: before first
    issue and every six months after; OSHA's letter of 25 January 2019: going back to the shelf does not
    stop the six months. The cap is the stricter reading of a test made long before the issue).
    """
    every, good = rule.interval, history.last_good_on
    if every.each_day_of_use:
        return Due(DueState.EACH_USE, None, "before each day's use")
    if good is None and history.stated_due_on is not None:
        return Due(DueState.DATED, history.stated_due_on, "as the certificate says")
    if every.months is None and every.days is None and every.uses is None:
        return Due(DueState.NOTE, None, "nothing falls due")
    if good is None and rule.before_first_use:
        return Due(DueState.UNKNOWN, None, "no good result yet: not before the first")
    base = good or history.put_in_service_on
    if base is None:
        return Due(DueState.UNKNOWN, None, "no good result and no day put in service on record")
    found = _candidates(rule, history, base)
    on, words = min(found, default=(None, "counted in uses alone, not yet used up"), key=lambda pair: pair[0])
    return Due(DueState.DATED if on else DueState.NOTE, on, words)


def _candidates(rule: CareRule, history: History, base: date) -> list[tuple[date, str]]:
    every, good = rule.interval, history.last_good_on
    since = f"the good result of {base.isoformat()}" if good else f"the day put in service, {base.isoformat()}"
    found: list[tuple[date, str]] = []
    if rule.shelf_months is not None and good is not None and history.first_issued_on is None:
        found.append((add_months(good, rule.shelf_months), f"{rule.shelf_months} months after {since}, not issued"))
    elif every.months is not None:
        start, words = base, since
        issued = history.first_issued_on
        if rule.shelf_months is not None and issued is not None and issued > base:
            start, words = issued, f"the first issue, {issued.isoformat()}"
            shelf = add_months(base, rule.shelf_months)
            found.append((shelf, f"{_count(rule.shelf_months, 'month')} after {since}, tested before the issue"))
        found.append((add_months(start, every.months), f"{_count(every.months, 'month')} after {words}"))
    if every.days is not None:
        found.append((base + timedelta(days=every.days), f"{_count(every.days, 'day')} after {since}"))
    if every.uses is not None and history.uses_since_good >= every.uses:
        used = history.last_used_on or base
        found.append((used, f"{_count(every.uses, 'use')} since {since} are used up"))
    if history.stated_due_on is not None:
        found.append((history.stated_due_on, "as the certificate says"))
    return found


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def is_overdue(due_on: date | None, on: date) -> bool:
    """Good to the end of its due day; overdue from the next."""
    return due_on is not None and due_on < on


def may_go_out(due_on: date | None, on: date) -> bool:
    """Whether an item may be planned for a visit of that day: due before or on the day, it may not."""
    return due_on is None or due_on > on


def days_late(due_on: date, on: date) -> int:
    """How many days past the due day; 0 while good."""
    return max((on - due_on).days, 0)
