"""A run begun and finished over the API, as a phone sends what it kept: once, on the right day, by its people."""

from __future__ import annotations

import json
import uuid
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from crews.models import Crew
from locates.field.models import Run
from tests.conftest import FROZEN
from tests.crews.factories import EquipmentFactory
from tests.locates.field.making import follow, start
from tests.locates.field.test_pages import RUN
from tickets.models import EvidenceEntry, Job

pytestmark = pytest.mark.usefixtures("frozen_now")
Clients = dict[str, Client]


def begin(client: Client, job: Job, **given: Any) -> Any:
    body = {**RUN, "job": job.pk, "client_id": str(uuid.uuid4()), **given}
    key = {"Idempotency-Key": body["client_id"]}
    return client.post("/api/v1/locate-runs", json.dumps(body, default=str), "application/json", headers=key)


def finish(client: Client, run: Run, **given: Any) -> Any:
    return client.post(f"/api/v1/locate-runs/{run.pk}/finish", json.dumps(given), "application/json")


def test_it_takes_all_that_the_form_takes(clients: Clients, job: Job, people: dict[str, Any]) -> None:
    given = {
        "owner_words": "The owner of the yard",
        "outside_diameter": "4 in",
        "position_by": "baseline",
        "start_words": "House corner",
        "start_position": "37.40000, -77.62000",
        "end_words": "Pole",
        "end_position": "37.40020, -77.62000",
        "mark_accuracy": "3 ft",
        "transmitter_words": "At the meter, rod in wet ground",
        "transmitter_position": "37.4, -77.62",
        "transmitter_moment": "2.5",
        "ground_words": "Lawn",
        "weather_words": "Dry",
        "receiver_due": "2026-10-01",
        "receiver_full_scale": 999,
        "transmitter_name": "Transmitter A",
        "transmitter_serial": "QX-4",
    }
    answer = begin(clients["member"], job, **given)
    assert answer.status_code == 201, answer.json()
    run = Run.objects.get()
    assert (answer.json()["id"], answer.json()["begun_by"]) == (run.pk, people["member"].pk)
    assert (run.frequency_hz, run.outside_diameter_m) == (8192.0, pytest.approx(0.1016))
    assert (run.start_words, run.start_latitude, run.mark_accuracy_m) == ("House corner", 37.4, pytest.approx(0.9144))
    assert (run.transmitter_latitude, run.transmitter_moment_a_m2, run.weather_words) == (37.4, 2.5, "Dry")
    receiver, sender = run.devices.order_by("kind")
    assert (receiver.serial, receiver.calibration_due_on, receiver.full_scale) == ("QX-1", date(2026, 10, 1), 999.0)
    assert receiver.frequencies_hz == [512.0, 8192.0]
    assert (sender.kind, sender.serial) == ("transmitter", "QX-4")


def test_what_is_left_out_is_as_the_form_begins(clients: Clients, job: Job) -> None:
    body = {"job": job.pk, "client_id": str(uuid.uuid4()), "label": "Old drain", "method": "records"}
    answer = clients["member"].post("/api/v1/locate-runs", json.dumps(body), "application/json")
    assert answer.status_code == 201, answer.json()
    assert (answer.json()["utility"], answer.json()["position_by"]) == ("unknown", "phone")


def test_sent_again_it_is_the_same_run(clients: Clients, job: Job) -> None:
    """Also under another key of the write, for the run's own id stands for it."""
    client_id = str(uuid.uuid4())
    first, again = (begin(clients["member"], job, client_id=client_id) for _ in range(2))
    assert (first.status_code, again.status_code, first.json()["id"]) == (201, 201, again.json()["id"])
    body = {**RUN, "job": job.pk, "client_id": client_id}
    other = clients["member"].post(
        "/api/v1/locate-runs", json.dumps(body), "application/json", headers={"Idempotency-Key": "another"}
    )
    assert (other.status_code, other.json()["id"]) == (201, first.json()["id"])
    assert Run.objects.count() == 1


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"label": ""}, "label", "Fill this in."),
        ({"method": "dowsing"}, "method", "dowsing is not one of the available choices"),
        ({"frequency": "33"}, "frequency", "does not say Hz or kHz"),
        ({"frequency": "33 kHz"}, "frequency", "it has 512 Hz, 8.192 kHz"),
        ({"receiver_serial": ""}, "receiver_serial", "Give the receiver's serial number"),
        ({"receiver_name": "", "receiver_serial": ""}, "receiver", "what was read rests on it"),
        ({"receiver": "e:999999"}, "receiver", "is not one of the available choices"),
        ({"position_by": "baseline"}, "start_position", "first fixed mark"),
        ({"outside_diameter": "4"}, "outside_diameter", "is not a length"),
        ({"client_id": "x"}, "client_id", "UUID"),
        ({"begun_at": "2026-09-16T10:00"}, "begun_at", "Give the offset too"),
    ],
)
def test_a_fault_is_said_at_its_field(
    clients: Clients, job: Job, given: dict[str, Any], field: str, words: str
) -> None:
    answer = begin(clients["member"], job, **given)
    assert answer.status_code == 400
    assert answer["Content-Type"] == "application/problem+json"
    assert words in " ".join(answer.json()["errors"][field]), answer.json()
    assert not Run.objects.exists()


