"""A run begun on a phone without a connection: its points and photos at once, all of it at the server once, later."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from crews.models import Crew
from locates.field.models import Photo, Point, Run
from tests.conftest import FROZEN
from tests.crews.factories import VisitFactory
from tests.crews.wcag import sideways, small_targets, violations
from tests.factories import NOW, dispatcher, make_job
from tests.locates.field.making import at, follow, start
from tests.locates.field.on_phone import cut, kept, mark, mend, walk_to
from tests.locates.field.test_photos import picture
from tickets.models import Job

pytestmark = pytest.mark.usefixtures("frozen_now")
RECEIVER = {"receiver_name": "Receiver A", "receiver_serial": "QX-1", "receiver_frequencies": "512 Hz, 8192 Hz"}
MARKS = {"start_words": "House corner", "start_position": "37.4, -77.62", "end_words": "Pole"} | {
    "end_position": "37.4002, -77.62",
    "mark_accuracy": "3 ft",
}
METHODS = ("direct", "clamp", "induction", "sonde", "radar", "exposed", "records", "passive_power", "passive_radio")


@pytest.fixture
def phone(phone: Any) -> Any:
    """With the server's clock, as phones have it."""
    phone.clock.set_fixed_time(FROZEN)
    return phone


def begin(phone: Any, job: Job, *, method: str = "direct", frequency: str = "8192 Hz", **more: str) -> None:
    """Fills in the form that begins a run, and sends it."""
    phone.goto(f"/locates/jobs/{job.pk}/new")
    phone.evaluate("for (const one of document.querySelectorAll('#run-form details')) one.open = true")
    for name, value in {"label": "Power to the shed", "frequency": frequency, **RECEIVER, **more}.items():
        if name == "position_by":
            phone.select_option("#id_position_by", value)
        else:
            phone.fill(f"#id_{name}", value)
    phone.select_option("#id_utility", "power")
    phone.select_option("#id_method", method)
    phone.get_by_role("button", name="Begin the run").click()


def begun_offline(phone: Any, job: Job, **given: str) -> None:
    """A run on the phone alone, its page open for the first point."""
    begin(phone, job, **given)
    phone.wait_for_url("**/unsent#*")
    phone.locator("#mark").wait_for()


@pytest.mark.browser
def test_begun_without_a_connection_it_arrives_once(phone: Any, job: Job, gone: threading.Event) -> None:
    """The forms were kept when the job's page was opened; the phone is opened anew in between."""
    kept(phone, f"/locates/jobs/{job.pk}/")
    cut(phone, gone)
    begun_offline(phone, job)
    assert phone.locator("h1 >> visible=true").inner_text() == "Power to the shed"
    assert phone.locator("[data-say=begun]").inner_text().replace("\u202f", " ") == "Wed, Sep 16, 10:00 AM EDT"
    for east_m, depth in ((0, "30"), (3, "31")):
        walk_to(phone, east_m)
        phone.get_by_text("Position good to 4 ft").wait_for()
        mark(phone, depth)
    phone.set_input_files("#photo-file", {"name": "p.jpg", "mimeType": "image/jpeg", "buffer": picture()})
    phone.fill("#photo-words", "Paint at the walk")
    phone.click("#photo-keep")
    phone.get_by_text("1 photo on this phone, not sent yet.").wait_for()
    phone.reload()
    phone.get_by_text("2 points, 1 photo").wait_for()
    assert phone.locator("#unsent li").count() == 2
    assert not Run.objects.exists()
    mend(phone, gone)
    phone.wait_for_url("**/locates/runs/*/")
    phone.locator("#point-2").wait_for()
    run = Run.objects.get()
    assert phone.url.endswith(f"/locates/runs/{run.pk}/")
    assert (run.label, run.frequency_hz, run.begun_at) == ("Power to the shed", 8192.0, FROZEN)
    assert [round(p.depth_m / 0.0254) for p in run.points.order_by("number")] == [30, 31]
    photo = Photo.objects.get()
    assert (photo.run_id, photo.point_number, photo.words) == (run.pk, 2, "Paint at the walk")
    assert phone.evaluate("localStorage.getItem('firstspade.begun')") is None


@pytest.mark.browser
def test_what_the_server_refuses_is_corrected_and_sent_again(phone: Any, job: Job, gone: threading.Event) -> None:
    kept(phone, f"/locates/jobs/{job.pk}/")
    cut(phone, gone)
    begun_offline(phone, job, frequency="33 kHz")
    phone.get_by_text("Position good to 4 ft").wait_for()
    mark(phone, "30")
    mend(phone, gone)
    phone.locator("#run-refused").get_by_text("does not have 33 kHz").wait_for()
    assert violations(phone) == []
    phone.get_by_role("link", name="Correct the run").click()
    beside = phone.locator(".field", has=phone.locator("#id_frequency")).locator(".error")
    assert "Did you mean 8.192 kHz?" in beside.inner_text()
    assert phone.input_value("#id_receiver_serial") == "QX-1"
    assert phone.locator("#id_receiver_serial").is_visible()
    assert phone.locator("#begun-moment").is_hidden()
    assert violations(phone) == []
    phone.fill("#id_frequency", "8.192 kHz")
    phone.get_by_role("button", name="Send it again").click()
    phone.wait_for_url("**/locates/runs/*/")
    phone.locator("#point-1").wait_for()
    assert (Run.objects.get().frequency_hz, Point.objects.count()) == (8192.0, 1)


