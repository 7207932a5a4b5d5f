"""Instants and lists in words. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@lru_cache(maxsize=4096)
def instant_words(at: datetime, time_zone: str) -> str:
    """'Thu 17 Sep, 7:00 AM EDT' on the site's clock, whatever the machine's language."""
    local = at.astimezone(ZoneInfo(time_zone))
    half = "AM" if local.hour < 12 else "PM"
    clock = f"{local.hour % 12 or 12}:{local.minute:02d} {half} {local.tzname()}"
    return f"{_DAYS[local.weekday()]} {local.day} {_MONTHS[local.month - 1]}, {clock}"


def feet_words(length_m: float) -> str:
    """'3 ft 6 in', rounded up to the whole inch (1 in = 0.0254 m exactly, 15 U.S.C. 205 and NIST SP 811)."""
    inches = -int(-round(length_m / 0.0254, 6) // 1)
    feet, rest = divmod(inches, 12)
    if not feet:
        return f"{rest} in"
    return f"{feet} ft {rest} in" if rest else f"{feet} ft"


def listed(names: Iterable[str]) -> str:
    """'A, B and C'."""
    words = list(names)
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""