def test_corrected_under_the_same_id_it_stands(clients: Clients, job: Job) -> None:
    client_id = str(uuid.uuid4())
    assert begin(clients["member"], job, client_id=client_id, frequency="33 kHz").status_code == 400
    assert begin(clients["member"], job, client_id=client_id).status_code == 201
    assert Run.objects.get().frequency_hz == 8192.0


@pytest.mark.parametrize(("who", "status"), [("owner", 201), ("dispatcher", 201), ("member", 201), ("stranger", 403)])
def test_who_may_begin(clients: Clients, job: Job, who: str, status: int) -> None:
    assert begin(clients[who], job).status_code == status


@pytest.mark.parametrize("who", ["other", "crewless"])
def test_another_crews_job_is_not_theirs_to_see(clients: Clients, job: Job, who: str) -> None:
    answer = begin(clients[who], job)
    assert answer.status_code == 400
    assert answer.json()["errors"] == {"job": [f"There is no job {job.pk} that you may see. Choose another."]}
    assert not Run.objects.exists()


@pytest.mark.parametrize(
    ("begun_at", "kept"),
    [
        (FROZEN - timedelta(hours=5), FROZEN - timedelta(hours=5)),
        (FROZEN + timedelta(minutes=5), FROZEN),
        (None, FROZEN),
    ],
)
def test_it_is_begun_when_the_phone_says(
    clients: Clients, job: Job, begun_at: datetime | None, kept: datetime
) -> None:
    Job.objects.filter(pk=job.pk).update(created_at=FROZEN - timedelta(days=20))
    assert begin(clients["member"], job, begun_at=begun_at and begun_at.isoformat()).status_code == 201
    assert Run.objects.get().begun_at == kept


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (1, "Thu 17 Sep, 10:00 AM EDT is still to come; it is Wed 16 Sep, 10:00 AM EDT"),
        (-91, "lies more than 90 days back"),
        (-30, "lies before the job was entered"),
    ],
)
def test_a_phones_clock_that_cannot_be_right(clients: Clients, job: Job, days: int, words: str) -> None:
    Job.objects.filter(pk=job.pk).update(created_at=FROZEN - timedelta(days=20))
    answer = begin(clients["member"], job, begun_at=(FROZEN + timedelta(days=days)).isoformat())
    assert words in answer.json()["errors"]["begun_at"][0]
    assert not Run.objects.exists()


def test_calibration_is_held_against_the_day_it_was_begun(clients: Clients, job: Job, crew: Crew) -> None:
    """Good through Tuesday: in order for a run of Tuesday evening that arrives on Wednesday."""
    Job.objects.filter(pk=job.pk).update(created_at=FROZEN - timedelta(days=20))
    due = date(2026, 9, 15)
    item = EquipmentFactory(
        kind="receiver", crew=crew, frequencies_hz=[512, 8192], calibration_due_on=due, due_on=due
    )
    given = {"receiver": f"e:{item.pk}", "receiver_name": "", "receiver_serial": "", "receiver_frequencies": ""}
    evening = FROZEN - timedelta(hours=16)
    for begun_at in (evening, FROZEN):
        assert begin(clients["member"], job, **given, begun_at=begun_at.isoformat()).status_code == 201
    first, second = (run.devices.get() for run in Run.objects.order_by("begun_at"))
    assert (first.equipment_id, first.overdue, second.overdue) == (item.pk, False, True)


def test_what_waited_on_a_phone_is_logged_with_when_it_came(clients: Clients, job: Job) -> None:
    morning = FROZEN - timedelta(hours=5)
    for begun_at in (morning.isoformat(), None):
        assert begin(clients["member"], job, begun_at=begun_at).status_code == 201
    entry = EvidenceEntry.objects.get(job=job, kind="locate_run_begun")
    assert entry.at == FROZEN
    assert datetime.fromisoformat(entry.payload["begun_at_by_phone"]) == morning


def test_finishing(clients: Clients, job: Job, people: dict[str, Any]) -> None:
    run = follow(start(job, people["member"]), people["member"])
    assert finish(clients["stranger"], run, found=True).status_code == 403
    assert finish(clients["other"], run, found=True).status_code == 404
    assert "found" in finish(clients["member"], run).json()["errors"]
    assert "words" in finish(clients["member"], run, found=False).json()["errors"]
    answer = finish(clients["member"], run, found=True, words="Seen at both ends.", locate_complete=True)
    assert (answer.status_code, answer.json()["found"]) == (200, True)
    assert job.private_locates.get() == Run.objects.get().private_locate
    assert finish(clients["member"], run, found=True).status_code == 409


def test_beginning_asks_the_database_as_often_however_much_there_is(
    clients: Clients, job: Job, crew: Crew, people: dict[str, Any]
) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert begin(clients["member"], job).status_code == 201
        return len(seen)

    count()
    before = count()
    for _ in range(3):
        EquipmentFactory(kind="receiver", crew=crew)
        follow(start(job, people["member"]), people["member"])
    assert count() == before
