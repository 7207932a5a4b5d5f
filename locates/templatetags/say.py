"""How pages say instants, days and lengths: the site's zone with its abbreviation, feet and inches."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from django import template

from locates import cautions
from locates.cautions import Caution
from locates.law.workdays import day_words
from locates.lengths import feet_and_inches

register = template.Library()


@register.filter
def when(at: datetime | None, zone: str) -> str:
    """'Thu 17 Sep 2026, 7:00 AM EDT' in the site's zone; empty for None."""
    if at is None:
        return ""
    local = at.astimezone(ZoneInfo(zone))
    clock = f"{local.hour % 12 or 12}:{local.minute:02d} {'AM' if local.hour < 12 else 'PM'}"
    return f"{day_words(local.toordinal())}, {clock} {local.tzname()}"


@register.filter
def feet(length_m: float | None) -> str:
    """'3 ft 6 in' for a length in metres; empty for None."""
    return "" if length_m is None else feet_and_inches(length_m)


# The states of verdict whose texture bears another name; the rest are called alike.
_TEXTURES = {"clear": "open", "expired": "closed", "": "unknown"}


@register.filter
def texture(state: str) -> str:
    """The class of `.state` and `.verdict` that draws a state of verdict."""
    return _TEXTURES.get(str(state), str(state))


@register.simple_tag
def every_page_cautions() -> tuple[Caution, ...]:
    """The cautions at the foot of every page."""
    return cautions.EVERY_PAGE
