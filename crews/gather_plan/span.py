"""The days that a plan covers, and instants as the planner's seconds. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

STEP = timedelta(minutes=15)
SATURDAY = 5


@dataclass(frozen=True, slots=True)
class Span:
    """From `now` (the plan's own instant) to the end of local day `last`; seconds count from `zero`."""

    now: datetime
    first: date
    last: date

    @property
    def zero(self) -> datetime:
        return self.now.replace(minute=0, second=0, microsecond=0)

    @property
    def ends(self) -> datetime:
        """Late enough for every zone's end of the last day."""
        return self.zero + timedelta(days=(self.last - self.first).days + 2)

    def seconds(self, at: datetime) -> int:
        return round((at - self.zero).total_seconds())

    def instant(self, seconds: int) -> datetime:
        return self.zero + timedelta(seconds=seconds)

    def days(self) -> list[date]:
        return [self.first + timedelta(days=n) for n in range((self.last - self.first).days + 1)]


def span_of(now: datetime, today: date, working_days: int) -> Span:
    """Today and the days up to the last of `working_days` Mondays to Fridays, today counted when it is one."""
    last, left = today, working_days - (today.weekday() < SATURDAY)
    while left > 0:
        last += timedelta(days=1)
        left -= last.weekday() < SATURDAY
    return Span(now, today, last)


def next_step(at: datetime) -> datetime:
    """The next quarter of an hour, `at` itself when it is one."""
    floor = at.replace(minute=at.minute - at.minute % 15, second=0, microsecond=0)
    return floor if floor == at else floor + STEP
