"""Days and spans as a person reads them. Pure."""

from __future__ import annotations

from datetime import date, datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

from tickets.verdict.words import instant_words

# Not strftime's %a and %b: those follow the locale of the process.
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@lru_cache(maxsize=64)
def zone_of(name: str) -> ZoneInfo:
    """The zone of an IANA name."""
    return ZoneInfo(name)


def day_words(day: date) -> str:
    """'Thu 17 Sep 2026'."""
    return f"{_WEEKDAYS[day.weekday()]} {day.day} {_MONTHS[day.month - 1]} {day.year}"


def span_words(start: datetime, end: datetime, time_zone: str) -> str:
    """'Thu 17 Sep, 7:00 AM to 11:00 AM EDT' on the site's clock; a second day or a second abbreviation is
    named when there is one."""
    first, last = instant_words(start, time_zone), instant_words(end, time_zone)
    first_day, first_clock = first.split(", ")
    last_day, last_clock = last.split(", ")
    if first_day != last_day:
        return f"{first} to {last}"
    if first_clock.rsplit(" ", 1)[1] == last_clock.rsplit(" ", 1)[1]:
        first = first.rsplit(" ", 1)[0]
    return f"{first} to {last_clock}"
