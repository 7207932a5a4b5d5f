"""The crew's day in a real browser, 360 px wide: one thumb, no page lost, nothing stale."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.contrib.sessions.models import Session

from crews.models import Crew, Person
from tests.crews.factories import EquipmentFactory, VisitFactory
from tests.crews.office import at, clear_job, give_notice, make_job
from tests.crews.wcag import sideways, small_targets, violations
from tickets.models import EvidenceEntry, SiteSighting

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("frozen_now")]
LogIn = Callable[[Any], Any]
LONG_NAME = "Threadwire and Copperline Communications of the Lower Larkmoor Valley, Inc."


@pytest.fixture
def phone(page: Any, log_in: LogIn, crew: Crew, people: dict[str, Person | None]) -> Any:
    """A crew member's phone with two sites today, one clear and one still waiting."""
    VisitFactory(
        job=clear_job(work="Replace 30 ft of 4 in clay."), crew=crew, starts_at=at(16, 9), ends_at=at(16, 12)
    )
    waiting = make_job(street="7 Tilbrook Mill Lane", private_lines_likely=True)
    give_notice(waiting, number="D-2", received_at=at(15, 10), outcomes=("", ""))
    waiting.tickets.get().operators.filter(name="Operator 0").update(name=LONG_NAME)
    VisitFactory(job=waiting, crew=crew, starts_at=at(16, 13), ends_at=at(16, 15))
    EquipmentFactory(name="Receiver B", crew=crew, calibration_due_on=date(2026, 9, 1))
    page.set_viewport_size({"width": 360, "height": 760})
    return log_in(people["member"])


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_small_bright_and_dark_screens(phone: Any, scheme: str) -> None:
    phone.emulate_media(color_scheme=scheme)
    phone.goto("/today/")
    assert violations(phone) == []
    assert sideways(phone) == 0
    assert small_targets(phone, 44) == []


def test_a_tap_changes_the_verdict_in_place_and_moves_there(phone: Any) -> None:
    phone.goto("/today/")
    site = phone.locator("article").first
    assert "Clear to dig" in site.get_by_role("heading").inner_text()
    site.get_by_text("Name one operator, or add a note").click()
    site.get_by_label("Note").fill("No flags at the kerb.")
    site.get_by_role("button", name="No marks seen").click()
    phone.get_by_text("Recorded: No marks seen.").wait_for()
    heading = phone.locator("article").first.get_by_role("heading")
    assert "Stop" in heading.inner_text()
    assert heading.evaluate("(one) => one === document.activeElement")
    assert phone.url.endswith("/today/")
    assert SiteSighting.objects.get().note == "No flags at the kerb."
    assert violations(phone) == []


def test_read_then_begin(phone: Any) -> None:
    phone.goto("/today/")
    phone.get_by_role("button", name="I have read this verdict").first.click()
    phone.get_by_text("Read by Ines Dunmarrow").wait_for()
    assert EvidenceEntry.objects.filter(kind="verdict_seen").count() == 1
    assert phone.get_by_role("button", name="Work begun").count() == 1  # not where the wait still runs
    phone.get_by_role("button", name="Work begun").click()
    phone.get_by_text("Work is noted for today.").wait_for()


def test_a_page_that_outlives_its_verdicts_loads_them_again(phone: Any) -> None:
    phone.clock.install()
    phone.goto("/today/")
    old = phone.locator("#day").element_handle()
    phone.clock.fast_forward(9 * 60 * 1000)
    assert old.evaluate("(one) => one.isConnected")
    phone.clock.fast_forward(61 * 1000)
    phone.clock.run_for(16 * 1000)
    old.wait_for_element_state("hidden")
    assert phone.locator("#day .stale").is_hidden()


def test_without_a_network_the_old_page_says_that_it_is_old(phone: Any) -> None:
    phone.clock.install()
    phone.goto("/today/")
    phone.context.set_offline(True)
    phone.clock.fast_forward(11 * 60 * 1000)
    phone.clock.run_for(16 * 1000)
    phone.get_by_text("Load it again before you dig.").wait_for()
    assert phone.locator("article").count() == 2


def test_a_tap_without_a_network_says_that_nothing_was_recorded(phone: Any) -> None:
    phone.goto("/today/")
    phone.context.set_offline(True)
    phone.get_by_role("button", name="No marks seen").first.click()
    phone.locator(".unsent:visible").wait_for()
    assert not SiteSighting.objects.exists()
    phone.context.set_offline(False)
    phone.get_by_role("button", name="No marks seen").first.click()
    phone.get_by_text("Recorded: No marks seen.").wait_for()
    assert phone.locator(".unsent:visible").count() == 0


def test_a_log_in_that_has_run_out_leads_to_the_log_in_and_back(phone: Any) -> None:
    phone.goto("/today/?date=2026-09-16")
    Session.objects.all().delete()
    phone.get_by_role("button", name="No marks seen").first.click()
    phone.wait_for_url("**/login?next=%2Ftoday%2F%3Fdate%3D2026-09-16")
    assert phone.locator("article").count() == 0


def test_nobody_loses_a_half_written_note(phone: Any) -> None:
    phone.clock.install()
    phone.goto("/today/")
    site = phone.locator("article").first
    site.get_by_text("Name one operator, or add a note").click()
    site.get_by_label("Note").fill("Half a sen")
    phone.clock.fast_forward(11 * 60 * 1000)
    phone.clock.run_for(16 * 1000)
    phone.get_by_text("Load it again before you dig.").wait_for()
    assert site.get_by_label("Note").input_value() == "Half a sen"


def test_the_printed_sheet_has_the_facts_and_no_buttons(phone: Any) -> None:
    phone.goto("/today/")
    phone.emulate_media(media="print")
    assert phone.get_by_text("Clear to dig").first.is_visible()
    assert phone.get_by_text("Marks seen at").first.is_visible()
    assert phone.locator("button:visible").count() == 0
    assert phone.locator(".no-print:visible").count() == 0
    assert phone.get_by_text("If a line is struck").last.is_visible()
