"""Named holidays: the shared table, and the dates on which a list of them falls in a year.

Names and rules live in data/holidays.toml. Easter Sunday comes from dateutil.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from pathlib import Path

from dateutil.easter import easter

from locates.law.reader import RuleFileError, Table
from locates.law.rule import HolidayList

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

# 5 U.S.C. 6103(a); the observed day by 6103(b) and Executive Order 11582.
FEDERAL = (
    "new_years_day",
    "martin_luther_king_day",
    "washingtons_birthday",
    "memorial_day",
    "juneteenth",
    "independence_day",
    "labor_day",
    "columbus_day",
    "veterans_day",
    "thanksgiving_day",
    "christmas_day",
)


@dataclass(frozen=True, slots=True)
class NamedHoliday:
    title: str
    month: int | None
    day: int | None
    weekday: int | None
    nth: int | None
    after_first: int | None
    easter: int | None
    offset: int
    every: int
    phase: int
    since: int

    def on(self, year: int) -> date | None:
        """The holiday's own date in that year, or None when it is not kept that year."""
        if year < self.since or year % self.every != self.phase:
            return None
        return self._dated(year) + timedelta(days=self.offset)

    def _dated(self, year: int) -> date:
        if self.easter is not None:
            sunday: date = easter(year)
            return sunday + timedelta(days=self.easter)
        assert self.month is not None
        if self.weekday is None:
            assert self.day is not None
            return date(year, self.month, self.day)
        if self.after_first is not None:
            first = _nth_weekday(year, self.month, self.after_first, 1)
            return first + timedelta(days=(self.weekday - first.weekday()) % 7 or 7)
        assert self.nth is not None
        return _nth_weekday(year, self.month, self.weekday, self.nth)


@dataclass(frozen=True, slots=True)
class Observance:
    title: str
    shifts: Mapping[int, int]

    def of(self, day: date) -> date:
        """The day on which a holiday that falls on `day` is observed."""
        return day + timedelta(days=self.shifts.get(day.weekday(), 0))


@dataclass(frozen=True, slots=True)
class HolidayTable:
    holidays: Mapping[str, NamedHoliday]
    observances: Mapping[str, Observance]


@cache
def holiday_table() -> HolidayTable:
    """The shared table, read once. Raises RuleFileError."""
    return load_table(Path(__file__).parent / "data" / "holidays.toml")


def load_table(path: Path) -> HolidayTable:
    top = Table(path.name, "", tomllib.loads(path.read_text("utf-8")))
    named, manners = top.needed("holiday"), top.needed("observed")
    top.done()
    return HolidayTable(
        {key: _holiday(named.needed(key)) for key in named.names()},
        {key: _observance(manners.needed(key)) for key in manners.names()},
    )


def _holiday(t: Table) -> NamedHoliday:
    def weekday(key: str) -> int | None:
        name = t.word(key, WEEKDAYS, None)
        return None if name is None else WEEKDAYS.index(name)

    made = NamedHoliday(
        title=t.text("title"),
        month=t.whole("month", default=None),
        day=t.whole("day", default=None),
        weekday=weekday("weekday"),
        nth=t.whole("nth", least=-1, default=None),
        after_first=weekday("after_first"),
        easter=t.whole("easter", least=-60, default=None),
        offset=t.whole("offset", least=-7, default=0),
        every=t.whole("every", default=1),
        phase=t.whole("phase", least=0, default=0),
        since=t.whole("since", default=1),
    )
    t.done()
    dated = made.month is not None and (made.day is not None or made.weekday is not None)
    if made.easter is None and not dated:
        raise RuleFileError(t.file, t.path, "names no date", "give month and day, month and weekday, or easter")
    return made


def _observance(t: Table) -> Observance:
    title = t.text("title")
    shifts = {i: t.whole(name, least=-7, default=0) for i, name in enumerate(WEEKDAYS)}
    t.done()
    return Observance(title, {i: by for i, by in shifts.items() if by})


def dates_between(
    first_year: int, last_year: int, names: Iterable[str], observed: str, observed_for: Mapping[str, str]
) -> dict[date, str]:
    """Observed dates of the named holidays from `first_year` to `last_year`, with the words a trace shows.

    Looks a year to each side, since New Year's Day on a Saturday may be observed in December.
    """
    table, found = holiday_table(), dict[date, str]()
    for name in names:
        holiday, manner = table.holidays[name], table.observances[observed_for.get(name, observed)]
        for year in range(first_year - 1, last_year + 2):
            own = holiday.on(year)
            if own is None:
                continue
            seen = manner.of(own)
            if first_year <= seen.year <= last_year:
                found.setdefault(seen, holiday.title if seen == own else f"{holiday.title} (observed)")
    return found


def federal_dates(first_year: int, last_year: int | None = None) -> dict[date, str]:
    """Legal public holidays of 5 U.S.C. 6103 as observed, in a year or from one year to another."""
    return dates_between(first_year, last_year or first_year, FEDERAL, "nearest", {})


def excluded_dates(
    listed: HolidayList, first_year: int, last_year: int | None = None
) -> tuple[dict[date, str], dict[date, str]]:
    """(days a wait skips, days a validity surely may skip) under a jurisdiction's list.

    With a list not known from a text (`complete` False) a wait skips a day that stands on either the
    federal list or the state's, and a validity skips only a day that stands on both: the later start and
    the earlier expiry.
    """
    until = last_year or first_year
    own = dates_between(first_year, until, listed.days, listed.observed, listed.observed_for)
    if listed.complete:
        return own, own
    federal = federal_dates(first_year, until)
    return {**federal, **own}, {d: words for d, words in own.items() if d in federal}


def _nth_weekday(year: int, month: int, weekday: int, nth: int) -> date:
    if nth > 0:
        first = date(year, month, 1)
        return first + timedelta(days=(weekday - first.weekday()) % 7 + 7 * (nth - 1))
    following = date(year + month // 12, month % 12 + 1, 1)
    last = following - timedelta(days=1)
    return last - timedelta(days=(last.weekday() - weekday) % 7)
