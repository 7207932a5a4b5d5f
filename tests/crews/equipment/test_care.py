"""Due days: ends of months, leap days, first issue, uses; against dateutil as a second opinion."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from crews.equipment.care import (
    Care,
    CareRule,
    DueState,
    History,
    Interval,
    add_months,
    days_late,
    due,
    is_overdue,
    may_go_out,
)
from crews.equipment.refusal import EquipmentError

YEARLY = CareRule("calibration", Care.CALIBRATION, "Calibration", Interval(months=12), "common practice, no source")
# 29 CFR 1910.137(c)(2)(viii), Table I-5: before first issue and every 6 months after; footnote 1: tested
# but not issued, not into service unless tested within the previous 12 months.
GLOVES = CareRule(
    "electrical_test",
    Care.ELECTRICAL_TEST,
    "Electrical test",
    Interval(months=6),
    "29 CFR 1910.137(c)(2)(viii)",
    before_first_use=True,
    shelf_months=12,
)


@pytest.mark.parametrize(
    ("day", "months", "wanted"),
    [
        ("2026-01-31", 1, "2026-02-28"),
        ("2028-01-31", 1, "2028-02-29"),
        ("2026-01-31", 2, "2026-03-31"),
        ("2024-02-29", 12, "2025-02-28"),
        ("2024-02-29", 48, "2028-02-29"),
        ("2023-02-28", 12, "2024-02-28"),
        ("2026-08-31", 6, "2027-02-28"),
        ("2026-12-31", 6, "2027-06-30"),
        ("2096-02-29", 48, "2100-02-28"),  # 2100 is no leap year
    ],
)
def test_ends_of_months_and_leap_days(day: str, months: int, wanted: str) -> None:
    assert add_months(date.fromisoformat(day), months) == date.fromisoformat(wanted)


@given(st.dates(date(1990, 1, 1), date(2150, 12, 31)), st.integers(1, 240))
def test_months_agree_with_dateutil(day: date, months: int) -> None:
    assert add_months(day, months) == day + relativedelta(months=months)


@given(st.dates(date(2020, 1, 1), date(2030, 1, 1)), st.integers(1, 36), st.integers(0, 400))
def test_a_later_good_result_never_brings_the_due_day_nearer(day: date, months: int, later: int) -> None:
    rule = CareRule("x", Care.INSPECTION, "x", Interval(months=months), "common practice, no source")
    first, second = (due(rule, History(last_good_on=d)).on for d in (day, day + timedelta(days=later)))
    assert first is not None
    assert second is not None
    assert day < first <= second


@pytest.mark.parametrize("field", ["months", "days", "uses"])
@pytest.mark.parametrize("wrong", [0, -1])
def test_an_interval_of_zero_is_refused(field: str, wrong: int) -> None:
    with pytest.raises(EquipmentError, match="cannot be an interval") as refused:
        Interval(**{field: wrong})
    assert list(refused.value.fields) == [f"every_{field}"]


def test_counted_from_the_last_good_result_and_else_from_the_day_put_in_service() -> None:
    put = date(2026, 1, 15)
    assert due(YEARLY, History(put_in_service_on=put)).on == date(2027, 1, 15)
    found = due(YEARLY, History(last_good_on=date(2026, 6, 30), put_in_service_on=put))
    assert (found.on, found.state) == (date(2027, 6, 30), DueState.DATED)
    assert "2026-06-30" in found.words


def test_nothing_to_count_from_is_unknown_not_fine() -> None:
    assert due(YEARLY, History()).state is DueState.UNKNOWN
    assert due(GLOVES, History(put_in_service_on=date(2026, 1, 1))).state is DueState.UNKNOWN


def test_a_certificate_may_shorten_and_never_lengthen() -> None:
    good = date(2026, 6, 30)
    assert due(YEARLY, History(good, stated_due_on=date(2026, 12, 31))).on == date(2026, 12, 31)
    assert due(YEARLY, History(good, stated_due_on=date(2029, 12, 31))).on == date(2027, 6, 30)
    assert due(YEARLY, History(stated_due_on=date(2026, 12, 31))).on == date(2026, 12, 31)


@pytest.mark.parametrize(
    ("tested", "issued", "wanted"),
    [
        ("2026-01-01", None, "2027-01-01"),  # on the shelf
        ("2026-01-01", "2026-03-01", "2026-09-01"),  # six months after the first issue
        ("2026-01-01", "2026-10-01", "2027-01-01"),  # never past twelve months after the test
        ("2026-01-01", "2027-02-01", "2027-01-01"),  # issued on a test too old: overdue at once
        ("2026-09-01", "2026-03-01", "2027-03-01"),  # in service: six months after each test
    ],
)
def test_gloves(tested: str, issued: str | None, wanted: str) -> None:
    history = History(date.fromisoformat(tested), first_issued_on=date.fromisoformat(issued) if issued else None)
    assert due(GLOVES, history).on == date.fromisoformat(wanted)


def test_uses_and_days_whichever_comes_first() -> None:
    rule = CareRule("x", Care.CALIBRATION, "x", Interval(days=100, uses=5), "common practice, no source")
    good = date(2026, 1, 1)
    assert due(rule, History(good, uses_since_good=4, last_used_on=date(2026, 1, 9))).on == date(2026, 4, 11)
    assert due(rule, History(good, uses_since_good=5, last_used_on=date(2026, 1, 9))).on == date(2026, 1, 9)


def test_daily_checks_and_notes_have_no_day_ahead() -> None:
    daily = CareRule("x", Care.BUMP_TEST, "x", Interval(each_day_of_use=True), "x")
    assert due(daily, History()).state is DueState.EACH_USE
    assert due(CareRule("x", Care.FIRMWARE, "x", Interval(), "x"), History()).state is DueState.NOTE


def test_good_to_the_end_of_the_day_yet_not_planned_for_it() -> None:
    day = date(2026, 9, 16)
    assert not is_overdue(day, day)
    assert is_overdue(day, day + timedelta(days=1))
    assert not may_go_out(day, day)
    assert may_go_out(day, day - timedelta(days=1))
    assert may_go_out(None, day)
    assert (days_late(day, day), days_late(day, day + timedelta(days=3))) == (0, 3)
