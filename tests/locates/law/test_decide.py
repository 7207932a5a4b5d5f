"""What must hold of every window, whatever the rule."""

from __future__ import annotations

import contextlib
import locale
import os
import time as machine_time
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from locates import law
from locates.law.decide import LegalClock
from locates.law.load import codes, jurisdiction
from locates.law.rule import Anchor, Closes, Ends, Overlay, Span, Tier, Unit, Validity
from locates.law.window import window_for
from locates.law.workdays import day_words, zone_days
from tests.locates.law.rules import GROUND, MINUTES, RECEIPTS, WAITS, ZONES, instant, local, version, wait

CODES = st.sampled_from(codes())
STEPS = st.integers(0, 14 * 24 * 60)
EASY = settings(max_examples=150, deadline=None)


def in_force(code, at):
    assume(at.date() > jurisdiction(code).versions[0].holds_from)


def zone_of(code):
    law = jurisdiction(code)
    return law.law_time_zone or law.time_zones[0]


@given(WAITS, RECEIPTS, ZONES, MINUTES, STEPS)
@EASY
def test_a_later_notice_never_opens_earlier(rule, receipt, zone, minute, later):
    clock = LegalClock(version(wait=rule, receipt=receipt), zone)
    first, second = (clock.decide(instant(m), trace=False) for m in (minute, minute + later))
    assert first.opens_at <= second.opens_at
    assert first.received_at <= first.deemed_at <= first.opens_at


@given(CODES, MINUTES, STEPS)
@EASY
def test_a_later_notice_never_opens_earlier_in_any_state(code, minute, later):
    first_at, second_at = instant(minute), instant(minute + later)
    in_force(code, first_at)
    first, second = (window_for(code, at, zone_of(code), trace=False) for at in (first_at, second_at))
    if first.rule_version != second.rule_version:
        return
    named = version_of(code, first.rule_version).special_notices
    if named:
        # A day whose start the statute itself names may open before the Friday's count: compare like with like.
        days = [at.astimezone(zone_days(zone_of(code)).tz).strftime("%A").lower() for at in (first_at, second_at)]
        special = {s.on for s in named}
        if (days[0] in special) != (days[1] in special):
            return
    assert first.opens_at <= second.opens_at


def version_of(code, version_id):
    return next(v for v in jurisdiction(code).versions if v.id == version_id)


@given(CODES, MINUTES)
@EASY
def test_the_dates_of_a_window_are_in_order(code, minute):
    in_force(code, instant(minute))
    made = window_for(code, instant(minute), zone_of(code))
    assert made.received_at < made.opens_at
    if made.renew_by is not None:
        assert made.received_at <= made.renew_from <= made.renew_by <= made.closes_at
    if made.closes_at is not None and made.closes_at < made.opens_at:
        assert any("end before it opens" in warning for warning in made.warnings)
    for step in made.steps:
        assert step.words


@given(CODES, MINUTES)
@EASY
def test_a_renewal_asked_by_the_last_instant_opens_before_the_old_ticket_ends(code, minute):
    in_force(code, instant(minute))
    made = window_for(code, instant(minute), zone_of(code), trace=False)
    if made.renew_by is not None:
        clock = LegalClock(version_of(code, made.rule_version), zone_of(code))
        assert clock.decide(made.renew_by, trace=False).opens_at <= made.closes_at


@given(CODES, MINUTES)
@EASY
def test_no_window_opens_on_a_skipped_day_where_the_rule_forbids_it(code, minute):
    at = instant(minute)
    in_force(code, at)
    made = window_for(code, at, zone_of(code), trace=False)
    rule = version_of(code, made.rule_version)
    if rule.wait.ends is Ends.NEXT_WORKING_DAY:
        assert LegalClock(rule, zone_of(code)).working.counts(made.opens_at.toordinal())


@given(WAITS, WAITS, ZONES, MINUTES)
@EASY
def test_a_company_rule_never_opens_earlier_and_never_lengthens_a_life(rule, own, zone, minute):
    clock = LegalClock(version(wait=rule), zone)
    overlay = Overlay("Street opening permit", wait=own, validity=Validity(GROUND, Span(5, Unit.CALENDAR_DAYS)))
    plain = clock.decide(instant(minute), trace=False)
    stricter = clock.decide(instant(minute), overlays=[overlay], trace=False)
    assert stricter.opens_at >= plain.opens_at
    assert stricter.closes_at <= plain.closes_at
    if stricter.renew_by is not None and plain.renew_by is not None:
        assert stricter.renew_by <= plain.renew_by


