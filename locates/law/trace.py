"""The trace of a decision: each day counted or skipped, with the reason, and the limits found."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from functools import lru_cache
from typing import Protocol, cast

from locates.law.counting import Moment, Opening, WaitCount
from locates.law.decision import Decision, Frame, Step
from locates.law.rule import Overlay, SpecialNotice, Unit, Validity, Version
from locates.law.workdays import DayTable, day_words


class LaidRule(Protocol):
    """What the trace reads of a rule laid on a calendar."""

    version: Version
    wait: WaitCount
    certain: DayTable
    special_days: dict[int, SpecialNotice]


def instant_words(at: datetime) -> str:
    """'Thu 26 Nov 2026, 7:00 AM EST', in the zone the instant carries."""
    return f"{day_words(at.toordinal())}, {_CLOCKS[at.hour * 60 + at.minute]} {at.tzname()}"


# The instant of Decision that a kind of step tells, the first step (the notice itself) aside.
_FIELD_OF = {
    "received": "deemed_at",
    "opens": "opens_at",
    "start_by": "start_by",
    "closes": "closes_at",
    "renew": "renew_by",
}
_CLOCKS = tuple(f"{m // 60 % 12 or 12}:{m % 60:02d} {'AM' if m < 720 else 'PM'}" for m in range(1440))


def steps(
    clock: LaidRule, notice: Moment, opening: Opening, made: Decision, overlays: Sequence[Overlay]
) -> tuple[Step, ...]:
    """The steps from the notice to the window."""
    found = [Step("received", f"Notice received {instant_words(made.received_at)}", None, made.received_at)]
    if made.deemed_at != made.received_at:
        found.append(Step("received", f"Taken as received {instant_words(made.deemed_at)}", None, made.deemed_at))
    if (notice.day - 1) % 7 in clock.special_days:
        found.append(
            Step("special", f"The law names the start for a notice on this day: {day_words(opening.last_day)}")
        )
    else:
        found += _counted_days(clock, notice.day, opening)
    opens = Step("opens", f"Digging may begin {instant_words(made.opens_at)}", None, made.opens_at)
    found += [Step("overlay", f"{o.name}: {o.requirement or 'longer wait'}") for o in overlays]
    found.append(opens)
    if made.start_by is not None:
        found.append(Step("start_by", f"Work must begin by {instant_words(made.start_by)}", None, made.start_by))
    found += _life(clock, notice, made)
    if made.renew_by is not None:
        found.append(Step("renew", f"Renew by {instant_words(made.renew_by)}", None, made.renew_by))
    return tuple(found)


_FIELDS = {kind: Decision._fields.index(name) for kind, name in _FIELD_OF.items()}
_RECEIVED = Decision._fields.index("received_at")


def frame_of(made: Decision, moving: Sequence[int]) -> Frame:
    """What the trace of a notice shares with those of every other notice in its stretch of the day;
    `moving` are the fields of Decision that follow the notice."""
    found = []
    for place, step in enumerate(made.steps):
        field = _FIELDS.get(step.kind) if place else _RECEIVED
        if step.at is not None and field in (_RECEIVED, *moving):
            found.append((place, field, step.words.removesuffix(instant_words(step.at))))
    return Frame(made.steps, tuple(found))


def steps_in(frame: Frame, made: Decision) -> tuple[Step, ...]:
    """The steps of another notice in the same stretch."""
    found, values = list(frame.steps), cast("tuple[datetime, ...]", made)
    for place, field, words in frame.moving:
        at = values[field]
        found[place] = Step(found[place].kind, words + instant_words(at), None, at)
    return tuple(found)


def _counted_days(clock: LaidRule, notice_day: int, opening: Opening) -> list[Step]:
    table, found, counted = clock.wait.days, [], 0
    if notice_day < opening.first_day:
        found.append(_day_of_notice(notice_day))
    seconds, done_s = clock.wait.seconds, 0
    by_opening_s = table.counted_s(opening.epoch_s) if seconds else 0
    for day in range(min(notice_day + 1, opening.first_day), opening.last_day + 1):
        if not table.counts(day):
            found.append(_skipped(day, table.why_skipped(day)))
        elif day >= opening.first_day and seconds:
            # What is left of the wait when the day ends gives what the day has added to it.
            before_s, done_s = done_s, seconds - max(0, by_opening_s - table.counted_s_by(day + 1))
            found.append(_counted_share(day, done_s - before_s, done_s, seconds))
        elif day >= opening.first_day:
            counted += 1
            found.append(_counted(day, counted))
    return found


@lru_cache(maxsize=65_536)
def _counted_share(day: int, share_s: int, done_s: int, of_s: int) -> Step:
    words = f"{day_words(day)} counted: {_hours(share_s)}, {_hours(done_s)} of {_hours(of_s)}"
    return Step("counted", words, _date(day))


def _hours(seconds: int) -> str:
    minutes = seconds // 60
    return f"{minutes // 60} h {minutes % 60} min" if minutes % 60 else f"{minutes // 60} h"


@lru_cache(maxsize=65_536)
def _day_of_notice(day: int) -> Step:
    return Step("skipped", f"{day_words(day)} not counted: the day of notice", _date(day))


@lru_cache(maxsize=65_536)
def _counted(day: int, number: int) -> Step:
    return Step("counted", f"{day_words(day)} counted: day {number}", _date(day))


@lru_cache(maxsize=65_536)
def _skipped(day: int, reason: str) -> Step:
    return Step("skipped", f"{day_words(day)} skipped: {reason}", _date(day))


def _life(clock: LaidRule, notice: Moment, made: Decision) -> list[Step]:
    rule = clock.version.validity
    if made.closes_at is None:
        return [Step("life", "No fixed expiry once work has begun; keep the marks and keep working")]
    found = [Step("life", life_words(rule))]
    if rule.span is not None and rule.span.unit is Unit.WORKING_DAYS:
        table = clock.certain
        between = table.holidays_between(notice.day, made.closes_at.toordinal())
        found += [_skipped(d, table.holidays[d]) for d in between]
    found.append(Step("closes", f"The ticket is good until {instant_words(made.closes_at)}", None, made.closes_at))
    return found


@lru_cache(maxsize=1024)
def _span_words(amount: int, unit: Unit) -> str:
    name = str(unit).replace("_", " ")
    return f"{amount} {name if amount != 1 else name.rstrip('s')}"


_ANCHORS = {
    "notice": "the notice",
    "opens": "the first lawful instant",
    "stated_start": "the stated start",
    "response_due": "the day answers are due",
}


def life_words(rule: Validity) -> str:
    """'Life: 15 working days from the notice'."""
    if rule.span is None:
        return "No fixed life once work has begun"
    return f"Life: {_span_words(rule.span.amount, rule.span.unit)} from {_ANCHORS[rule.anchor]}"


@lru_cache(maxsize=65_536)
def _date(day: int) -> date:
    return date.fromordinal(day)
