"""Named holidays against OPM's published table of federal holidays (fixtures/calendars)."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest

from locates.law.days import dates_between, excluded_dates, federal_dates, holiday_table
from locates.law.rule import HolidayList
from tests.locates.law.rules import GROUND

OPM = Path(__file__).parents[3] / "fixtures" / "calendars" / "opm_federal_holidays.csv"


def test_federal_days_are_opms_published_days_of_2021_to_2030():
    with OPM.open(newline="") as lines:
        published = {date.fromisoformat(row["date"]) for row in csv.DictReader(lines)}
    ours = {day for day in federal_dates(2021, 2030)}
    # OPM's table of a year also names the day that the next New Year's Day is observed on in December.
    assert ours == published
    assert len(published) == 110


@pytest.mark.parametrize(
    ("name", "year", "day"),
    [
        # Dates from the calendar itself; elections by 2 U.S.C. 7, Easter by the Gregorian tables.
        ("good_friday", 2026, date(2026, 4, 3)),
        ("good_friday", 2027, date(2027, 3, 26)),
        ("memorial_day", 2027, date(2027, 5, 31)),
        ("thanksgiving_day", 2026, date(2026, 11, 26)),
        ("day_after_thanksgiving", 2029, date(2029, 11, 23)),
        ("general_election_day", 2026, date(2026, 11, 3)),
        ("general_election_day", 2028, date(2028, 11, 7)),
        ("nevada_day", 2026, date(2026, 10, 30)),
        ("patriots_day", 2026, date(2026, 4, 20)),
    ],
)
def test_named_day(name, year, day):
    assert holiday_table().holidays[name].on(year) == day


def test_a_day_kept_every_other_year_is_absent_between():
    assert holiday_table().holidays["general_election_day"].on(2027) is None
    assert holiday_table().holidays["juneteenth"].on(2020) is None


def test_new_years_day_on_a_saturday_is_observed_in_december():
    assert date(2021, 12, 31) in dates_between(2021, 2021, ["new_years_day"], "nearest", {})
    assert date(2021, 12, 31) not in dates_between(2021, 2021, ["new_years_day"], "sunday_to_monday", {})


def test_christmas_eve_beside_a_moved_christmas():
    # O.C.G.A. § 25-9-3: Christmas Eve on a Friday is kept on Thursday, on a Sunday on Tuesday.
    manner = {"christmas_eve": "christmas_eve_beside_christmas"}
    assert date(2027, 12, 23) in dates_between(2027, 2027, ["christmas_eve"], "nearest", manner)
    assert date(2023, 12, 26) in dates_between(2023, 2023, ["christmas_eve"], "nearest", manner)
    assert date(2022, 12, 23) in dates_between(2022, 2022, ["christmas_eve"], "nearest", manner)


def test_a_list_not_read_skips_either_list_and_is_sure_only_of_both():
    unread = HolidayList(GROUND, ("thanksgiving_day", "good_friday"), "sunday_to_monday", complete=False)
    waits, certain = excluded_dates(unread, 2026)
    assert date(2026, 4, 3) in waits  # the state's own
    assert date(2026, 7, 3) in waits  # federal, observed
    assert certain == {date(2026, 11, 26): "Thanksgiving Day"}


def test_a_list_that_was_read_is_taken_as_it_stands():
    read = HolidayList(GROUND, ("thanksgiving_day",), "nearest", complete=True)
    waits, certain = excluded_dates(read, 2026)
    assert waits == certain == {date(2026, 11, 26): "Thanksgiving Day"}
