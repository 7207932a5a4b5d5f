"""The log on a page: each entry's facts, and the chain computed again."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.factories import NOW, dispatcher, make_clear_job
from tickets import services
from tickets.models import EvidenceEntry, Job
from tickets.models.guards import guard_sql, unguard_sql

pytestmark = pytest.mark.django_db


def test_every_entry_stands_there_with_its_hash(office: Client, job: Job) -> None:
    page = office.get(f"/jobs/{job.pk}/evidence").content.decode()
    entries = list(job.evidence.order_by("sequence"))
    assert f"The chain holds: {len(entries)} entries" in page
    for entry in entries:
        assert entry.hash[:12] in page
    assert "Answer recorded" in page
    assert "Tue 8 Sep, 10:00 AM EDT" in page


def test_a_tampered_log_says_so_and_where(office: Client, job: Job) -> None:
    entry = job.evidence.get(sequence=3)
    with connection.cursor() as cursor:
        for statement in unguard_sql(connection.vendor):
            cursor.execute(statement)
        EvidenceEntry.objects.filter(pk=entry.pk).update(payload={"nothing": "happened"})
        for statement in guard_sql(connection.vendor):
            cursor.execute(statement)
    page = office.get(f"/jobs/{job.pk}/evidence").content.decode()
    assert "The chain does not hold." in page
    assert "entry 3" in page
    assert "The chain holds" not in page


def test_who_may_read_it(clients: dict[str, Client], job: Job) -> None:
    found = {name: client.get(f"/jobs/{job.pk}/evidence").status_code for name, client in clients.items()}
    assert found == {"owner": 200, "dispatcher": 200, "member": 200, "other": 404, "crewless": 404, "stranger": 302}


def test_it_is_paged_and_constant_in_queries(office: Client) -> None:
    job, actor = make_clear_job(), dispatcher()

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert office.get(f"/jobs/{job.pk}/evidence").status_code == 200
        return len(seen)

    few = queries()
    for _ in range(40):
        services.acknowledge_verdict(job=job, actor=actor, now=NOW)
    assert queries() == few <= 20
    second = office.get(f"/jobs/{job.pk}/evidence", {"page": "2"})
    job.refresh_from_db()
    assert len(second.context["entries"]) == job.evidence_length - 40
