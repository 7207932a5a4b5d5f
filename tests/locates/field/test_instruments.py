"""Instruments chosen from the register: their state that day is kept, their frequencies are held against the run."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from crews.models import Crew, Equipment
from locates.field import register
from locates.field.models import Run
from locates.field.register import NoRegister, hand_in
from tests.crews.factories import EquipmentFactory
from tests.locates.field.making import finish, follow, start
from tests.locates.field.test_pages import RUN
from tickets.models import EvidenceEntry, Job

pytestmark = pytest.mark.usefixtures("frozen_now")
TODAY = date(2026, 9, 16)
BARE = {**RUN, "receiver_name": "", "receiver_serial": "", "receiver_frequencies": ""}


def item(crew: Crew | None, kind: str = "receiver", days: int | None = 100, **given: Any) -> Equipment:
    due = None if days is None else TODAY + timedelta(days=days)
    tuned = {"frequencies_hz": [512, 8192]}
    return EquipmentFactory(
        kind=kind, crew=crew, calibration_due_on=due, due_on=due, due_title="Bench calibration", **{**tuned, **given}
    )


def begin(client: Client, job: Job, **given: Any) -> Any:
    return client.post(f"/locates/jobs/{job.pk}/new", {**BARE, "client_id": str(uuid.uuid4()), **given})


def test_the_form_offers_the_crews_own_first_and_says_how_each_stands(
    clients: dict[str, Client], job: Job, crew: Crew, other_crew: Crew
) -> None:
    far, mine = item(other_crew, name="Far"), item(crew, name="Near", days=-3)
    text = clients["member"].get(f"/locates/jobs/{job.pk}/new").content.decode()
    assert text.index(f"e:{mine.pk}") < text.index(f"e:{far.pk}")
    assert f"Near, {mine.serial}: ran out Sun 13 Sep 2026" in text
    assert "Near: has 512 Hz, 8.192 kHz. Bench calibration ran out Sun 13 Sep 2026, before the run." in text


def test_a_receiver_of_the_register_is_copied_as_it_stood(clients: dict[str, Client], job: Job, crew: Crew) -> None:
    chosen = item(crew)
    assert begin(clients["member"], job, receiver=f"e:{chosen.pk}").status_code == 302
    Equipment.objects.filter(pk=chosen.pk).update(due_on=None, calibration_due_on=None, name="Renamed")
    kept = Run.objects.get().devices.get()
    assert (kept.equipment_id, kept.serial, kept.overdue) == (chosen.pk, chosen.serial, False)
    assert kept.calibration_words == "Bench calibration good through Fri 25 Dec 2026"
    assert kept.name == chosen.name


def test_an_overdue_and_an_unknown_one_are_said_so(clients: dict[str, Client], job: Job, crew: Crew) -> None:
    late, unknown = item(crew, days=-3), item(crew, days=None, out_of_service_reason="dropped")
    begin(clients["member"], job, receiver=f"e:{late.pk}")
    begin(clients["member"], job, receiver=f"e:{unknown.pk}")
    first, second = (r.devices.get() for r in Run.objects.order_by("pk"))
    assert (first.overdue, second.overdue) == (True, None)
    assert second.calibration_words == "No calibration date known that day; out of service: dropped"
    page = clients["member"].get(f"/locates/jobs/{job.pk}/").content.decode()
    assert "bench calibration ran out Sun 13 Sep 2026" in page


def test_a_frequency_that_the_receiver_lacks_is_refused_at_entry(
    clients: dict[str, Client], job: Job, crew: Crew
) -> None:
    chosen = item(crew)
    answer = begin(clients["member"], job, receiver=f"e:{chosen.pk}", frequency="33 kHz")
    assert answer.status_code == 400
    words = answer.context["form"].errors["frequency"][0]
    assert "does not have 33 kHz; it has 512 Hz, 8.192 kHz. Did you mean 8.192 kHz?" in words
    assert not Run.objects.exists()


@pytest.mark.parametrize("value", ["e:999999", "e:x", "d:1"])
def test_what_is_not_in_the_register_cannot_be_chosen(clients: dict[str, Client], job: Job, value: str) -> None:
    answer = begin(clients["member"], job, receiver=value)
    assert answer.status_code == 400
    assert answer.context["form"].errors["receiver"]


def test_instruments_are_written_down_anew_while_the_run_is_open(
    clients: dict[str, Client], job: Job, crew: Crew, people: dict[str, Any]
) -> None:
    run = follow(start(job, people["member"]), people["member"])
    receiver, sender = item(crew), item(crew, "transmitter")
    address = f"/locates/runs/{run.pk}/instruments"
    chosen = {"receiver": f"e:{receiver.pk}", "transmitter": f"e:{sender.pk}", "receiver_full_scale": "100"}
    assert clients["other"].get(address).status_code == 404
    assert clients["member"].get(address).status_code == 200
    assert clients["member"].post(address, chosen).status_code == 302
    assert [d.equipment_id for d in run.devices.order_by("pk")] == [receiver.pk, sender.pk]
    logged = EvidenceEntry.objects.get(job=job, kind="locate_instruments_written")
    assert receiver.serial in str(logged.payload)
    wrong = item(crew, frequencies_hz=[512])
    answer = clients["member"].post(address, {"receiver": f"e:{wrong.pk}"})
    assert "does not have 8.192 kHz" in answer.context["form"].errors["receiver"][0]
    assert run.devices.count() == 2
    finish(run, people["member"])
    assert clients["member"].post(address, chosen).status_code == 400


def test_a_signal_at_the_top_of_the_scale_gives_no_depth(
    clients: dict[str, Client], job: Job, crew: Crew, people: dict[str, Any]
) -> None:
    begin(clients["member"], job, receiver=f"e:{item(crew).pk}", receiver_full_scale="100")
    run = Run.objects.get()
    for x, signal in ((0, "40"), (3, "100")):
        from_here = {"latitude": 37.40, "longitude": -77.62 + x / 88_500, "accuracy": "8 in"}
        given = {**from_here, "depth": "30", "unit": "in", "signal": signal}
        assert clients["member"].post(f"/locates/runs/{run.pk}/point", given).status_code == 302
    run.refresh_from_db()
    good, over = run.result["points"]
    assert good["depth_m"] is not None
    assert over["depth_m"] is None
    assert [d["code"] for d in over["doubts"]] == ["over_range"]


def test_the_form_asks_the_register_once_however_many_there_are(
    clients: dict[str, Client], job: Job, crew: Crew
) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as seen:
            clients["member"].get(f"/locates/jobs/{job.pk}/new")
        return len(seen)

    item(crew)
    before = count()
    for _ in range(4):
        item(crew)
    assert count() == before


def test_without_a_register_instruments_are_typed(clients: dict[str, Client], job: Job) -> None:
    kept = register.in_use()
    hand_in(NoRegister())
    try:
        assert clients["member"].post(f"/locates/jobs/{job.pk}/new", RUN).status_code == 302
    finally:
        hand_in(kept)
    assert Run.objects.get().devices.get().equipment_id is None
