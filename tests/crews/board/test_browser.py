"""The dispatcher's main journeys in a real browser, with the accessibility rules of WCAG 2.2 A and AA."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from axe_playwright_python.sync_playwright import Axe

from crews import services
from crews.models import Crew, Person, Visit
from locates import clock
from tests.crews.factories import CrewFactory, PersonFactory
from tests.crews.office import make_job
from tickets import services as office
from tickets.models import Job

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}


@pytest.fixture
def present() -> datetime:
    """The live server runs by the real clock, so these jobs lie around it."""
    return clock.now()


@pytest.fixture
def dispatcher(transactional_db: None) -> Person:
    return PersonFactory(dispatcher=True)


@pytest.fixture
def crew(transactional_db: None) -> Crew:
    return CrewFactory(name="Alder crew")


@pytest.fixture
def clear(dispatcher: Person, present: datetime) -> Job:
    """A job whose ticket opened days ago and lives as long as the law of Virginia lets it."""
    return _job(dispatcher, present - timedelta(days=9), "Lateral under the lawn")


@pytest.fixture
def waiting(dispatcher: Person, present: datetime) -> Job:
    return _job(dispatcher, present - timedelta(hours=2), "Gas yard line", answered=False)


def _job(actor: Person, received_at: datetime, title: str, answered: bool = True) -> Job:
    job = make_job(actor, title=title)
    area = job.dig_areas.get().polygon
    ticket = office.enter_ticket(
        job=job,
        actor=actor,
        now=received_at,
        number=f"D-{job.pk}",
        received_at=received_at,
        operators=["Hollowell Gas"],
        area=area,
    )
    if answered:
        office.record_answer(
            operator=ticket.operators.get(),
            actor=actor,
            now=received_at + timedelta(hours=1),
            outcome="marked",
        )
    return job


def violations(page: Any) -> list[str]:
    found = Axe().run(page, options=RULES).response["violations"]
    return [f"{v['id']}: {node['html'][:120]}" for v in found for node in v["nodes"]]


@pytest.fixture
def board(
    log_in: Callable[[Any], Any], dispatcher: Person, crew: Crew, clear: Job, waiting: Job, present: datetime
) -> Any:
    """The chart with a clear job that has a visit and a waiting job."""
    opening = present + timedelta(days=1)
    services.schedule_visit(
        job=clear,
        crew=crew,
        kind="camera",
        starts_at=opening,
        ends_at=opening + timedelta(hours=3),
        actor=dispatcher,
        now=present,
    )
    page = log_in(dispatcher)
    page.goto("/")
    return page


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (360, "dark")])
def test_every_page_is_accessible_and_fits(board: Any, width: int, scheme: str, waiting: Job) -> None:
    board.emulate_media(color_scheme=scheme, reduced_motion="reduce")
    board.set_viewport_size({"width": width, "height": 800})
    for address in ("/", "/?view=table", f"/jobs/{waiting.pk}/visit", f"/visits/{Visit.objects.get().pk}"):
        board.goto(address)
        assert violations(board) == [], address
        assert board.evaluate("document.documentElement.scrollWidth") <= width, address


def test_nine_days_fit_a_laptop_and_a_phone_shows_one_or_two(board: Any) -> None:
    plot = "document.querySelector('.paper').getBoundingClientRect().width"
    assert board.evaluate(plot) <= 1280
    board.set_viewport_size({"width": 360, "height": 740})
    # A day that counts: the first one may be a holiday, which gets half the room.
    counted = ".axis foreignObject:has(> .day:not(.narrow))"
    day = board.evaluate(f"document.querySelector('{counted}').getBoundingClientRect().width")
    assert 100 < day < 360


def test_a_refused_dig_is_placed_at_the_first_lawful_start_without_a_mouse(board: Any, waiting: Job) -> None:
    board.focus(f"#place-link-{waiting.pk}")
    board.keyboard.press("Enter")
    form = board.locator(f"#placing-{waiting.pk} form")
    form.wait_for()
    assert board.evaluate("document.activeElement.textContent") == f"Place a visit on job {waiting.number}"
    form.get_by_label("Crew").select_option(label="Alder crew")
    # Long before the window opens, and after the crew's other visit, whatever the hour of this run.
    start = (clock.now() + timedelta(hours=29)).astimezone(ZoneInfo("America/New_York"))
    form.get_by_label("Day").fill(start.date().isoformat())
    form.get_by_label("Start").fill(f"{start:%H:%M}")
    form.get_by_label("Start").press("Enter")
    refused = form.get_by_role("alert")
    refused.wait_for()
    assert "digging may begin" in refused.inner_text()
    assert board.evaluate("document.activeElement.getAttribute('role')") == "alert"
    assert violations(board) == []
    board.keyboard.press("Tab")
    assert board.evaluate("document.activeElement.name") == "start_instead"
    board.keyboard.press("Enter")
    board.get_by_text("Placed: Alder crew, dig on job").wait_for()
    visit = Visit.objects.get(job=waiting)
    assert visit.starts_at == waiting.tickets.get().opens_at
    assert board.evaluate("document.activeElement.className") == "messages"


def test_t_turns_chart_and_table_and_filters_stay_in_the_address(board: Any, waiting: Job) -> None:
    board.get_by_label("Job, ticket, customer or street").fill("gas yard")
    board.wait_for_url("**/?text=gas*")
    board.locator("h2", has_text="Lateral under the lawn").wait_for(state="detached")
    board.focus("#main")
    board.keyboard.press("t")
    board.locator("table").wait_for()
    assert "text=gas" in board.url
    assert "view=table" in board.url
    board.reload()
    assert board.locator("tbody tr").count() == 1
    board.keyboard.press("t")
    board.locator(".strip").wait_for()
    board.go_back()
    board.locator("table caption", has_text="Dig windows of 1 job").wait_for()


def test_a_card_is_dragged_to_another_hour(board: Any, clear: Job) -> None:
    before = Visit.objects.get(job=clear)
    card = board.locator("a.visit").bounding_box()
    y = card["y"] + card["height"] / 2
    board.mouse.move(card["x"] + 12, y)
    board.mouse.down()
    board.mouse.move(card["x"] + 100, y, steps=3)
    board.mouse.move(card["x"] + 212, y, steps=3)
    board.mouse.up()
    board.get_by_text("Moved: Alder crew").wait_for()
    after = Visit.objects.get(job=clear)
    assert after.starts_at > before.starts_at + timedelta(hours=12)
    assert after.starts_at.minute % 15 == 0
    assert after.ends_at - after.starts_at == before.ends_at - before.starts_at


def test_without_scripts_everything_still_works(chromium: Any, live_server: Any, board: Any, waiting: Job) -> None:
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    context.add_cookies(board.context.cookies())
    page = context.new_page()
    page.goto("/")
    page.get_by_role("link", name=f"Place a visit on job {waiting.number}").first.click()
    page.get_by_label("Crew").select_option(label="Alder crew")
    page.get_by_label("What for").select_option(label="White lining")
    page.get_by_role("button", name="Place the visit").click()
    assert "Placed: Alder crew, white lining" in page.inner_text(".messages")
    page.get_by_role("link", name="As a table").click()
    assert page.locator("tbody tr").count() == 2
    context.close()
