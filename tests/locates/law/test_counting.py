"""Counting: elapsed hours over clock changes, leads and lives, worked by hand."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locates.errors import FirstspadeError
from locates.law.counting import LeadCount, Moment
from locates.law.decide import STANDARD_SKIPS, LegalClock
from locates.law.rule import Anchor, Begins, Closes, Ends, HolidayList, Receipt, Renewal, Span, Unit, Validity
from locates.law.workdays import SiteDays, UnknownZone, zone_days
from tests.locates.law.rules import FEDERAL_LIST, GROUND, local, version, wait

NONE = HolidayList(GROUND, (), "nearest")


def opens(made, text, zone="America/New_York"):
    return LegalClock(made, zone).decide(local(text, zone_days(zone).tz)).opens_at.replace(tzinfo=None).isoformat()


def test_hours_over_the_spring_change_are_the_hours_that_pass():
    # Sunday 14 March 2027 has 23 hours: counted in full, 48 hours end an hour later by the clock.
    made = version(wait=wait(48, Unit.HOURS, skips=frozenset()), holidays=NONE)
    decision = LegalClock(made, "America/New_York").decide(local("2027-03-13T10:00"))
    assert decision.opens_at - decision.received_at.astimezone(UTC) == timedelta(hours=48)
    assert decision.opens_at.isoformat() == "2027-03-15T11:00:00-04:00"


def test_hours_over_the_autumn_change_are_the_hours_that_pass():
    made = version(wait=wait(48, Unit.HOURS, skips=frozenset()), holidays=NONE)
    assert opens(made, "2026-10-31T10:00") == "2026-11-02T09:00:00"


def test_a_skipped_sunday_of_a_clock_change_neither_loses_nor_adds_an_hour():
    made = version(wait=wait(48, Unit.HOURS), holidays=NONE)
    assert opens(made, "2027-03-12T10:00") == "2027-03-16T10:00:00"
    assert opens(made, "2026-10-30T10:00") == "2026-11-03T10:00:00"


def test_hours_pass_over_a_holiday_and_a_weekend():
    # Wed 25 Nov 2026 10:00 + 72 h, Thanksgiving and the weekend left out: Wed 14, Fri 24, Mon 24, Tue 10.
    assert opens(version(wait=wait(72, Unit.HOURS)), "2026-11-25T10:00") == "2026-12-01T10:00:00"


def test_a_weekend_notice_in_hours_begins_at_the_first_counted_midnight():
    assert opens(version(wait=wait(48, Unit.HOURS)), "2026-09-19T15:30") == "2026-09-23T00:00:00"


@pytest.mark.parametrize(
    ("ends", "at", "expected"),
    [
        (Ends.LAST_DAY, None, "2026-09-18T00:00:00"),
        (Ends.DAY_AFTER, time(0, 1), "2026-09-19T00:01:00"),
        (Ends.NEXT_WORKING_DAY, time(7), "2026-09-21T07:00:00"),
    ],
)
def test_where_a_count_of_full_days_ends(ends, at, expected):
    assert opens(version(wait=wait(2, ends=ends, ends_time=at)), "2026-09-16T10:00") == expected


def test_a_notice_by_the_hour_counts_its_own_day():
    made = version(wait=wait(2, ends=Ends.NEXT_WORKING_DAY, ends_time=time(7), counts_notice_day_if_by=time(7)))
    assert opens(made, "2026-09-16T07:00") == "2026-09-18T07:00:00"
    assert opens(made, "2026-09-16T07:00:01") == "2026-09-21T07:00:00"


def test_a_notice_day_that_counts_by_rule():
    made = version(wait=wait(2, begins=Begins.NOTICE_INSTANT, ends=Ends.DAY_AFTER))
    assert opens(made, "2026-09-16T10:00") == "2026-09-18T00:00:00"
    assert opens(made, "2026-09-19T10:00") == "2026-09-23T00:00:00"


@pytest.mark.parametrize(
    ("received", "deemed"),
    [
        ("2026-09-16T05:00", "2026-09-16T07:00:00"),
        ("2026-09-16T17:00", "2026-09-16T17:00:00"),
        ("2026-09-16T17:01", "2026-09-17T07:00:00"),
        ("2026-09-18T18:00", "2026-09-21T07:00:00"),
        ("2026-09-20T10:00", "2026-09-21T07:00:00"),
        ("2026-09-07T10:00", "2026-09-08T07:00:00"),  # Labor Day
    ],
)
def test_a_notice_outside_the_hours_is_taken_as_received_later(received, deemed):
    rule = Receipt(GROUND, time(7), time(17), time(7), "next_working_day")
    made = LegalClock(version(receipt=rule), "America/New_York").decide(local(received))
    assert made.deemed_at.replace(tzinfo=None).isoformat() == deemed


@pytest.mark.parametrize(
    ("rule", "closes"),
    [
        (Validity(GROUND, Span(14, Unit.CALENDAR_DAYS)), "2026-09-30T10:00:00"),
        (Validity(GROUND, Span(14, Unit.CALENDAR_DAYS), closes=Closes.END_OF_DAY), "2026-09-30T23:59:59"),
        (
            Validity(GROUND, Span(21, Unit.CALENDAR_DAYS), Anchor.STATED_START, True, Closes.AT, time(23, 59)),
            "2026-10-09T23:59:00",
        ),
        (Validity(GROUND, Span(10, Unit.WORKING_DAYS), closes=Closes.AT, ends_time=time(7)), "2026-09-30T07:00:00"),
        (Validity(GROUND, Span(20, Unit.CALENDAR_DAYS), Anchor.OPENS), "2026-10-09T00:00:00"),
        (
            Validity(GROUND, Span(30, Unit.CALENDAR_DAYS), Anchor.RESPONSE_DUE, False, Closes.END_OF_DAY),
            "2026-10-18T23:59:59",
        ),
        (Validity(GROUND, Span(120, Unit.HOURS)), "2026-09-23T10:00:00"),
        (Validity(GROUND, None), None),
    ],
)
def test_how_long_a_ticket_lives(rule, closes):
    # Notice Wed 16 Sep 2026 10:00; two full working days; opens Sat 19 Sep 00:00.
    made = LegalClock(version(validity=rule), "America/New_York").decide(local("2026-09-16T10:00"))
    ends = made.closes_at and made.closes_at.replace(tzinfo=None).isoformat()
    assert ends == closes


def test_a_lead_of_working_days_leaves_them_whole_between_notice_and_expiry():
    table = SiteDays(FEDERAL_LIST, zone_days("America/New_York")).for_wait(STANDARD_SKIPS)
    close = Moment(int(local("2026-09-25T23:59:59").timestamp()), local("2026-09-25").toordinal(), 86_399)
    two = Span(2, Unit.WORKING_DAYS)

    def day(epoch_s):
        return table.zone.instant(epoch_s).isoformat()

    # Friday's expiry: Wednesday and Thursday lie between, so Tuesday is the last day to give notice.
    assert day(LeadCount(two, table).last_before(close, notice_day_counts=False)) == "2026-09-22T23:59:59-04:00"
    assert day(LeadCount(two, table).last_before(close, notice_day_counts=True)) == "2026-09-23T23:59:59-04:00"
    assert day(LeadCount(two, table).first_within(close)) == "2026-09-23T00:00:00-04:00"
    assert (
        day(LeadCount(Span(72, Unit.HOURS), table).last_before(close, notice_day_counts=False))
        == "2026-09-22T23:59:59-04:00"
    )


def test_a_span_after_a_notice_ends_with_its_last_day():
    table = SiteDays(FEDERAL_LIST, zone_days("America/New_York")).for_wait(STANDARD_SKIPS)
    notice = Moment(int(local("2026-09-16T10:00").timestamp()), local("2026-09-16").toordinal(), 36_000)
    ends = table.zone.instant(LeadCount(Span(10, Unit.WORKING_DAYS), table).last_within(notice))
    assert ends.isoformat() == "2026-09-30T23:59:59-04:00"


def test_an_unknown_zone_is_named():
    with pytest.raises(UnknownZone, match="'Mars/Olympus' is not a time zone"):
        zone_days("Mars/Olympus")


def test_a_naive_notice_and_a_year_out_of_range_are_refused():
    clock = LegalClock(version(), "America/New_York")
    with pytest.raises(FirstspadeError, match="no time zone"):
        clock.decide(datetime(2026, 9, 16, 10))
    with pytest.raises(FirstspadeError, match="check the year"):
        clock.decide(datetime(1926, 9, 16, 10, tzinfo=UTC))


@given(st.integers(0, 400_000), st.integers(1, 120 * 3600))
@settings(max_examples=200, deadline=None)
def test_running_back_undoes_running(minute, seconds):
    table = SiteDays(FEDERAL_LIST, zone_days("America/New_York")).for_wait(STANDARD_SKIPS)
    start = int(local("2026-01-01T00:00").timestamp()) + minute * 60
    ends = table.run(start, seconds)
    back = table.run_back(ends, seconds)
    assert back >= start
    assert table.run(back, seconds) == ends
    assert table.counted_s(ends) - table.counted_s(start) == seconds


def test_renewal_keeps_the_count_whole():
    made = version(renewal=Renewal(GROUND, earliest=Span(3, Unit.WORKING_DAYS), latest=Span(2, Unit.WORKING_DAYS)))
    decision = LegalClock(made, "America/New_York").decide(local("2026-09-14T10:00"))
    # Expires Mon 28 Sep 10:00. Own wait: notice by Wed 23 (Thu and Fri count, Saturday opens). Lead: Wed 23.
    assert decision.renew_by.isoformat() == "2026-09-23T23:59:59-04:00"
    assert decision.renew_from.isoformat() == "2026-09-23T00:00:00-04:00"
