"""A proposal in a real browser: looked at, refused where unlawful, adjusted by keyboard and pointer, accepted."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from crews import services
from crews.models import Crew, Person, Plan, PlanStop, Visit
from crews.planning.planner import Effort
from crews.services import plans as plan_services
from locates import clock
from tests.crews.board.test_browser import _job as job_of
from tests.crews.factories import CrewFactory, PersonFactory, VisitFactory
from tests.crews.wcag import sideways, small_targets, violations
from tickets.models import Job

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def dispatcher(transactional_db: None) -> Person:
    return PersonFactory(dispatcher=True)


@pytest.fixture
def crew(transactional_db: None) -> Crew:
    return CrewFactory(name="Alder crew")


@pytest.fixture
def other(transactional_db: None) -> Crew:
    return CrewFactory(name="Basalt crew")


@pytest.fixture
def jobs(dispatcher: Person) -> tuple[Job, Job]:
    """One that may be dug now, and one whose window opens in days. The live server runs by the real clock."""
    now = clock.now()
    return (
        job_of(dispatcher, now - timedelta(days=9), "Lateral under the lawn"),
        job_of(
            dispatcher,
            now - timedelta(hours=2),
            "Gas yard line with a very long name that must not break a row",
            False,
        ),
    )


@pytest.fixture
def plan(dispatcher: Person, crew: Crew, other: Crew, jobs: tuple[Job, Job], monkeypatch: pytest.MonkeyPatch) -> Plan:
    """Computed with a visit beside it that no crew can make, so that it stays as it stands."""
    monkeypatch.setattr(plan_services, "Effort", lambda seconds, seed: Effort(seconds=2.0, most_rounds=40, seed=1))
    now = clock.now().replace(minute=0, second=0, microsecond=0)
    at = now + timedelta(days=1)
    VisitFactory(job=jobs[0], crew=other, kind="camera", starts_at=at, ends_at=at + timedelta(hours=1), pinned=True)
    return computed(dispatcher)


def computed(by: Person) -> Plan:
    asked = services.ask_plan(actor=by, now=clock.now(), working_days=10, seconds=5)
    services.compute_plan(plan_id=asked.pk, tick=clock.now)
    asked.refresh_from_db()
    assert asked.computed_at is not None, asked.failure
    return asked


def stop_of(plan: Plan, job: Job) -> PlanStop:
    return plan.stops.get(job=job, kind="dig")


def card(page: Any, job: Job) -> Any:
    return page.locator("a.visit[data-move]").filter(has_text=f"{job.number} dig").first


def drag(page: Any, what: Any, right: float, down: float = 0) -> None:
    box = what.bounding_box()
    x, y = box["x"] + 15, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + right, y + down, steps=5)
    page.mouse.up()


@pytest.mark.parametrize(("width", "least_px", "scheme"), [(1280, 24, "light"), (360, 24, "dark")])
def test_every_page_of_plans(
    page: Any,
    log_in: Callable[[Any], Any],
    plan: Plan,
    dispatcher: Person,
    crew: Crew,
    jobs: tuple[Job, Job],
    width: int,
    least_px: int,
    scheme: str,
) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=scheme)
    log_in(dispatcher)
    home = f"/plans/{plan.pk}/"
    stop = f"/plans/stops/{stop_of(plan, jobs[0]).pk}/"
    others = ("", "wanted/", "parts/", "weights/", "hours/", f"hours/{crew.pk}/", "calendars/")
    for address in (home, f"{home}days/", stop, *(f"/plans/{name}" for name in others)):
        page.goto(address)
        assert violations(page) == [], address
        assert sideways(page) == 0, address
        assert small_targets(page, least_px) == [], address


def test_a_card_dragged_before_its_window_is_refused_on_the_spot(
    page: Any, log_in: Callable[[Any], Any], plan: Plan, dispatcher: Person, jobs: tuple[Job, Job]
) -> None:
    page.set_viewport_size({"width": 1280, "height": 900})
    log_in(dispatcher)
    page.goto(f"/plans/{plan.pk}/")
    stop = stop_of(plan, jobs[1])
    what = card(page, jobs[1])
    left = page.locator(".paper").bounding_box()["x"]
    drag(page, what, left + 8 - what.bounding_box()["x"])
    alert = page.get_by_role("alert")
    alert.wait_for()
    assert re.search(r"digging may begin|is past|first lawful start", alert.inner_text())
    assert violations(page) == []
    moved = PlanStop.objects.get(pk=stop.pk)
    assert (moved.starts_at, moved.crew_id) == (stop.starts_at, stop.crew_id)


def test_adjusted_by_keyboard_pinned_and_accepted_whole(
    page: Any, log_in: Callable[[Any], Any], plan: Plan, dispatcher: Person, jobs: tuple[Job, Job], other: Crew
) -> None:
    page.set_viewport_size({"width": 1280, "height": 900})
    log_in(dispatcher)
    page.goto(f"/plans/{plan.pk}/")
    stop = stop_of(plan, jobs[0])
    what = card(page, jobs[0])
    what.focus()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Why here").wait_for()
    page.get_by_text("It stands here.").wait_for()
    pin = page.get_by_role("button", name="Pin it here")
    pin.focus()
    page.keyboard.press("Enter")
    page.get_by_text("Yes: later plans leave it where it is.").wait_for()
    page.get_by_role("link", name="Back to the plan").click()
    button = page.get_by_role("button", name=re.compile("Accept all"))
    button.focus()
    page.keyboard.press("Enter")
    page.get_by_text("on the crews' days.").wait_for()
    visit = Visit.objects.get(job=jobs[0], kind="dig")
    assert (visit.crew_id, visit.starts_at, visit.pinned) == (stop.crew_id, stop.starts_at, True)
    assert Visit.objects.filter(kind="camera", cancelled_at=None).count() == 1
    page.get_by_role("link", name=re.compile("with a map")).click()
    page.get_by_role("img", name=re.compile("Sketch of the day")).first.wait_for()
    page.get_by_text("stays as it stands").first.wait_for()


def test_a_card_dragged_onto_another_crews_line(
    page: Any, log_in: Callable[[Any], Any], plan: Plan, dispatcher: Person, jobs: tuple[Job, Job]
) -> None:
    page.set_viewport_size({"width": 1280, "height": 900})
    Job.objects.filter(pk=jobs[0].pk).update(closed_at=clock.now())  # its dig might stand in the way
    plan = computed(dispatcher)
    log_in(dispatcher)
    page.goto(f"/plans/{plan.pk}/")
    stop = stop_of(plan, jobs[1])
    rows = page.locator("[data-crew]")
    heights = {rows.nth(n).get_attribute("data-crew"): rows.nth(n).bounding_box()["y"] for n in range(rows.count())}
    target = next(pk for pk in heights if pk != str(stop.crew_id))
    drag(page, card(page, jobs[1]), 0, heights[target] - heights[str(stop.crew_id)])
    page.get_by_text("Moved in the proposal").wait_for()
    moved = PlanStop.objects.get(pk=stop.pk)
    assert moved.crew_id == int(target)
    assert moved.starts_at == stop.starts_at
