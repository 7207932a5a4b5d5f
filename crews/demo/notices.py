"""When a demo notice must have been given so that its ticket stands as the scenario wants today. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from locates.errors import FirstspadeError
from locates.law.decision import Decision
from locates.law.window import window_for
from tickets.verdict.reading import CLOSING_LEAD

Standing = Literal["given", "open", "closing", "over"]
FURTHEST_DAYS = 120
JUST_NOW = timedelta(minutes=30)  # nothing in the scenario happened later than this before loading
STILL_WAITS = timedelta(hours=6)
DAY = timedelta(days=1)


class NoSuchNotice(FirstspadeError):
    code = "no_such_notice"


@dataclass(frozen=True, slots=True)
class Notice:
    """The chosen notice, its window, and the local day of loading at the site."""

    received_at: datetime
    window: Decision
    day_start: datetime


def day_start(loaded_at: datetime, time_zone: str) -> datetime:
    """First instant of the site's local day."""
    zone = ZoneInfo(time_zone)
    return datetime.combine(loaded_at.astimezone(zone).date(), time.min, zone)


def choose_notice(state: str, time_zone: str, stands: Standing, given: time, loaded_at: datetime) -> Notice:
    """The newest notice given at the local clock time `given` whose ticket stands so at `loaded_at`.

    Given in office hours where one is found, else at any day's `given`. Raises NoSuchNotice.
    """
    start = day_start(loaded_at, time_zone)
    for office_hours in (True, False):
        for back in range(FURTHEST_DAYS):
            received_at = datetime.combine((start - back * DAY).date(), given, ZoneInfo(time_zone))
            if received_at > loaded_at - JUST_NOW or (office_hours and received_at.weekday() > 4):
                continue
            window = window_for(state, received_at, time_zone, trace=False)
            as_received = window.deemed_at == received_at
            if (as_received or not office_hours) and _stands(window, stands, start, loaded_at):
                return Notice(received_at, window, start)
    raise NoSuchNotice(f"No notice in {state} stands {stands!r} at {loaded_at.isoformat()}.")


def _stands(window: Decision, stands: Standing, start: datetime, loaded_at: datetime) -> bool:
    end = start + DAY
    closing_from = _closing_from(window)
    if stands == "given":
        return window.opens_at > loaded_at + STILL_WAITS
    if stands == "over":
        return window.closes_at is not None and window.closes_at <= loaded_at - 12 * timedelta(hours=1)
    if window.opens_at > start or (window.closes_at is not None and window.closes_at < end):
        return False
    if stands == "open":
        return closing_from is None or closing_from > end + DAY
    return closing_from is not None and closing_from <= start


def _closing_from(window: Decision) -> datetime | None:
    """From when the verdict says that the window is closing."""
    ends = [at for at in (window.renew_by, window.closes_at) if at is not None]
    return min(ends) - CLOSING_LEAD if ends and window.closes_at is not None else None
