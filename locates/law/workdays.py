"""Which local days count: weekends, legal holidays, observed shifts; and where each local day lies in time.

Tables are laid once per (holiday list, zone) over `FIRST_YEAR` to `LAST_YEAR`, so that a count is a look-up
and not a walk. Days are proleptic ordinals (`date.toordinal`), instants are whole seconds since the epoch.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from datetime import date, datetime, time
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from locates.errors import FirstspadeError
from locates.law.days import WEEKDAYS, excluded_dates
from locates.law.rule import HolidayList

FIRST_YEAR, LAST_YEAR = 2009, 2050
FIRST_DAY = date(FIRST_YEAR, 1, 1).toordinal()
LAST_DAY = date(LAST_YEAR, 12, 31).toordinal()
DAY_S = 86_400
HOLIDAY = "holiday"


class OutOfRange(FirstspadeError):
    code = "date_out_of_range"


class UnknownZone(FirstspadeError):
    code = "unknown_time_zone"


class ZoneDays:
    """Local midnights of one time zone, and clock times on local days as instants."""

    def __init__(self, name: str) -> None:
        try:
            self.tz = ZoneInfo(name)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            raise UnknownZone(
                f"'{name}' is not a time zone; use an IANA name such as America/New_York.",
                fields={"time_zone": "not known"},
            ) from None
        self.name = name
        self.midnights = [
            int(datetime.combine(date.fromordinal(d), time(), self.tz).timestamp())
            for d in range(FIRST_DAY, LAST_DAY + 2)
        ]

    def midnight(self, day: int) -> int:
        return self.midnights[day - FIRST_DAY]

    def at(self, day: int, clock_s: int, *, later: bool) -> int:
        """Instant of a clock time on a local day. On a day of a clock change a time that comes twice, or
        never, is read as its later instant for an opening and as its earlier one for an expiry."""
        start = self.midnights[day - FIRST_DAY]
        if self.midnights[day - FIRST_DAY + 1] - start == DAY_S:
            return start + clock_s
        local = datetime.combine(date.fromordinal(day), clock_time(clock_s))
        readings = [int(local.replace(tzinfo=self.tz, fold=f).timestamp()) for f in (0, 1)]
        return max(readings) if later else min(readings)

    def local(self, instant: datetime) -> tuple[int, int]:
        """(local day, clock seconds) of an aware instant. Raises OutOfRange."""
        here = instant if instant.tzinfo is self.tz else instant.astimezone(self.tz)
        day = here.toordinal()
        if not FIRST_DAY + 400 <= day <= LAST_DAY - 800:
            raise OutOfRange(
                f"{here.date().isoformat()} lies outside the years {FIRST_YEAR + 2} to {LAST_YEAR - 3}; "
                "check the year.",
                fields={"received_at": "year out of range"},
            )
        return day, here.hour * 3600 + here.minute * 60 + here.second

    def day_at(self, epoch_s: int) -> int:
        """The local day of an instant."""
        return FIRST_DAY + bisect_right(self.midnights, epoch_s) - 1

    def instant(self, epoch_s: int) -> datetime:
        return datetime.fromtimestamp(epoch_s, self.tz)


class DayTable:
    """Days that count under one set of skipped days, in one zone."""

    def __init__(self, zone: ZoneDays, skips: frozenset[str], holidays: Mapping[int, str]) -> None:
        self.zone = zone
        self.holidays = holidays if HOLIDAY in skips else {}
        weekend = {WEEKDAYS.index(name) for name in skips if name != HOLIDAY}
        self._holiday_days = sorted(self.holidays)
        self.counted = bytearray(LAST_DAY - FIRST_DAY + 1)
        self.days: list[int] = []  # the counted days in order
        self.before: list[int] = []  # counted days before each day
        self.seconds_before: list[int] = []  # counted seconds before each day's midnight
        total = 0
        for i, day in enumerate(range(FIRST_DAY, LAST_DAY + 1)):
            self.before.append(len(self.days))
            self.seconds_before.append(total)
            if (day - 1) % 7 not in weekend and day not in self.holidays:
                self.counted[i] = 1
                self.days.append(day)
                total += zone.midnights[i + 1] - zone.midnights[i]

    def counts(self, day: int) -> bool:
        return bool(self.counted[day - FIRST_DAY])

    def nth_after(self, day: int, n: int) -> int:
        """The n-th counted day strictly after `day` (n >= 1)."""
        i = day - FIRST_DAY
        return self.days[self.before[i] + self.counted[i] + n - 1]

    def nth_from(self, day: int, n: int) -> int:
        """The n-th counted day, `day` itself being the first when it counts (n >= 1)."""
        return self.days[self.before[day - FIRST_DAY] + n - 1]

    def nth_before(self, day: int, n: int) -> int:
        """The n-th counted day strictly before `day`, going back (n >= 1)."""
        return self.days[self.before[day - FIRST_DAY] - n]

    def run(self, start_s: int, seconds: int) -> int:
        """The instant at which `seconds` of counted time have run since `start_s`.

        Whole local days that do not count are passed over; a counted day that a clock change makes 23 or
        25 hours long gives the hours that really pass on it, none lost and none invented.
        """
        target = self.counted_s(start_s) + seconds
        before = self.seconds_before
        i = bisect_left(before, target) - 1
        return self.zone.midnights[i] + target - before[i]

    def run_back(self, end_s: int, seconds: int) -> int:
        """The latest start from which `seconds` of counted time have run by `end_s`."""
        target = self.counted_s(end_s) - seconds
        i = bisect_right(self.seconds_before, target) - 1
        return self.zone.midnights[i] + target - self.seconds_before[i]

    def counted_s_by(self, day: int) -> int:
        """Counted seconds from the first day of the tables to a day's midnight."""
        return self.seconds_before[day - FIRST_DAY]

    def counted_s(self, epoch_s: int) -> int:
        """Counted seconds from the first day of the tables to an instant."""
        i = bisect_right(self.zone.midnights, epoch_s) - 1
        inside = epoch_s - self.zone.midnights[i] if self.counted[i] else 0
        return self.seconds_before[i] + inside

    def holidays_between(self, after: int, until: int) -> list[int]:
        """Holidays later than `after`, up to and with `until`."""
        days = self._holiday_days
        return days[bisect_right(days, after) : bisect_right(days, until)]

    def why_skipped(self, day: int) -> str:
        """Why a day does not count: the holiday's name, or the weekday's."""
        named = self.holidays.get(day)
        return named if named is not None else WEEKDAYS[(day - 1) % 7].capitalize()