@pytest.mark.browser
def test_a_clock_that_ran_ahead_is_put_right(phone: Any, job: Job, gone: threading.Event) -> None:
    kept(phone, f"/locates/jobs/{job.pk}/")
    cut(phone, gone)
    phone.clock.set_fixed_time(FROZEN + timedelta(days=1))
    begun_offline(phone, job)
    mend(phone, gone)
    phone.locator("#run-refused").get_by_text("Thu 17 Sep, 10:00 AM EDT is still to come").wait_for()
    phone.get_by_role("link", name="Correct the run").click()
    phone.locator("#begun-moment_error").wait_for()
    shown = phone.input_value("#begun-moment")
    phone.fill("#begun-moment", shown.replace("2026-09-17", "2026-09-16"))
    phone.get_by_role("button", name="Send it again").click()
    phone.wait_for_url("**/locates/runs/*/")
    assert Run.objects.get().begun_at == FROZEN


@pytest.mark.browser
def test_it_waits_for_the_person_who_began_it(
    phone: Any, job: Job, gone: threading.Event, log_in: Callable[[Any], Any], people: dict[str, Any]
) -> None:
    """Logged out it stays; whoever else logs in sees neither the kept pages nor sends it in the own name."""
    kept(phone, f"/locates/jobs/{job.pk}/")
    cut(phone, gone)
    begun_offline(phone, job)
    address = phone.url
    phone.context.clear_cookies()
    mend(phone, gone)
    phone.get_by_text("You are logged out. Log in again").wait_for()
    log_in(people["owner"])
    phone.goto("/locates/")
    phone.get_by_text("Begun by Ines Dunmarrow, who has to log in on this phone to send it.").wait_for()
    assert phone.evaluate(f"caches.match('/locates/jobs/{job.pk}/unsent').then((found) => Boolean(found))") is False
    assert not Run.objects.exists()
    log_in(people["member"])
    phone.goto(address)
    phone.wait_for_url("**/locates/runs/*/")
    assert Run.objects.get().begun_by == people["member"]


@pytest.mark.browser
def test_runs_of_several_jobs_are_sent_from_the_list(phone: Any, job: Job, gone: threading.Event, crew: Crew) -> None:
    other = make_job(actor=dispatcher(), street="7 Alderbend Lane")
    VisitFactory(job=other, crew=crew, starts_at=NOW)
    for one in (job, other):
        kept(phone, f"/locates/jobs/{one.pk}/")
    kept(phone, "/locates/")
    cut(phone, gone)
    for one in (job, other):
        begun_offline(phone, one)
        phone.get_by_text("Position good to 4 ft").wait_for()
        mark(phone, "30")
    phone.goto("/locates/")
    assert phone.locator(".from-phone").is_visible()
    phone.locator("#waiting-runs li").nth(1).wait_for()
    assert "7 Alderbend Lane, Larkmoor: 1 point." in phone.locator("#waiting-runs").inner_text()
    mend(phone, gone)
    phone.locator("#waiting-runs").wait_for(state="hidden")
    assert sorted(Point.objects.values_list("run__job_id", flat=True)) == sorted([job.pk, other.pk])


@pytest.mark.browser
def test_a_sonde_along_a_baseline_and_thrown_away(phone: Any, job: Job, gone: threading.Event) -> None:
    """The form of a point suits the run; only an act of the person's takes a run from the phone."""
    kept(phone, f"/locates/jobs/{job.pk}/")
    cut(phone, gone)
    sonde = {"sonde_name": "Camera head", "sonde_serial": "QX-9"}
    begun_offline(phone, job, method="sonde", frequency="512 Hz", position_by="baseline", **sonde, **MARKS)
    assert "In feet from House corner, towards Pole." in phone.locator("#point-form").inner_text()
    phone.fill("#id_along", "12")
    mark(phone, "30")
    assert phone.locator("#unsent li").inner_text() == "30 in, 12 ft along"
    phone.get_by_text("More was read or placed").click()
    assert phone.locator("#id_null_behind").is_visible()
    phone.get_by_text("Throw this run away").click()
    phone.get_by_role("button", name="Throw the run, its points and photos away").click()
    phone.wait_for_url(f"**/locates/jobs/{job.pk}/")
    assert phone.evaluate("Object.keys(localStorage).filter((key) => /begun|points|last/.test(key))") == []
    assert phone.locator("#waiting-runs").is_hidden()


