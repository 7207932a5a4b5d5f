"""Pages and API by role, with faults beside their field; queries do not grow with the rows."""

from __future__ import annotations

import json
import uuid
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from locates.field.models import Point, Run
from tests.factories import dispatcher, make_job
from tests.locates.field.making import at, follow, start
from tickets.models import Job

pytestmark = pytest.mark.usefixtures("frozen_now")
Clients = dict[str, Client]
RUN = {
    "client_id": str(uuid.UUID(int=7)),
    "label": "Power to the shed",
    "utility": "power",
    "method": "direct",
    "frequency": "8192 Hz",
    "position_by": "phone",
    "receiver_name": "Receiver A",
    "receiver_serial": "QX-1",
    "receiver_frequencies": "512 Hz, 8192 Hz",
}


@pytest.fixture
def run(job: Job, people: dict[str, Any]) -> Run:
    return follow(start(job, people["member"]), people["member"])


@pytest.mark.parametrize("who", ["owner", "dispatcher", "member", "other", "crewless", "stranger"])
def test_who_sees_what(clients: Clients, job: Job, run: Run, who: str) -> None:
    own = who in ("owner", "dispatcher", "member")
    for address in (f"/locates/jobs/{job.pk}/", f"/locates/jobs/{job.pk}/new", f"/locates/runs/{run.pk}/"):
        answer = clients[who].get(address)
        assert answer.status_code == (200 if own else 302 if who == "stranger" else 404), address
    listed = clients[who].get("/locates/")
    assert (job.site.street in listed.content.decode()) is own
    answer = clients[who].get(f"/api/v1/locate-runs/{run.pk}")
    assert answer.status_code == (200 if own else 403 if who == "stranger" else 404)


def test_a_run_is_begun_and_a_fault_stands_beside_its_field(clients: Clients, job: Job) -> None:
    address = f"/locates/jobs/{job.pk}/new"
    answer = clients["member"].post(address, {**RUN, "frequency": "33"})
    assert answer.status_code == 400
    assert "does not say Hz or kHz" in answer.context["form"].errors["frequency"][0]
    answer = clients["member"].post(address, {**RUN, "frequency": "640 Hz"})
    assert "Did you mean 512 Hz?" in answer.context["form"].errors["frequency"][0]
    answer = clients["member"].post(address, {**RUN, "receiver_serial": ""})
    assert "serial number" in answer.context["form"].errors["receiver_serial"][0]
    assert not Run.objects.exists()
    answer = clients["member"].post(address, RUN)
    assert answer.headers["Location"] == f"/locates/runs/{Run.objects.get().pk}/"
    known = Run.objects.get().devices.get()
    answer = clients["member"].post(
        address,
        {
            **RUN,
            "client_id": str(uuid.uuid4()),
            "receiver": f"d:{known.pk}",
            "receiver_name": "",
            "receiver_serial": "",
        },
    )
    assert answer.status_code == 302
    assert Run.objects.first().devices.get().serial == "QX-1"  # type: ignore[union-attr]


def test_without_the_script_a_point_is_typed(clients: Clients, run: Run) -> None:
    address = f"/locates/runs/{run.pk}/point"
    given = {**at(20, 9), "accuracy": "8 in", "depth": "9999", "unit": "in"}
    answer = clients["member"].post(address, given)
    assert answer.status_code == 400
    assert "over-range" in answer.context["point_form"].errors["depth"][0]
    assert clients["member"].post(address, {**given, "depth": "31"}).status_code == 302
    assert Point.objects.filter(run=run).count() == 7


def test_the_phone_sends_a_point_twice(clients: Clients, run: Run) -> None:
    body = {**at(20, 9), "accuracy_m": 0.2, "depth": "31", "unit": "in", "client_id": str(uuid.UUID(int=9))}

    def send(**changed: Any) -> Any:
        return clients["member"].post(
            f"/api/v1/locate-runs/{run.pk}/points",
            json.dumps({**body, **changed}),
            "application/json",
            headers={"Idempotency-Key": body["client_id"]},
        )

    wrong = send(depth="3")
    assert (wrong.status_code, wrong.json()["code"]) == (400, "point_refused")
    assert wrong.json()["correction"]["depth"] == pytest.approx(0.9144)
    assert [send().status_code, send().status_code] == [201, 201]
    assert Point.objects.filter(run=run).count() == 7


def test_finishing_and_taking_out(clients: Clients, job: Job, run: Run) -> None:
    point = run.points.last()
    assert point is not None
    answer = clients["member"].post(f"/locates/runs/{run.pk}/point/{point.pk}/out", {"words": "Twice"}, follow=True)
    assert "no longer counts" in answer.content.decode()
    answer = clients["member"].post(f"/locates/runs/{run.pk}/finish", {})
    assert answer.status_code == 400
    answer = clients["member"].post(
        f"/locates/runs/{run.pk}/finish", {"found": "yes", "words": "Clear", "locate_complete": "on"}, follow=True
    )
    assert "The private locate is recorded" in answer.content.decode()
    assert job.private_locates.count() == 1


def test_pages_say_that_a_depth_permits_no_machine(clients: Clients, job: Job, run: Run) -> None:
    for address in (f"/locates/jobs/{job.pk}/", f"/locates/runs/{run.pk}/"):
        assert "never permits machine digging inside a zone" in clients["member"].get(address).content.decode()


def test_queries_do_not_grow(clients: Clients, job: Job, run: Run, people: dict[str, Any]) -> None:
    addresses = ("/locates/", f"/locates/jobs/{job.pk}/", f"/locates/runs/{run.pk}/", "/api/v1/locate-runs")

    def counts() -> list[int]:
        found = []
        for address in addresses:
            with CaptureQueriesContext(
                connection,
            ) as seen:
                assert clients["owner"].get(address).status_code == 200
            found.append(len(seen))
        return found

    before = counts()
    for _ in range(3):
        follow(start(job, people["member"]), people["member"], count=8)
        make_job(actor=dispatcher())
    assert counts() == before


def test_the_worker_is_served_above_the_runs(clients: Clients) -> None:
    answer = clients["member"].get("/locates/worker.js")
    assert answer.headers["Content-Type"] == "text/javascript"
    assert b"addEventListener" in answer.content
