"""The evidence log: chained, canonical, refused by the database to every change, every break named."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from io import StringIO
from itertools import pairwise
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction
from django.db.models import ProtectedError

from tests.factories import NOW, dispatcher, make_clear_job, make_job
from tickets import evidence, services
from tickets.models import EvidenceEntry, Job
from tickets.models.guards import REFUSAL, guard_sql, unguard_sql
from tickets.states import State

pytestmark = pytest.mark.django_db


@contextmanager
def guards_down() -> Iterator[Any]:
    """What someone with the database's own rights could do: take the triggers away."""
    with connection.cursor() as cursor:
        for statement in unguard_sql(connection.vendor):
            cursor.execute(statement)
        yield cursor
        for statement in guard_sql(connection.vendor):
            cursor.execute(statement)


def append(job: Job, **payload: Any) -> EvidenceEntry:
    return evidence.append(job=job, kind="note", actor=dispatcher(), at=NOW, payload=payload)


def test_every_entry_carries_the_hash_of_the_one_before() -> None:
    job = make_clear_job()
    entries = list(job.evidence.order_by("sequence"))
    assert [e.sequence for e in entries] == list(range(1, len(entries) + 1))
    assert entries[0].previous_hash == "0" * 64
    for before, entry in pairwise(entries):
        assert entry.previous_hash == before.hash
    for entry in entries:
        assert hashlib.sha256(entry.canonical.encode()).hexdigest() == entry.hash
    job.refresh_from_db()
    assert (job.evidence_length, job.evidence_head) == (len(entries), entries[-1].hash)
    assert evidence.verify(job) is None


def test_the_facts_a_verdict_rests_on_are_all_in_the_log() -> None:
    job = make_clear_job()
    services.record_sighting(job=job, actor=dispatcher(), now=NOW, kind="marks_seen")
    services.acknowledge_verdict(job=job, actor=dispatcher(), now=NOW)
    kinds = set(job.evidence.values_list("kind", flat=True))
    assert {"job_created", "dig_area_drawn", "ticket_entered", "window_computed", "answer_recorded"} <= kinds
    assert {"site_seen", "verdict_given", "verdict_seen"} <= kinds
    window = job.evidence.filter(kind="window_computed").last().payload
    assert window["rule_version"].startswith("VA@")
    assert len(window["rule_digest"]) == 64
    assert any(step["kind"] == "counted" for step in window["window_steps"])
    given = job.evidence.filter(kind="verdict_given").last().payload
    assert (given["state"], given["rules"][0]["rule_digest"]) == ("clear", window["rule_digest"])
    seen = job.evidence.filter(kind="verdict_seen").last()
    assert (seen.payload["verdict_digest"], seen.actor.role) == (given["verdict_digest"], "dispatcher")


def test_the_text_is_canonical_json() -> None:
    """RFC 8785, section 3.2.2 (no space, ECMAScript's shortest numbers) and 3.2.3 (members sorted)."""
    entry = append(make_job(), zebra=1.0, alpha=[1e21, 1e-7, 0.1], word="ü\u2028\x01", at=NOW, on=date(2026, 9, 16))
    assert '"payload":{"alpha":[1e+21,1e-7,0.1],"at":"2026-09-16T14:00:00.000000+00:00"' in entry.canonical
    assert '"on":"2026-09-16","word":"ü\u2028\\u0001","zebra":1}' in entry.canonical
    assert list(json.loads(entry.canonical)) == sorted(json.loads(entry.canonical))
    entry.refresh_from_db()
    assert evidence.verify(entry.job) is None  # the database gives back what was hashed


def test_a_value_without_a_plain_form_is_refused() -> None:
    with pytest.raises(TypeError, match="cannot be written"):
        append(make_job(), thing={1, 2})


def test_outside_a_transaction_nothing_is_written(transactional_db: None) -> None:
    job = make_job()
    with pytest.raises(transaction.TransactionManagementError):
        append(job)


def test_a_refused_write_leaves_no_entry() -> None:
    job = make_job()
    before = job.evidence.count()
    with pytest.raises(services.BadInput):
        services.record_sighting(job=job, actor=dispatcher(), now=NOW, kind="seen something")
    assert job.evidence.count() == before


CHANGES = (
    "UPDATE tickets_evidenceentry SET kind = 'other'",
    "UPDATE tickets_evidenceentry SET payload = '{}' WHERE sequence = 1",
    "DELETE FROM tickets_evidenceentry",
    "DELETE FROM tickets_evidenceentry WHERE sequence = 2",
)


@pytest.mark.parametrize("statement", CHANGES)
def test_the_database_refuses_every_change(statement: str) -> None:
    job = make_job()
    with pytest.raises(DatabaseError, match=REFUSAL), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    assert evidence.verify(job) is None


def test_the_mapper_is_refused_too() -> None:
    entry = append(make_job())
    for change in (
        lambda: EvidenceEntry.objects.update(kind="other"),
        lambda: EvidenceEntry.objects.all().delete(),
        lambda: entry.save(),
        lambda: entry.delete(),
    ):
        with pytest.raises(DatabaseError, match=REFUSAL), transaction.atomic():
            change()
    with pytest.raises(ProtectedError):
        entry.job.delete()


