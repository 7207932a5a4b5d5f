"""Days and instants as a person reads them. Pure."""

from __future__ import annotations

from datetime import date, datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

# Not strftime's %a and %b: those follow the locale of the process.
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@lru_cache(maxsize=64)
def zone_of(name: str) -> ZoneInfo:
    """The zone of an IANA name."""
    return ZoneInfo(name)


def day_words(day: date) -> str:
    """'Thu 17 Sep 2026'."""
    return f"{_short(day)} {day.year}"


def clock_words(at: datetime, zone: ZoneInfo) -> str:
    """'7:00 AM EDT', in the zone."""
    local = at.astimezone(zone)
    return f"{local.hour % 12 or 12}:{local:%M} {'AM' if local.hour < 12 else 'PM'} {local.tzname()}"


def instant_words(at: datetime, zone: ZoneInfo) -> str:
    """'Thu 17 Sep, 7:00 AM EDT', in the zone."""
    local = at.astimezone(zone)
    return f"{_short(local)}, {clock_words(at, zone)}"


def span_words(start: datetime, end: datetime, zone: ZoneInfo) -> str:
    """'Thu 17 Sep, 7:00 AM to 11:00 AM EDT'; the second day is named when it is another."""
    first, last = start.astimezone(zone), end.astimezone(zone)
    if first.date() != last.date():
        return f"{instant_words(start, zone)} to {instant_words(end, zone)}"
    opening = instant_words(start, zone)
    if first.tzname() == last.tzname():
        opening = opening.rsplit(" ", 1)[0]
    return f"{opening} to {clock_words(end, zone)}"


def _short(day: date) -> str:
    return f"{_WEEKDAYS[day.weekday()]} {day.day} {_MONTHS[day.month - 1]}"
