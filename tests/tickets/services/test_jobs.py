"""Jobs and sites: what is refused and by which words, what is found by itself, what the log keeps."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from tests.factories import (
    ENTERED,
    LATITUDE,
    LONGITUDE,
    NOW,
    SiteFactory,
    answer_all,
    crew_member,
    dispatcher,
    make_clear_job,
    make_job,
    make_ticket,
    square,
)
from tickets import services
from tickets.models import DigArea, EvidenceEntry, Job, Site
from tickets.states import State, TransitionRefused

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def test_a_new_job_is_not_known_to_be_clear_and_says_so() -> None:
    job = make_job()
    assert (job.number, job.verdict_state) == ("26-0001", State.UNKNOWN)
    assert job.verdict_sentence == "Do not dig: no ticket is on file for this job."
    assert make_job().number == "26-0002"
    assert list(job.evidence.values_list("kind", flat=True)) == ["job_created", "dig_area_drawn", "verdict_given"]


def test_state_zone_and_county_are_found_from_the_position() -> None:
    job = make_job(state="", time_zone="")
    site = job.site
    assert (site.state, site.time_zone, site.place_source) == ("VA", "America/New_York", "resolved")
    assert site.county
    assert make_job().site.place_source == "chosen"


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"title": " "}, "title"),
        ({"town": ""}, "town"),
        ({"state": "OH"}, "state"),  # the position lies elsewhere
        ({"time_zone": "Mars/Olympus"}, "time_zone"),
        ({"latitude": LONGITUDE, "longitude": LATITUDE}, "latitude"),
        ({"latitude": None}, "latitude"),
        ({"number": "x" * 33}, "number"),
        ({"dig_areas": [{"polygon": square(), "method": "spoon"}]}, "dig_areas.0.method"),
        ({"dig_areas": [{"polygon": {"type": "Point"}, "method": "hand"}]}, "dig_areas.0.polygon"),
        ({"dig_areas": [{"polygon": square(30_000, 0), "method": "hand"}]}, "dig_areas.0.polygon"),
        (
            {"dig_areas": [{"polygon": square(), "method": "hand", "planned_depth_m": -1}]},
            "dig_areas.0.planned_depth_m",
        ),
        ({"dig_areas": [{"polygon": square(), "method": "hand", "colour": 1}]}, "dig_areas.0.colour"),
    ],
)
def test_bad_input_is_refused_whole_with_a_message_for_its_field(given: dict[str, Any], field: str) -> None:
    with pytest.raises(services.BadInput) as refused:
        make_job(**given)
    assert field in refused.value.fields
    assert not Job.objects.exists()
    assert not Site.objects.exists()
    assert not EvidenceEntry.objects.exists()


def test_all_faults_are_told_at_once() -> None:
    with pytest.raises(services.BadInput) as refused:
        make_job(title="", town="", state="OH")
    assert {"title", "town", "state"} <= set(refused.value.fields)


def test_a_number_is_one_jobs_only() -> None:
    make_job(number="A-7")
    with pytest.raises(services.BadInput, match="another job's"):
        make_job(number="a-7")


def test_near_a_state_line_the_state_must_be_chosen() -> None:
    # Bristol straddles the line of Virginia and Tennessee; its main street is the line.
    # Position from memory: 36.595 N, 82.188 W.
    bristol = {"latitude": 36.595, "longitude": -82.188, "dig_areas": []}
    with pytest.raises(services.BadInput, match="choose the state") as refused:
        make_job(state="", time_zone="", **bristol)
    assert "state" in refused.value.fields
    assert make_job(state="TN", time_zone="America/New_York", **bristol).site.state == "TN"


def test_a_known_site_is_used_again() -> None:
    site = SiteFactory()
    assert make_job(site=site, dig_areas=()).site == site
    assert Site.objects.count() == 1


def test_only_the_office_makes_jobs_and_customers() -> None:
    with pytest.raises(services.Forbidden):
        make_job(actor=crew_member())
    with pytest.raises(services.Forbidden):
        services.create_customer(actor=crew_member(), now=NOW, name="Mill")


def test_customers_are_checked() -> None:
    made = services.create_customer(actor=dispatcher(), now=NOW, name=" Tilbrook Mill ", phone="804-555-0140")
    assert made.name == "Tilbrook Mill"
    changed = services.change_customer(customer=made, actor=dispatcher(), now=NOW, email="mill@example.com")
    assert changed.email == "mill@example.com"
    with pytest.raises(services.BadInput, match="not an e-mail"):
        services.create_customer(actor=dispatcher(), now=NOW, name="Mill", email="mill")
    with pytest.raises(services.BadInput, match="Name"):
        services.change_customer(customer=made, actor=dispatcher(), now=NOW, name="")


def test_a_dig_area_drawn_later_counts_and_a_removed_one_no_longer() -> None:
    job = make_clear_job()
    area = services.add_dig_area(job=job, actor=dispatcher(), now=NOW, polygon=square(100, 0), method="hand")
    job.refresh_from_db()
    assert job.verdict_state == State.STOP
    services.remove_dig_area(area=area, actor=dispatcher(), now=NOW, reason="Drawn on the wrong lot")
    job.refresh_from_db()
    assert job.verdict_state == State.CLEAR
    assert DigArea.objects.filter(job=job).count() == 2  # the row stays
    with pytest.raises(services.Conflict, match="removed before"):
        services.remove_dig_area(area=area, actor=dispatcher(), now=NOW, reason="Again")


def test_a_job_is_corrected_with_a_reason() -> None:
    job = make_clear_job()
    services.change_job(job=job, actor=dispatcher(), now=NOW, reason="Yard lights", private_lines_likely=True)
    job.refresh_from_db()
    assert job.verdict_state == State.UNKNOWN
    payload = job.evidence.get(kind="job_corrected").payload
    assert payload["before"] == {"private_lines_likely": False}
    with pytest.raises(services.BadInput, match="Reason"):
        services.change_job(job=job, actor=dispatcher(), now=NOW, reason="", title="New")


def test_work_begins_the_tickets_that_are_good_then_and_keeps_the_local_day() -> None:
    job = make_clear_job()
    evening = datetime(2026, 9, 16, 1, 30, tzinfo=UTC)  # still Tuesday at the site
    services.note_work_begun(job=job, actor=crew_member(), at=evening, now=NOW)
    job.refresh_from_db()
    ticket = job.tickets.get()
    assert (job.work_begun_at, job.last_worked_on, ticket.work_begun_at) == (evening, date(2026, 9, 15), evening)
    services.note_work_begun(job=job, actor=crew_member(), at=NOW, now=NOW)
    job.refresh_from_db()
    assert (job.work_begun_at, job.last_worked_on) == (evening, date(2026, 9, 16))
    with pytest.raises(services.BadInput, match="after now"):
        services.note_work_begun(job=job, actor=crew_member(), at=NOW + DAY, now=NOW)


def test_a_closed_job_takes_nothing_more_until_it_is_opened_again() -> None:
    job = make_clear_job()
    services.close_job(job=job, actor=dispatcher(), now=NOW)
    job.refresh_from_db()
    assert job.verdict_state == State.STOP
    assert not job.follow_ups.filter(done_at=None, superseded_at=None).exists()
    for write in (
        lambda: make_ticket(job),
        lambda: services.record_sighting(job=job, actor=dispatcher(), now=NOW, kind="marks_seen"),
        lambda: services.close_job(job=job, actor=dispatcher(), now=NOW),
        lambda: answer_all(job.tickets.get(), at=NOW),
    ):
        with pytest.raises(TransitionRefused, match="is closed"):
            write()
    services.reopen_job(job=job, actor=dispatcher(), now=NOW, reason="One more trench")
    job.refresh_from_db()
    assert job.verdict_state == State.CLEAR


def test_an_open_emergency_keeps_a_job_open() -> None:
    job = make_job()
    services.declare_emergency(job=job, actor=crew_member(), now=NOW, reason="Water in a cellar")
    with pytest.raises(services.Conflict, match="close it first"):
        services.close_job(job=job, actor=dispatcher(), now=NOW)


def test_the_actor_must_have_a_live_log_in() -> None:
    job, gone = make_job(), dispatcher()
    gone.is_active = False
    with pytest.raises(services.Forbidden):
        services.note_work_begun(job=job, actor=gone, at=ENTERED, now=NOW)
