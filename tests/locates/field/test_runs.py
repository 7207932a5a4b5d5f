"""Beginning and finishing runs; what the verdict takes in."""

from __future__ import annotations

import uuid
from datetime import date
from typing import Any

import pytest

from locates.errors import FirstspadeError
from locates.field import selectors, services
from locates.field.models import Run
from tests.factories import NOW, answer_all, crew_member, make_ticket
from tests.factories import OPENS as ALL_ANSWERED
from tests.locates.field.making import GRID, RECEIVER, add, finish, follow, start
from tickets.models import EvidenceEntry, Job
from tickets.states import State


@pytest.fixture
def actor(db: None) -> Any:
    return crew_member()


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"label": " "}, "label"),
        ({"method": "dowsing"}, "method"),
        ({"devices": ()}, "receiver"),
        ({"frequency_hz": None}, "frequency"),
        ({"frequency_hz": 640.0}, "frequency"),
        ({"frequency_hz": 33.0}, "frequency"),
        ({"method": "sonde"}, "sonde"),
        ({"outside_diameter_m": 30.0}, "outside_diameter"),
        ({"position_by": "baseline"}, "start_at"),
        ({"devices": (services.DeviceGiven("receiver", "R", ""),)}, "receiver_serial"),
        (
            {
                "position_by": "baseline",
                "start_at": GRID.to_position(0, 0),
                "end_at": GRID.to_position(0.3, 0),
                "mark_accuracy_m": 0.05,
            },
            "end_at",
        ),
    ],
)
def test_a_run_that_cannot_be_is_refused_at_its_field(
    job: Job, actor: Any, given: dict[str, Any], field: str
) -> None:
    with pytest.raises(FirstspadeError) as caught:
        start(job, actor, **given)
    assert field in caught.value.fields
    assert not Run.objects.exists()


def test_a_frequency_the_receiver_lacks_names_what_it_has(job: Job, actor: Any) -> None:
    with pytest.raises(FirstspadeError, match=r"512 Hz, 8\.192 kHz, 32\.768 kHz"):
        start(job, actor, frequency_hz=640.0)


def test_begun_twice_it_stands_once(job: Job, actor: Any) -> None:
    client_id = uuid.uuid4()
    given = services.RunGiven(label="Water", method="direct", frequency_hz=8192.0, devices=(RECEIVER,))
    runs = [services.start_run(job=job, client_id=client_id, given=given, actor=actor, now=NOW) for _ in range(2)]
    assert (runs[0].pk, Run.objects.count()) == (runs[1].pk, 1)


@pytest.mark.parametrize(
    ("due", "overdue", "words"),
    [
        (None, None, "No calibration date known"),
        (date(2026, 9, 16), False, "good through Wed 16 Sep 2026"),
        (date(2026, 9, 15), True, "ran out Tue 15 Sep 2026"),
    ],
)
def test_calibration_is_kept_as_it_stood_that_day(
    job: Job, actor: Any, due: date | None, overdue: bool | None, words: str
) -> None:
    device = services.DeviceGiven("receiver", "Receiver A", "QX-1", calibration_due_on=due)
    kept = start(job, actor, devices=(device,)).devices.get()
    assert kept.overdue is overdue
    assert words in kept.calibration_words


def test_the_verdict_waits_for_the_whole_locate(job: Job, actor: Any) -> None:
    """Private lines likely: not clear before the person says that everything likely was looked for."""
    answer_all(make_ticket(job), at=ALL_ANSWERED)
    job.refresh_from_db()
    before = job.verdict_state
    assert before not in (State.CLEAR, State.CLOSING)
    finish(follow(start(job, actor), actor), actor)
    job.refresh_from_db()
    assert (job.verdict_state, job.private_locates.count()) == (before, 0)
    run = finish(
        follow(start(job, actor, label="Gas to the grill", utility="gas"), actor), actor, locate_complete=True
    )
    job.refresh_from_db()
    assert job.verdict_state in (State.CLEAR, State.CLOSING)
    made = job.private_locates.get()
    assert made == run.private_locate
    assert "Power to the shed (electric power): found by direct connection, expect it from" in made.result_words
    assert [line.partition(":")[0] for line in made.result_words.splitlines()] == [
        "Power to the shed (electric power)",
        "Gas to the grill (gas or oil)",
    ]
    kinds = list(EvidenceEntry.objects.filter(job=job).values_list("kind", flat=True))
    assert kinds.count("locate_run_finished") == 2
    assert kinds.count("private_locate") == 1


def test_the_locate_is_not_whole_while_a_run_is_open(job: Job, actor: Any) -> None:
    start(job, actor, label="Water")
    run = follow(start(job, actor), actor)
    with pytest.raises(FirstspadeError, match="1 other run of this job"):
        finish(run, actor, locate_complete=True)
    run.refresh_from_db()
    assert run.is_open


def test_found_needs_two_points_and_nothing_found_needs_words(job: Job, actor: Any) -> None:
    run = start(job, actor)
    add(run, actor, 0, 0)
    with pytest.raises(FirstspadeError, match="two points"):
        finish(run, actor)
    with pytest.raises(FirstspadeError) as caught:
        services.finish_run(run=run, found=False, words=" ", locate_complete=False, actor=actor, now=NOW)
    assert "words" in caught.value.fields


def test_nothing_found_never_reads_as_nothing_there(job: Job, actor: Any) -> None:
    run = finish(start(job, actor), actor, found=False, locate_complete=True)
    assert run.private_locate is not None
    assert "not the same as nothing there" in run.private_locate.result_words


@pytest.mark.parametrize(
    ("method", "found", "words"),
    [
        ("records", True, "(electric power): known from records, "),
        ("exposed", True, "(electric power): exposed and measured, "),
        ("induction", True, "(electric power): found by induction, "),
        ("records", False, ": nothing found from records, "),
        ("exposed", False, ": nothing found by opening the ground, "),
    ],
)
def test_how_a_line_is_known_reads_as_a_sentence(job: Job, actor: Any, method: str, found: bool, words: str) -> None:
    signal = {} if method == "induction" else {"frequency_hz": None, "devices": ()}
    run = start(job, actor, method=method, **signal)
    if found:
        add(run, actor, 0, 0, depth="")
        add(run, actor, 20, 0, depth="")
    finish(run, actor, found=found, locate_complete=True)
    assert words in job.private_locates.get().result_words


def test_a_finished_run_takes_no_more_points(job: Job, actor: Any) -> None:
    run = finish(follow(start(job, actor), actor), actor)
    with pytest.raises(FirstspadeError, match="finished before"):
        add(run, actor, 0, 0)
    with pytest.raises(FirstspadeError, match="finished before"):
        finish(run, actor)


def test_locates_made_with_one_instrument_are_found(job: Job, actor: Any) -> None:
    """Also when the run that used it was not the one that closed the locate."""
    finish(follow(start(job, actor), actor), actor)
    other = services.DeviceGiven("receiver", "Receiver B", "QX-2")
    finish(follow(start(job, actor, devices=(other,)), actor), actor, locate_complete=True)
    made = job.private_locates.get()
    assert list(selectors.private_locates_made_with(serial="QX-1")) == [made]
    assert list(selectors.private_locates_made_with(serial="QX-2")) == [made]
    assert not selectors.private_locates_made_with(serial="QX-3").exists()