@given(MINUTES, MINUTES, MINUTES)
@EASY
def test_the_stricter_of_printed_and_computed_wins(minute, start, expiry):
    clock = LegalClock(version(), "America/New_York")
    plain = clock.decide(instant(minute), trace=False)
    made = clock.decide(instant(minute), printed_start=instant(start), printed_expiry=instant(expiry), trace=False)
    assert made.opens_at == max(plain.opens_at, instant(start))
    assert made.closes_at == min(plain.closes_at, instant(expiry))
    differs = abs(instant(start) - plain.opens_at) >= timedelta(minutes=1)
    assert differs == any("start printed" in warning for warning in made.warnings)


@pytest.fixture
def machine_zone():
    before = os.environ.get("TZ")

    def change(name):
        os.environ["TZ"] = name
        machine_time.tzset()

    yield change
    os.environ.pop("TZ", None)
    if before is not None:
        os.environ["TZ"] = before
    machine_time.tzset()


def test_the_machines_zone_changes_nothing(machine_zone):
    results = []
    for name in ("UTC", "Asia/Kathmandu", "America/Los_Angeles"):
        machine_zone(name)
        results.append(LegalClock(version(), "America/Chicago").decide(local("2026-11-25T10:00")).as_json())
    assert results[0] == results[1] == results[2]
    assert "Thu 26 Nov 2026 skipped: Thanksgiving Day" in [s["words"] for s in results[0]["steps"]]


def test_the_machines_locale_changes_nothing():
    # Names of days and months are the package's own; what follows the locale (strftime) is not used at all.
    for path in Path(law.__file__).parent.glob("*.py"):
        assert "strftime" not in path.read_text("utf-8")
    before = locale.setlocale(locale.LC_ALL)
    results = []
    try:
        for name in ("C", "C.UTF-8", "de_DE.UTF-8", "fr_FR.UTF-8"):
            with contextlib.suppress(locale.Error):
                locale.setlocale(locale.LC_ALL, name)
                day_words.cache_clear()
                results.append(LegalClock(version(), "America/Chicago").decide(local("2026-11-25T10:00")).as_json())
    finally:
        locale.setlocale(locale.LC_ALL, before)
    assert len(results) >= 2
    assert all(made == results[0] for made in results)


def test_work_begun_in_time_ends_the_start_by_limit_and_begun_late_does_not():
    start_by = Validity(GROUND, Span(10, Unit.WORKING_DAYS), closes=Closes.END_OF_DAY)
    clock = LegalClock(version(validity=Validity(GROUND, None), begin_work=start_by), "America/New_York")
    notice = local("2026-09-14T10:00")
    waiting = clock.decide(notice)
    assert waiting.closes_at == waiting.start_by == local("2026-09-28T23:59:59")
    assert clock.decide(notice, work_begun_at=local("2026-09-21T08:00")).closes_at is None
    late = clock.decide(notice, work_begun_at=local("2026-09-30T08:00"))
    assert late.closes_at == late.start_by
    assert any("Work began after" in warning for warning in late.warnings)


def test_a_life_from_the_opening_is_not_lengthened_by_a_later_printed_start():
    rule = Validity(GROUND, Span(20, Unit.CALENDAR_DAYS), Anchor.OPENS)
    clock = LegalClock(version(validity=rule), "America/New_York")
    plain = clock.decide(local("2026-09-14T10:00"))
    printed = clock.decide(local("2026-09-14T10:00"), printed_start=local("2026-09-22T07:00"))
    assert printed.closes_at == plain.closes_at


def test_a_version_is_judged_by_the_day_of_notice_and_its_evidence_is_the_weakest():
    weak = replace(wait().ground, tier=Tier.MEMORY)
    made = LegalClock(version(wait=replace(wait(), ground=weak)), "America/New_York").decide(
        local("2026-09-14T10:00")
    )
    assert not made.verified
    assert made.as_json()["warnings"][0] == "unverified: confirm with the notification centre"
