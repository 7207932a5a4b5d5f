from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from crews.words import day_words, span_words

EAST = "America/New_York"


def at(day: int, hour: int, minute: int = 0, month: int = 9) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=UTC)


def test_a_day_has_its_weekday_and_year() -> None:
    assert day_words(date(2026, 9, 17)) == "Thu 17 Sep 2026"


@pytest.mark.parametrize(
    ("start", "end", "words"),
    [
        (at(17, 11), at(17, 15, 30), "Thu 17 Sep, 7:00 AM to 11:30 AM EDT"),
        (at(17, 16), at(17, 17), "Thu 17 Sep, 12:00 PM to 1:00 PM EDT"),
        (at(18, 3), at(18, 6), "Thu 17 Sep, 11:00 PM EDT to Fri 18 Sep, 2:00 AM EDT"),
        # The clocks go back on 1 Nov 2026 at 06:00 UTC (15 U.S.C. 260a: first Sunday of November).
        (at(1, 5, 30, 11), at(1, 6, 30, 11), "Sun 1 Nov, 1:30 AM EDT to 1:30 AM EST"),
    ],
)
def test_a_span_names_a_second_day_or_abbreviation_only_when_there_is_one(
    start: datetime, end: datetime, words: str
) -> None:
    assert span_words(start, end, EAST) == words
