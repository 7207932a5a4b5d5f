"""When to renew: the last notice that opens before a ticket ends, and the first that the law takes."""

from __future__ import annotations

from locates.law.counting import LeadCount, Moment, WaitCount, moment_of
from locates.law.opening import Openings
from locates.law.rule import Renewal, Unit
from locates.law.workdays import DayTable

_KEPT_CLOSES = 20_000  # bounds the memory of a long batch
_NOT_KEPT = -1
_LOOK_BACK_DAYS = 60  # no wait is longer; a renewal that would have to be asked earlier is reported as none


class Renewals:
    """The renewal of one version, laid on a calendar. `advance` is the law's maximum advance notice, which
    stands in where the law names no first instant to renew."""

    def __init__(
        self, rule: Renewal, openings: Openings, advance: LeadCount | None, working: DayTable, certain: DayTable
    ) -> None:
        self._openings, self._notice_day_counts = openings, rule.notice_day_counts
        self._earliest = advance if rule.earliest is None else LeadCount(rule.earliest, certain)
        self._lead = None if rule.latest is None else LeadCount(rule.latest, working)
        self._clocks = openings.clocks_of_last_notice()
        self._kept: dict[tuple[int, int], int | None] = {}
        wait = openings.version.wait
        self._days_back = -(-wait.amount // 24) if wait.unit is Unit.HOURS else wait.amount

    def span(
        self, close: Moment | None, opens_s: int, notice_s: int, extra: tuple[WaitCount, ...], warnings: list[str]
    ) -> tuple[int | None, int | None]:
        """First and last instant to renew a ticket that ends at `close`, so that work need not stop."""
        if close is None:
            return None, None
        latest = self._latest_notice(close, extra)
        if self._lead is not None:
            told = self._lead.last_before(close, notice_day_counts=self._notice_day_counts)
            latest = told if latest is None or told < latest else latest
        if latest is None or latest < notice_s:
            warnings.append("No renewal can be in force before this ticket ends: plan a new notice.")
            return None, None
        earliest = opens_s if self._earliest is None else self._earliest.first_within(close)
        if earliest < notice_s:
            earliest = notice_s
        return (earliest if earliest < latest else latest), latest

    def _latest_notice(self, close: Moment, extra: tuple[WaitCount, ...]) -> int | None:
        """The last instant at which a new notice would open no later than `close`."""
        if extra or not self._openings.wait.by_day:
            return self._find(close, extra)
        # Within a day the answer changes at most where the clock passes the hour of opening.
        openings, kept, clock = self._openings, self._kept, close.clock_s
        key = (close.day, clock >= openings.opens_s if openings.at_one_clock else clock)
        found = kept.get(key, _NOT_KEPT)
        if found is _NOT_KEPT:
            if len(kept) >= _KEPT_CLOSES:
                kept.clear()
            found = kept[key] = self._find(close, extra)
        return found

    def _find(self, close: Moment, extra: tuple[WaitCount, ...]) -> int | None:
        openings, day = self._openings, close.day
        wait, zone = openings.wait, openings.zone
        if not wait.by_day:
            limit_s = wait.days.run_back(close.epoch_s, wait.seconds)
            limit = moment_of(zone, limit_s)
            if openings.opens_by(limit, close.epoch_s, extra):
                return limit_s
            day = limit.day
        elif openings.version.wait.unit is not Unit.CALENDAR_DAYS:
            day = wait.days.nth_before(close.day + 1, self._days_back)
        for candidate_day in range(day, day - _LOOK_BACK_DAYS, -1):
            for clock in self._clocks:
                epoch = zone.at(candidate_day, clock, later=False)
                if openings.opens_by(Moment(epoch, candidate_day, clock), close.epoch_s, extra):
                    return epoch
        return None
