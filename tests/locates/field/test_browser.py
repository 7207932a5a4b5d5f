"""A run on a phone 360 px wide: one tap and one number a point, kept through a lost connection."""

from __future__ import annotations

import threading
from typing import Any

import pytest

from locates.field.models import Photo, Point, Run
from tests.crews.wcag import sideways, small_targets, violations
from tests.locates.field.making import follow, start
from tests.locates.field.on_phone import cut, kept, mark, mend, walk_to
from tests.locates.field.test_photos import picture
from tests.locates.field.test_pipe_page import sewer
from tickets.models import Job

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("frozen_now")]


@pytest.fixture
def run(job: Job, people: dict[str, Any]) -> Run:
    return start(job, people["member"])


def test_points_wait_on_the_phone_until_the_server_has_them(phone: Any, run: Run) -> None:
    phone.goto(f"/locates/runs/{run.pk}/")
    phone.get_by_text("Position good to 4 ft").wait_for()
    mark(phone, "30")
    phone.locator("#point-1").wait_for()
    phone.context.set_offline(True)
    walk_to(phone, 3)
    mark(phone, "31")
    phone.get_by_text("No connection.").wait_for()
    assert phone.locator("#unsent li").count() == 1
    assert Point.objects.count() == 1
    phone.context.set_offline(False)
    phone.locator("#point-2").wait_for()
    assert phone.locator("#unsent li").count() == 0
    assert [round(p.depth_m / 0.0254) for p in Point.objects.order_by("number")] == [30, 31]


def test_standing_still_the_tap_asks_for_a_new_position(phone: Any, run: Run) -> None:
    """The phone tells of no new position while nobody moves; 10 seconds old is too old for a mark."""
    phone.clock.install()
    phone.goto(f"/locates/runs/{run.pk}/")
    phone.get_by_text("Position good to 4 ft").wait_for()
    phone.clock.fast_forward(12_000)
    mark(phone, "30")
    phone.locator("#point-1").wait_for()
    assert Point.objects.get().accuracy_m == 1.0


def test_feet_typed_as_inches_are_put_right_with_one_tap(phone: Any, run: Run, people: dict[str, Any]) -> None:
    follow(run, people["member"], count=3)
    phone.goto(f"/locates/runs/{run.pk}/")
    phone.get_by_text("Position good to 4 ft").wait_for()
    mark(phone, "3")
    phone.get_by_text("Did you mean 3 ft?").wait_for()
    phone.click("text=Use 3.00 ft")
    phone.locator("#point-4").wait_for()
    assert Point.objects.get(number=4).depth_m == pytest.approx(0.9144)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_on_a_small_screen(phone: Any, job: Job, run: Run, people: dict[str, Any], scheme: str) -> None:
    follow(run, people["member"], count=4)
    phone.emulate_media(color_scheme=scheme)
    for address in (
        f"/locates/runs/{run.pk}/",
        f"/locates/jobs/{job.pk}/",
        f"/locates/jobs/{job.pk}/new",
        f"/locates/jobs/{job.pk}/unsent",
        f"/locates/runs/{run.pk}/files",
        "/locates/method",
        "/locates/",
    ):
        phone.goto(address)
        assert violations(phone) == [], address
        assert sideways(phone) == 0, address
        assert small_targets(phone, 24) == [], address


def test_a_kept_page_opens_without_a_connection_and_its_points_arrive_once(
    phone: Any, run: Run, gone: threading.Event
) -> None:
    """Opened once with a connection; cut; opened anew, points and a photo taken, opened anew again; back."""
    address = f"/locates/runs/{run.pk}/"
    kept(phone, address)
    cut(phone, gone)
    phone.goto(address)
    # the worker too is cut off: what was not kept cannot be had
    assert phone.evaluate("fetch('/locates/runs/999999/').then((a) => a.status, () => 'cut off')") in {"cut off", 503}
    phone.get_by_text("Position good to 4 ft").wait_for()
    phone.get_by_text("Finish this run").click()
    phone.get_by_role("button", name="Finish the run").click()
    phone.get_by_text("No connection. The run stays open").wait_for()
    for east_m, depth in ((0, "30"), (3, "31"), (6, "30")):
        walk_to(phone, east_m)
        mark(phone, depth)
    phone.set_input_files("#photo-file", {"name": "p.jpg", "mimeType": "image/jpeg", "buffer": picture()})
    phone.fill("#photo-words", "Paint at the walk")
    phone.click("#photo-keep")
    phone.get_by_text("1 photo on this phone, not sent yet.").wait_for()
    phone.goto(address)
    assert phone.locator("#unsent li").count() == 3
    assert not Point.objects.exists()
    mend(phone, gone)
    phone.locator("#point-3").wait_for()
    phone.get_by_text("The photo is kept.").wait_for()
    assert phone.locator("#unsent li").count() == 0
    phone.reload()
    phone.locator("#point-3").wait_for()
    assert [round(p.depth_m / 0.0254) for p in Point.objects.order_by("number")] == [30, 31, 30]
    assert len(set(Point.objects.values_list("client_id", flat=True))) == 3
    photo = Photo.objects.get()
    assert (photo.point_number, photo.words) == (3, "Paint at the walk")


def test_the_new_pages_on_a_small_screen(phone: Any, job: Job, people: dict[str, Any]) -> None:
    made = sewer(job, people["member"])
    for address in (
        f"/locates/runs/{made.pk}/",
        f"/locates/runs/{made.pk}/pipe",
        f"/locates/runs/{made.pk}/quality",
        f"/locates/runs/{made.pk}/instruments",
        f"/locates/runs/{made.pk}/photos",
        f"/locates/jobs/{job.pk}/soil/{job.dig_areas.get().pk}",
    ):
        phone.goto(address)
        assert violations(phone) == [], address
        assert sideways(phone) == 0, address
        assert small_targets(phone, 24) == [], address