@pytest.mark.browser
def test_with_a_connection_the_run_opens_at_once(phone: Any, job: Job) -> None:
    """And a fault stands beside its field; nothing of it stays on the phone."""
    begin(phone, job, frequency="33 kHz")
    beside = phone.locator(".field", has=phone.locator("#id_frequency")).locator(".error")
    beside.wait_for()
    assert phone.evaluate("localStorage.getItem('firstspade.begun')") is None
    phone.fill("#id_frequency", "512 Hz")
    phone.get_by_role("button", name="Begin the run").click()
    phone.wait_for_url("**/locates/runs/*/")
    assert Run.objects.get().frequency_hz == 512.0


@pytest.mark.browser
def test_from_the_crews_day_the_way_there_needs_no_connection(phone: Any, job: Job, gone: threading.Event) -> None:
    kept(phone, "/today/")
    cut(phone, gone)
    phone.get_by_role("link", name="Locate here").click()
    phone.locator(".from-phone").wait_for()
    phone.get_by_role("link", name="Begin a run").click()
    phone.wait_for_url(f"**/locates/jobs/{job.pk}/new")
    phone.get_by_role("button", name="Begin the run").wait_for()


@pytest.mark.browser
def test_points_that_an_earlier_version_kept_by_the_runs_number_are_sent(
    phone: Any, job: Job, people: dict[str, Any]
) -> None:
    run = start(job, people["member"])
    body = {**at(0, 0), "accuracy_m": 1.0, "depth": "30", "unit": "in"}
    points = [{"id": str(uuid.UUID(int=3)), "body": body, "refused": ""}]
    phone.goto("/locates/")
    phone.evaluate("([key, rows]) => localStorage.setItem(key, JSON.stringify(rows))", [old_key(run), points])
    phone.goto(f"/locates/runs/{run.pk}/")
    phone.locator("#point-1").wait_for()
    assert Point.objects.get().client_id == uuid.UUID(int=3)
    assert phone.evaluate("(key) => localStorage.getItem(key)", old_key(run)) is None


def old_key(run: Run) -> str:
    return f"firstspade.points.{run.pk}"


@pytest.mark.browser
def test_the_locate_is_not_whole_while_a_run_is_on_the_phone_alone(
    phone: Any, job: Job, people: dict[str, Any]
) -> None:
    """The server does not know of it; the job must not become clear without it."""
    run = follow(start(job, people["member"]), people["member"])
    phone.goto(f"/locates/runs/{run.pk}/")
    waits = {"id": "x", "job": job.pk, "person": "0", "words": {"label": "Gas to the grill"}, "run": None}
    phone.evaluate("(one) => localStorage.setItem('firstspade.begun', JSON.stringify([one]))", waits)
    phone.get_by_text("Finish this run").click()
    phone.get_by_label("The line was found").check()
    phone.get_by_label("Everything likely on this site").check()
    phone.get_by_role("button", name="Finish the run").click()
    phone.get_by_text("Gas to the grill waits on this phone, not sent yet. Send it first").wait_for()
    run.refresh_from_db()
    assert run.is_open
    phone.get_by_label("Everything likely on this site").uncheck()
    phone.get_by_role("button", name="Finish the run").click()
    phone.wait_for_url(f"**/locates/jobs/{job.pk}/")
    run.refresh_from_db()
    assert (run.is_open, run.private_locate) == (False, None)


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_points_page_of_an_unsent_run_on_a_small_screen(
    phone: Any, job: Job, gone: threading.Event, scheme: str
) -> None:
    phone.emulate_media(color_scheme=scheme)
    kept(phone, f"/locates/jobs/{job.pk}/")
    cut(phone, gone)
    begun_offline(phone, job, label="Electric feed from the panel in the barn to the well pump at the far fence")
    mark(phone, "30")
    phone.locator("#unsent li").wait_for()
    assert violations(phone) == []
    assert sideways(phone) == 0
    assert small_targets(phone, 24) == []


@pytest.mark.parametrize(("who", "status"), [("owner", 200), ("member", 200), ("other", 404), ("stranger", 302)])
def test_who_sees_the_page(clients: dict[str, Client], job: Job, who: str, status: int) -> None:
    assert clients[who].get(f"/locates/jobs/{job.pk}/unsent").status_code == status


def test_the_crews_day_leads_there_and_keeps_the_pages_in_advance(clients: dict[str, Client], job: Job) -> None:
    """On the crew's phone; whoever sits in the office has a connection."""
    address = f'href="/locates/jobs/{job.pk}/"'
    keeps = f'data-keep-job="/locates/jobs/{job.pk}/"'
    for who, ahead in (("member", True), ("owner", False)):
        text = clients[who].get("/today/").content.decode()
        assert address in text
        assert (keeps in text) is ahead


def test_there_is_one_form_of_a_point_for_every_method(clients: dict[str, Client], job: Job) -> None:
    shapes = clients["member"].get(f"/locates/jobs/{job.pk}/unsent").context["shapes"]
    for on_baseline in (False, True):
        served = " ".join(one["methods"] for one in shapes if one["on_baseline"] is on_baseline).split()
        assert len(served) == len(set(served))
        assert set(METHODS) <= set(served)
