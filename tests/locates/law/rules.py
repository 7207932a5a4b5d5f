"""Hand-made rules for the clock's tests: a plain version, changed where a test needs it."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from locates.law.rule import (
    Answers,
    Begins,
    Ends,
    Ground,
    HolidayList,
    Receipt,
    Renewal,
    Span,
    Tier,
    Unit,
    Validity,
    Version,
    Wait,
    Zone,
)

GROUND = Ground(Tier.STATUTE, ())
EASTERN = ZoneInfo("America/New_York")
FEDERAL_LIST = HolidayList(GROUND, ("thanksgiving_day", "christmas_day", "new_years_day", "labor_day"), "nearest")


def wait(amount: int = 2, unit: Unit = Unit.WORKING_DAYS, **changes: Any) -> Wait:
    hours = unit is Unit.HOURS
    plain: dict[str, Any] = {
        "ground": GROUND,
        "amount": amount,
        "unit": unit,
        "begins": Begins.NOTICE_INSTANT if hours else Begins.NEXT_WORKING_DAY,
        "ends": Ends.SAME_CLOCK if hours else Ends.DAY_AFTER,
    }
    return Wait(**{**plain, **changes})


def version(**changes: Any) -> Version:
    plain: dict[str, Any] = {
        "code": "ZZ",
        "holds_from": date(2000, 1, 1),
        "ground": GROUND,
        "wait": wait(),
        "holidays": FEDERAL_LIST,
        "answers": Answers(GROUND),
        "zone": Zone(GROUND, 24, "outer_edge"),
        "validity": Validity(GROUND, Span(14, Unit.CALENDAR_DAYS)),
        "renewal": Renewal(GROUND),
        "evidence": Tier.STATUTE,
    }
    return Version(**{**plain, **changes})


def local(text: str, zone: ZoneInfo = EASTERN) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone)


# A modest pool, since each new calendar is laid for sixty years: enough to meet every branch of the count.
WAITS = st.sampled_from(
    [
        wait(2),
        wait(3, ends=Ends.LAST_DAY),
        wait(2, ends=Ends.NEXT_WORKING_DAY, ends_time=time(7), counts_notice_day_if_by=time(7)),
        wait(2, ends_time=time(0, 1)),
        wait(48, Unit.HOURS),
        wait(72, Unit.HOURS),
        wait(48, Unit.HOURS, begins=Begins.NEXT_WORKING_DAY, begins_time=time(7)),
        wait(3, Unit.WORKING_DAYS, begins=Begins.NOTICE_INSTANT, ends=Ends.SAME_CLOCK),
        wait(3, Unit.CALENDAR_DAYS, begins=Begins.NEXT_DAY, skips=frozenset()),
        wait(48, Unit.HOURS, skips=frozenset()),
    ]
)
RECEIPTS = st.sampled_from(
    [
        None,
        Receipt(GROUND, opens=time(7), closes=time(17), next_day_time=time(7), non_working_day="next_working_day"),
        Receipt(GROUND, closes=time(16, 30), non_working_day="next_working_day"),
        Receipt(GROUND, non_working_day="next_working_day"),
    ]
)
ZONES = st.sampled_from(["America/New_York", "America/Chicago", "America/Phoenix", "America/Anchorage"])
MINUTES = st.integers(0, 3 * 365 * 24 * 60)


def instant(minute: int) -> datetime:
    """A minute of the years 2025 to 2027, as an aware instant."""
    return datetime.fromtimestamp(1_735_689_600 + minute * 60, tz=EASTERN)
