"""Our holiday lists beside those of the `holidays` package: every weekday on which they differ is frozen, with
the reason, in fixtures/law/holiday_doubts. The package is a second opinion only: it mixes legal days with
office closings and moves a Saturday holiday to Friday nearly everywhere."""

from __future__ import annotations

import csv
from pathlib import Path

import holidays as package
import pytest

from locates.law.days import dates_between
from locates.law.load import codes, jurisdiction

DOUBTS = Path(__file__).parents[3] / "fixtures" / "law" / "holiday_doubts"
FIRST, LAST = 2025, 2027


def frozen(code):
    path = DOUBTS / f"{code.lower()}.csv"
    if not path.exists():
        return []
    with path.open(newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def differences(code):
    listed = jurisdiction(code).versions[-1].holidays
    ours = {
        day
        for day in dates_between(FIRST, LAST, listed.days, listed.observed, listed.observed_for)
        if day.weekday() < 5
    }
    theirs = {
        day
        for day in package.country_holidays("US", subdiv=code, years=range(FIRST, LAST + 1))
        if day.weekday() < 5 and FIRST <= day.year <= LAST
    }
    return {(d.isoformat(), "ours") for d in ours - theirs} | {(d.isoformat(), "package") for d in theirs - ours}


@pytest.mark.parametrize("code", codes())
def test_every_difference_is_frozen_with_its_reason(code):
    rows = frozen(code)
    assert {(row["date"], row["listed_by"]) for row in rows} == differences(code)
    assert all(row["reason"].strip() for row in rows)
    assert len({(row["date"], row["listed_by"]) for row in rows}) == len(rows)