class SiteDays:
    """The calendars of one holiday list in one zone: what a wait skips, what a validity may skip."""

    def __init__(self, listed: HolidayList, zone: ZoneDays) -> None:
        self.zone = zone
        waits, certain = excluded_dates(listed, FIRST_YEAR, LAST_YEAR)
        self._holidays = {
            True: {day.toordinal(): words for day, words in waits.items()},
            False: {day.toordinal(): words for day, words in certain.items()},
        }
        self._tables: dict[tuple[frozenset[str], bool], DayTable] = {}

    def for_wait(self, skips: frozenset[str]) -> DayTable:
        """Days counted by a wait: everything that may be a holiday is skipped."""
        return self._table(skips, True)

    def for_validity(self, skips: frozenset[str]) -> DayTable:
        """Days counted by a validity: only what surely is a holiday is skipped."""
        return self._table(skips, False)

    def _table(self, skips: frozenset[str], wait: bool) -> DayTable:
        key = (skips, wait)
        if key not in self._tables:
            same = self._holidays[True] == self._holidays[False]
            twin = self._tables.get((skips, not wait)) if same else None
            self._tables[key] = twin or DayTable(self.zone, skips, self._holidays[wait])
        return self._tables[key]


@lru_cache(maxsize=64)
def zone_days(name: str) -> ZoneDays:
    """The zone's local days, laid once. Raises UnknownZone."""
    return ZoneDays(name)


def clock_s(clock: time | None, default: int = 0) -> int:
    """Seconds after midnight of a clock time."""
    return default if clock is None else clock.hour * 3600 + clock.minute * 60 + clock.second


def clock_time(seconds: int) -> time:
    return time(seconds // 3600, seconds % 3600 // 60, seconds % 60)


@lru_cache(maxsize=65_536)
def day_words(day: int) -> str:
    """'Thu 26 Nov 2026', in English whatever the machine's locale."""
    d = date.fromordinal(day)
    return f"{_DAYS[d.weekday()]} {d.day} {_MONTHS[d.month - 1]} {d.year}"


_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
