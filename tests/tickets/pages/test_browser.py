"""The office's main journeys in a real browser, and what a machine can tell of WCAG 2.2 on every page."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from crews.models import Person
from tests.crews.wcag import sideways, small_targets, violations
from tests.factories import LATITUDE, LONGITUDE, LocalRuleFactory, make_clear_job, make_job
from tickets.models import DigArea, Job

pytestmark = pytest.mark.browser
LogIn = Callable[[Any], Any]
LONG = "Threadwire and Copperline Communications of the Lower Larkmoor Valley and its Neighbouring Parishes"


@pytest.fixture
def owner(page: Any, log_in: LogIn, people: dict[str, Person | None]) -> Any:
    return log_in(people["owner"])


@pytest.fixture
def full_job(db: None) -> Job:
    """A job with everything on it, long names among them."""
    job = make_clear_job(title=LONG, private_lines_likely=True)
    job.tickets.get().operators.filter(name="Fernbank Gas").update(name=LONG)
    LocalRuleFactory(name="Street opening permit")
    return job


PAGES = {
    "list": "/jobs/",
    "entry": "/jobs/new",
    "job": "/jobs/{pk}/",
    "renewal": "/jobs/{pk}/tickets/new?kind=renewal&of={ticket}",
    "correction": "/jobs/{pk}/tickets/{ticket}/correct",
    "ground": "/jobs/{pk}/area",
    "emergency": "/jobs/{pk}/emergency",
    "evidence": "/jobs/{pk}/evidence",
    "law": "/law/",
    "state": "/law/VA?received=2026-09-14T10:00",
    "rules": "/rules/",
}


@pytest.mark.parametrize("name", PAGES)
def test_each_page_is_sound_wide_light_and_narrow_dark(owner: Any, full_job: Job, name: str) -> None:
    owner.goto(PAGES[name].format(pk=full_job.pk, ticket=full_job.tickets.get().pk))
    assert violations(owner) == []
    assert sideways(owner) == 0
    owner.emulate_media(color_scheme="dark")
    owner.set_viewport_size({"width": 360, "height": 760})
    assert violations(owner) == []
    assert sideways(owner) == 0
    assert small_targets(owner, 20) == []


def test_a_job_and_its_ticket_are_entered_with_the_window_in_sight(owner: Any) -> None:
    owner.goto("/jobs/new")
    owner.get_by_role("button", name="Save the job").last.click()
    owner.get_by_text("Nothing was saved.").wait_for()
    assert violations(owner) == []
    owner.get_by_label("Name of a new customer").fill("Fernhollow Orchard")
    owner.get_by_label("Work in a few words").fill("Yard drain, 40 ft")
    owner.get_by_label("Street and number").fill("12 Larkrise")
    owner.get_by_label("Town").fill("Larkmoor")
    owner.get_by_label("Latitude").fill(str(LATITUDE))
    owner.get_by_label("Longitude").fill(str(LONGITUDE))
    owner.get_by_label("Length", exact=True).fill("40 ft")
    owner.get_by_label("Width", exact=True).fill("42 in")
    owner.get_by_label("Ticket number").fill("T-77")
    owner.get_by_label("Notice received by the centre").fill("2026-09-15T10:00")
    owner.get_by_label("Operator 1: name").fill("Ridge Power")
    owner.get_by_label("Operator 1: utility").select_option("power")
    owner.locator("#look").get_by_text("Fri 18 Sep 2026, 7:00 AM EDT").first.wait_for()
    assert Job.objects.count() == 0
    owner.get_by_role("button", name="Save the job").last.click()
    owner.get_by_role("heading", name="Yard drain, 40 ft").wait_for()
    assert Job.objects.get().tickets.get().number == "T-77"


def test_the_ground_is_drawn_by_pointer_and_by_keyboard(owner: Any) -> None:
    job = make_job(dig_areas=[])
    owner.goto(f"/jobs/{job.pk}/area")
    owner.get_by_label("Draw it, or paste an outline").check()
    ground = owner.locator("#dig-drawing .ground")
    ground.scroll_into_view_if_needed()
    for at in ((150, 100), (350, 110)):
        ground.click(position={"x": at[0], "y": at[1]})
    owner.get_by_text("2 of at least 3 corners.").wait_for()
    assert owner.get_by_label("Outline (GeoJSON)").input_value() == ""
    ground.focus()
    owner.keyboard.press("ArrowDown")
    owner.wait_for_timeout(400)
    owner.get_by_role("button", name="Corner at the mark").press("Enter")
    owner.get_by_text("3 corners,").wait_for()
    drawn = json.loads(owner.get_by_label("Outline (GeoJSON)").input_value())
    owner.get_by_role("button", name="Save the dig area").click()
    owner.get_by_text("The dig area is drawn.").wait_for()
    assert DigArea.objects.get().polygon == drawn
    lons = [lon for lon, _ in drawn["coordinates"][0]]
    lats = [lat for _, lat in drawn["coordinates"][0]]
    assert max(lons) - min(lons) == pytest.approx(200 / 2**1.5 * 0.3048 / 88_500, rel=0.02)  # feet at the zoom shown
    assert lats[2] < lats[1] < lats[0]


def test_one_click_changes_the_verdict_in_place_and_keeps_the_focus(owner: Any) -> None:
    job = make_clear_job()
    owner.goto(f"/jobs/{job.pk}/")
    row = owner.get_by_role("group", name="Record what Fernbank Gas answered")
    assert not row.is_visible()  # it has answered
    owner.get_by_text("Record another answer of Fernbank Gas").click()
    row.get_by_role("button", name="Not answered").focus()
    owner.keyboard.press("Enter")
    owner.get_by_text("Recorded: Fernbank Gas, not answered.").wait_for()
    assert "Fernbank Gas" in owner.locator("#verdict-sentence").inner_text()
    assert owner.evaluate("document.activeElement.textContent") == "Not answered"
    row.get_by_role("button", name="Asked for more time").click()
    asked = owner.get_by_text("Fernbank Gas: until when?")
    asked.wait_for()
    assert asked.evaluate("(one) => one === document.activeElement")
    assert violations(owner) == []
    owner.get_by_label("Until when").first.fill("2020-01-01T10:00")
    owner.get_by_role("button", name="Record", exact=True).click()
    owner.get_by_text("Nothing was recorded.").wait_for()
    assert "lies before the answer" in owner.locator(".ask").inner_text()
    owner.get_by_label("Until when").first.fill("2031-01-01T10:00")
    owner.get_by_role("button", name="Record", exact=True).click()
    owner.get_by_text("Recorded: Fernbank Gas, asked for more time.").wait_for()
    assert owner.url.endswith(f"/jobs/{job.pk}/")


@pytest.mark.parametrize("name", ["job", "evidence"])
def test_on_paper_the_facts_stay_and_the_buttons_go(owner: Any, full_job: Job, name: str) -> None:
    owner.emulate_media(media="print")
    owner.goto(PAGES[name].format(pk=full_job.pk, ticket=0))
    shown = owner.locator("main").inner_text()
    assert "Larkmoor" in shown
    assert owner.locator("main button:visible").count() == 0
    assert sideways(owner) == 0
