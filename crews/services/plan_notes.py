"""What a dispatcher should see first of a proposal: driving times that are estimates, crews sent out on a holiday."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from crews.models import PlanStop, StopKind
from crews.services.plan_travel import FELL_BACK
from crews.words import day_words, zone_of
from locates.errors import FirstspadeError
from locates.law.window import clock_for

SATURDAY = 5
ON_A_HOLIDAY = "Crews go out on a holiday: "


def is_notice(note: str) -> bool:
    """Whether the note stands above the proposal, not below it."""
    return note.startswith((FELL_BACK, ON_A_HOLIDAY))


def holiday_notice(stops: Iterable[PlanStop], now: datetime) -> list[str]:
    """One sentence when visits fall on weekdays that the law at their sites does not count; no crew's day off is
    known by that, so a person decides."""
    found: dict[date, str] = {}
    for stop in stops:
        if stop.stop != StopKind.VISIT or stop.job is None:
            continue
        site = stop.job.site
        on = stop.starts_at.astimezone(zone_of(site.time_zone)).date()
        if on.weekday() < SATURDAY and on not in found and (name := _holiday(site.state, site.time_zone, on, now)):
            found[on] = name
    if not found:
        return []
    days = ", ".join(f"{day_words(on)} ({name})" for on, name in sorted(found.items()))
    return [f"{ON_A_HOLIDAY}{days}. Give them the day off if they do not work then, and compute a new plan."]


def _holiday(state: str, time_zone: str, on: date, now: datetime) -> str:
    try:
        table = clock_for(state, now, time_zone).wait.days
    except FirstspadeError:
        return ""  # no law on file: nothing is known of its holidays
    return "" if table.counts(on.toordinal()) else str(table.why_skipped(on.toordinal()))