def test_replacing_or_forking_the_chain_is_refused() -> None:
    job = make_job()
    entry = append(job)
    copy = EvidenceEntry.objects.get(pk=entry.pk)
    copy.pk, copy.kind = None, "fork"
    with pytest.raises(DatabaseError, match=REFUSAL), transaction.atomic():
        copy.save()
    copy.sequence += 1
    with pytest.raises(DatabaseError, match="hash of the one before"), transaction.atomic():
        copy.save()
    if connection.vendor == "sqlite":
        # REPLACE deletes the old row without a delete trigger: the insert guard must catch it.
        columns = "id, job_id, sequence, kind, at, payload, canonical, previous_hash, hash"
        sql = f"INSERT OR REPLACE INTO tickets_evidenceentry ({columns}) SELECT {columns} FROM tickets_evidenceentry"
        with pytest.raises(DatabaseError, match=REFUSAL), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(sql)
    assert evidence.verify(job) is None


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_truncate_is_refused() -> None:
    make_job()
    with pytest.raises(DatabaseError, match=REFUSAL), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("TRUNCATE tickets_evidenceentry CASCADE")


TAMPERINGS = {
    "kind": ("UPDATE tickets_evidenceentry SET kind = 'other' WHERE job_id = %s AND sequence = 3", 3, "columns"),
    "payload": (
        "UPDATE tickets_evidenceentry SET payload = '{}' WHERE job_id = %s AND sequence = 2",
        2,
        "columns",
    ),
    "text": (
        "UPDATE tickets_evidenceentry SET canonical = canonical || ' ' WHERE job_id = %s AND sequence = 2",
        2,
        "hash that is stored",
    ),
    "instant": (
        "UPDATE tickets_evidenceentry SET at = '2020-01-01 00:00:00+00:00' WHERE job_id = %s AND sequence = 2",
        2,
        "columns",
    ),
    "actor": (
        "UPDATE tickets_evidenceentry SET actor_id = NULL WHERE job_id = %s AND sequence = 2",
        2,
        "actor",
    ),
    "middle cut out": ("DELETE FROM tickets_evidenceentry WHERE job_id = %s AND sequence = 2", 2, "missing"),
    "beginning cut off": ("DELETE FROM tickets_evidenceentry WHERE job_id = %s AND sequence = 1", 1, "missing"),
    "hash": (
        "UPDATE tickets_evidenceentry SET hash = previous_hash WHERE job_id = %s AND sequence = 2",
        2,
        "hash that is stored",
    ),
}


@pytest.mark.parametrize("tampering", TAMPERINGS)
def test_a_tampered_chain_names_the_first_break(tampering: str) -> None:
    job = make_clear_job()
    statement, sequence, words = TAMPERINGS[tampering]
    with guards_down() as cursor:
        cursor.execute(statement, [job.pk])
        assert cursor.rowcount == 1
    found = evidence.verify(job)
    assert found is not None
    assert (found.job_number, found.sequence) == (job.number, sequence)
    assert words in found.words


def test_a_cut_off_end_and_an_emptied_log_show() -> None:
    job = make_clear_job()
    length = job.evidence_length
    with guards_down() as cursor:
        cursor.execute("DELETE FROM tickets_evidenceentry WHERE job_id = %s AND sequence = %s", [job.pk, length])
    assert f"the job counts {length}" in str(evidence.verify(job))
    with guards_down() as cursor:
        cursor.execute("DELETE FROM tickets_evidenceentry WHERE job_id = %s", [job.pk])
    assert "holds 0 entries" in str(evidence.verify(job))


def test_a_chain_rewritten_from_some_entry_on_shows_at_its_end() -> None:
    """Someone with every right rewrites the last entry with a right hash of its own."""
    job = make_job()
    entry = job.evidence.last()
    canonical = entry.canonical.replace(entry.kind, "forged_kind")
    forged = hashlib.sha256(canonical.encode()).hexdigest()
    with guards_down() as cursor:
        cursor.execute(
            "UPDATE tickets_evidenceentry SET kind = 'forged_kind', canonical = %s, hash = %s WHERE id = %s",
            [canonical, forged, entry.pk],
        )
    assert "keeps as its last" in str(evidence.verify(job))


def test_the_command_checks_all_or_one() -> None:
    sound, broken = make_job(), make_job()
    out = StringIO()
    call_command("evidence", "verify", stdout=out)
    assert "2 chains" in out.getvalue()
    with guards_down() as cursor:
        cursor.execute(TAMPERINGS["kind"][0].replace("= 3", "= 1"), [broken.pk])
    with pytest.raises(CommandError, match=rf"1 of 2 chains are broken; the first: Job {broken.number}, entry 1"):
        call_command("evidence", "verify", stderr=StringIO())
    call_command("evidence", "verify", job=sound.number, stdout=out)
    with pytest.raises(CommandError, match="No job has the number"):
        call_command("evidence", "verify", job="none")


def test_a_correction_is_a_new_entry_with_its_reason() -> None:
    job = make_clear_job()
    ticket = job.tickets.get()
    before = list(job.evidence.values_list("hash", flat=True))
    later = datetime(2026, 9, 9, 14, 0, tzinfo=UTC)
    services.correct_ticket(ticket=ticket, actor=dispatcher(), now=NOW, reason="Read a day off", received_at=later)
    assert list(job.evidence.values_list("hash", flat=True))[: len(before)] == before
    entry = job.evidence.get(kind="ticket_corrected")
    assert entry.payload["reason"] == "Read a day off"
    assert entry.payload["before"]["received_at"] == "2026-09-08T14:00:00.000000+00:00"
    assert entry.payload["after"]["received_at"] == "2026-09-09T14:00:00.000000+00:00"
    assert State(job.evidence.filter(kind="verdict_given").last().payload["state"]) is State.CLEAR


@pytest.mark.django_db(transaction=True)
def test_tests_may_empty_the_log_and_the_guards_are_up_again() -> None:
    make_job()
    call_command("flush", interactive=False, verbosity=0)
    assert not EvidenceEntry.objects.exists()
    make_job()
    with pytest.raises(DatabaseError, match=REFUSAL), transaction.atomic():
        EvidenceEntry.objects.update(kind="other")
