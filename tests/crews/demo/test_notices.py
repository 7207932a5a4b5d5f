"""Whatever the day of loading, a notice is found for every standing, and its ticket stands so by the law."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crews.demo.notices import NoSuchNotice, Standing, choose_notice, day_start
from locates.law.window import window_for

PLACES = [
    ("VA", "America/New_York", "open"),
    ("TN", "America/New_York", "open"),
    ("NC", "America/New_York", "given"),
    ("KS", "America/Chicago", "given"),
    ("TX", "America/Chicago", "closing"),
    ("OK", "America/Chicago", "over"),
    ("CO", "America/Denver", "open"),
    ("WA", "America/Los_Angeles", "open"),
]
INSTANTS = st.datetimes(datetime(2026, 1, 1), datetime(2028, 12, 31), timezones=st.just(UTC))


@settings(max_examples=60, deadline=None)
@given(place=st.sampled_from(PLACES), loaded_at=INSTANTS)
def test_a_notice_is_found_for_every_day_of_loading(place: tuple[str, str, Standing], loaded_at: datetime) -> None:
    state, zone, stands = place
    notice = choose_notice(state, zone, stands, time(9, 15), loaded_at)
    local = notice.received_at.astimezone(ZoneInfo(zone))
    assert (local.hour, local.minute) == (9, 15)
    assert notice.received_at < loaded_at
    window = window_for(state, notice.received_at, zone)
    today, tomorrow = notice.day_start, notice.day_start + timedelta(days=1)
    assert today <= loaded_at
    if stands == "given":
        assert window.opens_at > loaded_at
    elif stands == "over":
        assert window.closes_at is not None
        assert window.closes_at < loaded_at
    else:
        assert window.opens_at <= today
        assert window.closes_at is None or window.closes_at >= tomorrow


def test_the_day_begins_at_the_sites_midnight() -> None:
    start = day_start(datetime(2026, 9, 17, 5, 30, tzinfo=UTC), "America/Los_Angeles")
    assert start.isoformat() == "2026-09-16T00:00:00-07:00"


def test_what_cannot_be_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("crews.demo.notices.FURTHEST_DAYS", 1)
    with pytest.raises(NoSuchNotice, match="VA stands 'over'"):
        choose_notice("VA", "America/New_York", "over", time(9, 15), datetime(2026, 9, 16, 18, tzinfo=UTC))
