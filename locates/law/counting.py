"""The only date arithmetic of the law: counting a wait out, a life down, a lead back.

Two families of waits. *Full days*: the notice is received on a day, whole counted days follow, the opening
lies at a clock time on or after the last. *Hours* (and working days that run from the notice instant, each
then being 24 counted hours): real elapsed time over the days that count. Every function works on local
day ordinals and whole seconds since the epoch.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

from locates.law.rule import Begins, Closes, Ends, Receipt, Span, Unit, Validity, Wait
from locates.law.workdays import DAY_S, DayTable, SiteDays, ZoneDays, clock_s


class Moment(NamedTuple):
    """An instant and where it lies locally."""

    epoch_s: int
    day: int
    clock_s: int


class Opening(NamedTuple):
    """The first lawful instant and the local days counted to reach it (for hours: the days touched)."""

    epoch_s: int
    first_day: int
    last_day: int


@dataclass(frozen=True, slots=True)
class ReceiptCount:
    """When a notice is taken as received."""

    receipt: Receipt | None
    days: DayTable

    def deemed(self, notice: Moment) -> Moment:
        rule = self.receipt
        if rule is None:
            return notice
        if not self.days.counts(notice.day):
            return notice if rule.non_working_day == "as_received" else self._next_day(notice, rule)
        if rule.closes is not None and notice.clock_s > clock_s(rule.closes):
            return self._next_day(notice, rule)
        # A notice in the small hours must not be received before one of the evening before.
        opens = rule.opens or rule.next_day_time
        if opens is not None and notice.clock_s < clock_s(opens):
            return self._moment(notice.day, clock_s(opens))
        return notice

    def _next_day(self, notice: Moment, rule: Receipt) -> Moment:
        return self._moment(self.days.nth_after(notice.day, 1), clock_s(rule.next_day_time))

    def _moment(self, day: int, clock: int) -> Moment:
        return Moment(self.days.zone.at(day, clock, later=True), day, clock)


class WaitCount:
    """A wait laid on a calendar: notice as received -> opening."""

    __slots__ = (
        "_amount", "_begins", "_begins_s", "_by_day", "_by_s", "_ends", "_ends_s",
        "by_day", "days", "opens_at_one_clock", "seconds", "wait",
    )  # fmt: skip

    def __init__(self, wait: Wait, site: SiteDays) -> None:
        self.wait, self.days = wait, site.for_wait(wait.skips)
        self._amount, self._begins, self._ends = wait.amount, wait.begins, wait.ends
        self._begins_s, self._ends_s = clock_s(wait.begins_time), clock_s(wait.ends_time)
        self._by_s = None if wait.counts_notice_day_if_by is None else clock_s(wait.counts_notice_day_if_by)
        hours = wait.ends is Ends.SAME_CLOCK
        per = 3600 if wait.unit is Unit.HOURS else DAY_S
        self.seconds = wait.amount * per if hours else 0
        self.by_day = not hours or wait.begins is not Begins.NOTICE_INSTANT
        self._by_day: dict[int, Opening] = {}
        # Whole days over a skipped Sunday, on which the clocks change: every opening has the same clock time.
        self.opens_at_one_clock = self.by_day and self.seconds % DAY_S == 0 and "sunday" in wait.skips

    def opening(self, notice: Moment) -> Opening:
        """The opening for a notice as received. Where it depends on the day alone it is kept: at most one
        entry a day of the tables, so a long batch stays in constant memory."""
        if not self.by_day:
            return self._from_instant(notice)
        key, counts = notice.day, False
        if self._by_s is not None and notice.clock_s <= self._by_s and self.days.counts(notice.day):
            key, counts = -notice.day, True
        kept = self._by_day.get(key)
        if kept is None:
            kept = self._by_day[key] = self._from_day(notice.day, counts)
        return kept

    def _from_instant(self, notice: Moment) -> Opening:
        opens = self.days.run(notice.epoch_s, self.seconds)
        return Opening(opens, notice.day, self.days.zone.day_at(opens - 1))

    def _from_day(self, day: int, day_counts: bool) -> Opening:
        return self._hours_from(day, day_counts) if self.seconds else self._full_days(day, day_counts)

    def _hours_from(self, day: int, day_counts: bool) -> Opening:
        days = self.days
        first = day + 1 if self._begins is Begins.NEXT_DAY else days.nth_after(day, 1)
        if day_counts:
            first = day
        opens = days.run(days.zone.at(first, self._begins_s, later=True), self.seconds)
        return Opening(opens, first, days.zone.day_at(opens - 1))

    def _full_days(self, day: int, day_counts: bool) -> Opening:
        days = self.days
        if self._begins is Begins.NOTICE_INSTANT or day_counts:
            first, last = days.nth_from(day, 1), days.nth_from(day, self._amount)
        else:
            first, last = days.nth_after(day, 1), days.nth_after(day, self._amount)
        if self._ends is Ends.LAST_DAY:
            opens_day = last
        elif self._ends is Ends.DAY_AFTER:
            opens_day = last + 1
        else:
            opens_day = days.nth_after(last, 1)
        return Opening(days.zone.at(opens_day, self._ends_s, later=True), first, last)


class LifeCount:
    """A life, or a start-by limit, laid on a calendar: anchor -> last instant. None: the rule fixes none.

    Working days are counted over what surely is a holiday, so that a doubt shortens the life.
    """

    __slots__ = (
        "_amount",
        "_at_anchor_clock",
        "_back",
        "_clock_s",
        "_count",
        "_days",
        "_end_of_day",
        "_zone",
        "anchor",
    )

    def __init__(self, rule: Validity, site: SiteDays, skips: frozenset[str]) -> None:
        span, days = rule.span, site.for_validity(skips)
        self.anchor, self._days, self._zone = rule.anchor, days, site.zone
        self._amount = 0 if span is None else span.amount * (3600 if span.unit is Unit.HOURS else 1)
        self._back = 1 if rule.anchor_day_counts else 0
        # None: hours; the plain sum: calendar days; a look-up: working days.
        self._count: Callable[[int, int], int] | None = None
        if span is not None and span.unit is Unit.CALENDAR_DAYS:
            self._count = self._calendar
        elif span is not None and span.unit is Unit.WORKING_DAYS:
            self._count = days.nth_from if rule.anchor_day_counts else days.nth_after
        self._end_of_day = rule.closes is Closes.END_OF_DAY
        self._at_anchor_clock = rule.closes is Closes.SAME_CLOCK
        self._clock_s = clock_s(rule.ends_time)

    def end(self, anchor: Moment) -> Moment | None:
        if not self._amount:
            return None
        zone = self._zone
        if self._count is None:
            return moment_of(zone, self._days.run(anchor.epoch_s, self._amount))
        last = self._count(anchor.day, self._amount)
        if self._end_of_day:
            return Moment(zone.midnight(last + 1) - 1, last, DAY_S - 1)
        clock = anchor.clock_s if self._at_anchor_clock else self._clock_s
        return Moment(zone.at(last, clock, later=False), last, clock)

    def _calendar(self, day: int, amount: int) -> int:
        return day + amount - self._back


class LeadCount:
    """A span laid back from an expiry, or forward from a notice."""

    __slots__ = ("_amount", "_calendar", "_hours", "_table", "_zone")

    def __init__(self, span: Span, table: DayTable) -> None:
        self._amount, self._table, self._zone = span.amount, table, table.zone
        self._hours, self._calendar = span.unit is Unit.HOURS, span.unit is Unit.CALENDAR_DAYS

    def last_before(self, close: Moment, *, notice_day_counts: bool) -> int:
        """Last instant that lies at least the span before an expiry. Unless the day of notice counts, so
        many counted days lie wholly between it and the day of expiry."""
        if self._hours:
            return self._table.run_back(close.epoch_s, self._amount * 3600)
        back = self._amount if notice_day_counts else self._amount + 1
        day = close.day - back if self._calendar else self._table.nth_before(close.day, back)
        return self._zone.midnight(day + 1) - 1

    def first_within(self, close: Moment) -> int:
        """First instant that lies at most the span before an expiry."""
        if self._hours:
            return self._table.run_back(close.epoch_s, self._amount * 3600)
        if self._calendar:
            return self._zone.at(close.day - self._amount, close.clock_s, later=True)
        return self._zone.at(self._table.nth_before(close.day, self._amount), 0, later=True)

    def last_within(self, notice: Moment) -> int:
        """Last instant within the span after a notice, the day of notice not counted; days to their end."""
        if self._hours:
            return self._table.run(notice.epoch_s, self._amount * 3600)
        day = notice.day + self._amount if self._calendar else self._table.nth_after(notice.day, self._amount)
        return self._zone.midnight(day + 1) - 1


def moment_of(zone: ZoneDays, epoch_s: int) -> Moment:
    day = zone.day_at(epoch_s)
    offset = epoch_s - zone.midnight(day)
    if zone.midnight(day + 1) - zone.midnight(day) != DAY_S:
        here = zone.instant(epoch_s)
        offset = here.hour * 3600 + here.minute * 60 + here.second
    return Moment(epoch_s, day, offset)
