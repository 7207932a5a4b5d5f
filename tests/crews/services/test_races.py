"""Two people at the same moment, on the real PostgreSQL, where both transactions run at once."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.db import connection

from crews import services
from crews.models import Crew, Person, Visit, VisitKind
from locates.models import AnsweredRequest
from tests.crews.api.conftest import client_of
from tests.crews.factories import CrewFactory, EquipmentFactory, PersonFactory
from tests.crews.office import NOW, at, make_job
from tickets.models import Job
from tickets.services.refusals import Conflict

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def at_once(*works: Callable[[], Any]) -> list[Any]:
    """What each gave back, or the refusal it met; all begin together."""
    gate = threading.Barrier(len(works))
    found: list[Any] = [None] * len(works)

    def run(index: int, work: Callable[[], Any]) -> None:
        try:
            gate.wait(10)
            found[index] = work()
        except Exception as refused:
            found[index] = refused
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(index, work)) for index, work in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    return found


@pytest.fixture
def job() -> Job:
    assert connection.vendor == "postgresql"
    return make_job()


def test_one_hour_of_a_crew_is_given_once(job: Job) -> None:
    crew: Crew = CrewFactory()
    people: list[Person] = PersonFactory.create_batch(4, dispatcher=True)

    def place(actor: Person) -> Callable[[], Visit]:
        return lambda: services.schedule_visit(
            job=job,
            crew=crew,
            kind=VisitKind.CAMERA,
            starts_at=at(17, 8),
            ends_at=at(17, 9),
            actor=actor,
            now=NOW,
        )

    found = at_once(*(place(person) for person in people))
    assert sorted(type(one).__name__ for one in found) == ["Conflict", "Conflict", "Conflict", "Visit"], found
    assert {one.code for one in found if isinstance(one, Conflict)} == {"crew_busy"}
    assert Visit.objects.count() == 1


def test_one_spare_at_the_yard_is_counted_on_once(job: Job) -> None:
    EquipmentFactory(kind="camera_reel", calibration_due_on=date(2027, 9, 1))
    crews: list[Crew] = [CrewFactory(yard_latitude=37.0 + number) for number in range(3)]
    people: list[Person] = PersonFactory.create_batch(3, dispatcher=True)
    jobs = [make_job() for _ in crews]

    def place(actor: Person, crew: Crew, where: Job) -> Callable[[], Visit]:
        return lambda: services.schedule_visit(
            job=where,
            crew=crew,
            kind=VisitKind.CAMERA,
            starts_at=at(17, 8),
            ends_at=at(17, 9),
            actor=actor,
            now=NOW,
        )

    found = at_once(*(place(*given) for given in zip(people, crews, jobs, strict=True)))
    assert sorted(type(one).__name__ for one in found) == ["Conflict", "Conflict", "Visit"], found
    assert {one.code for one in found if isinstance(one, Conflict)} == {"kit_unavailable"}
    assert Visit.objects.count() == 1


def test_one_write_sent_twice_at_once_is_done_once(job: Job) -> None:
    owner = PersonFactory(owner=True)
    given = {"kind": "sonde", "name": "Sonde", "serial": "N-1", "client_id": "k1"}

    def send() -> Any:
        return client_of(owner).post("/api/v1/equipment", given, format="json")

    answers = at_once(send, send, send)
    assert [answer.status_code for answer in answers] == [201, 201, 201], answers
    assert answers[0].json() == answers[1].json() == answers[2].json()
    assert sum(answer.has_header("Idempotency-Replayed") for answer in answers) == 2
    assert AnsweredRequest.objects.count() == 1
