"""When a notice opens: as received, by the wait that the law counts or by the start that it names."""

from __future__ import annotations

from locates.law.counting import Moment, Opening, ReceiptCount, WaitCount
from locates.law.days import WEEKDAYS
from locates.law.rule import Version
from locates.law.workdays import DAY_S, DayTable, SiteDays, clock_s


class Openings:
    """Receipt, wait and specially named starts of one version, laid on a calendar."""

    def __init__(self, version: Version, site: SiteDays, working: DayTable) -> None:
        self.version, self.working, self.zone = version, working, site.zone
        self.wait = WaitCount(version.wait, site)
        self.special_days = {WEEKDAYS.index(s.on): s for s in version.special_notices}
        # Every notice of a day opens at one clock time, so that a limit moves only where that hour is passed.
        self.at_one_clock = self.wait.opens_at_one_clock and not version.special_notices
        self.opens_s = clock_s(version.wait.begins_time if self.wait.seconds else version.wait.ends_time)
        self._receipt = ReceiptCount(version.receipt, working)

    def deemed(self, notice: Moment) -> Moment:
        """When the notice is taken as received."""
        return notice if self.version.receipt is None else self._receipt.deemed(notice)

    def opening(self, notice: Moment, deemed: Moment) -> Opening:
        special = self.special_days.get((notice.day - 1) % 7) if self.special_days else None
        if special is None:
            return self.wait.opening(deemed)
        target = WEEKDAYS.index(special.opens_on)
        opens_day = notice.day + ((target - (notice.day - 1)) % 7 or 7)
        if special.one_day_later_if_holiday is not None:
            holiday = notice.day + ((WEEKDAYS.index(special.one_day_later_if_holiday) - (notice.day - 1)) % 7 or 7)
            if holiday in self.working.holidays:
                opens_day += 1
        if not self.working.counts(opens_day):
            opens_day = self.working.nth_after(opens_day, 1)
        return Opening(self.zone.at(opens_day, clock_s(special.opens_time), later=True), notice.day + 1, opens_day)

    def opens_by(self, notice: Moment, limit_s: int, extra: tuple[WaitCount, ...]) -> bool:
        """Whether a notice opens no later than an instant, also under a company's longer waits."""
        deemed = self.deemed(notice)
        own = self.opening(notice, deemed).epoch_s <= limit_s
        return own and all(wait.opening(deemed).epoch_s <= limit_s for wait in extra)

    def lines(self) -> set[int]:
        """Clock times at which the law may begin to treat a notice of the same day in another way."""
        rule, wait = self.version.receipt, self.version.wait
        until = [wait.counts_notice_day_if_by] + ([rule.closes] if rule else [])
        since = [wait.begins_time, wait.ends_time] + ([rule.opens, rule.next_day_time] if rule else [])
        return {clock_s(c) for c in since if c is not None} | {clock_s(c) + 1 for c in until if c is not None}

    def clocks_of_last_notice(self) -> tuple[int, ...]:
        """Clock times, latest first, at which a notice may still count as given that day."""
        rule = self.version.receipt
        clocks = {DAY_S - 1}
        if rule is not None and rule.closes is not None:
            clocks.add(clock_s(rule.closes))
        if self.version.wait.counts_notice_day_if_by is not None:
            clocks.add(clock_s(self.version.wait.counts_notice_day_if_by))
        return tuple(sorted(clocks, reverse=True))
