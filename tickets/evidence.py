"""The evidence log's only writer and its checker.

An entry's hash is the SHA-256 (FIPS 180-4) of its canonical JSON (RFC 8785); the canonical text holds the
hash of the entry before, so that a change anywhere breaks every hash after it. The job keeps the number of
its entries and the last hash, so that a cut-off end shows as well.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Any

import rfc8785
from django.db import connection, transaction

from tickets.models import EvidenceEntry, Job

GENESIS = "0" * 64


@dataclass(frozen=True, slots=True)
class Break:
    """The first place at which a job's chain does not hold."""

    job_number: str
    sequence: int
    words: str

    def __str__(self) -> str:
        return f"Job {self.job_number}, entry {self.sequence}: {self.words}"


def lock_job(job_id: int) -> Job:
    """The job, locked until the transaction ends: its log has one writer at a time."""
    _need_transaction()
    return Job.objects.select_for_update(of=("self",)).select_related("site", "customer").get(pk=job_id)


def _need_transaction() -> None:
    if not connection.in_atomic_block:
        raise transaction.TransactionManagementError("The evidence log is written inside a transaction only.")


def append(*, job: Job, kind: str, actor: Any, at: datetime, payload: Mapping[str, Any]) -> EvidenceEntry:
    """Add one entry to a job's log, in the running transaction. `actor` None: the clock did it."""
    _need_transaction()
    held = Job.objects.select_for_update().values_list("number", "evidence_length", "evidence_head")
    number, length, head = held.get(pk=job.pk)
    sequence, previous = length + 1, head or GENESIS
    plain_payload = plain(payload)
    canonical = _canonical(number, sequence, kind, at, _person(actor), plain_payload, previous)
    entry = EvidenceEntry.objects.create(
        job=job,
        sequence=sequence,
        kind=kind,
        at=at,
        actor=actor,
        payload=plain_payload,
        canonical=canonical.decode(),
        previous_hash=previous,
        hash=hashlib.sha256(canonical).hexdigest(),
    )
    Job.objects.filter(pk=job.pk).update(evidence_length=sequence, evidence_head=entry.hash)
    job.evidence_length, job.evidence_head = sequence, entry.hash
    return entry


def _canonical(
    number: str, sequence: int, kind: str, at: datetime, person: Any, payload: Any, previous: str
) -> bytes:
    body = {
        "job": number,
        "sequence": sequence,
        "kind": kind,
        "at": _instant(at),
        "actor": person,
        "payload": payload,
        "previous_hash": previous,
    }
    return rfc8785.dumps(body)


def _person(actor: Any) -> dict[str, Any] | None:
    return None if actor is None else {"id": actor.pk, "username": actor.get_username(), "name": str(actor)}


def _instant(at: datetime) -> str:
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def plain(value: Any) -> Any:
    """The value as JSON holds it: instants in UTC, tuples as lists. Raises TypeError for what it does not
    know, so that nothing is logged as a mere description of itself."""
    if value is None or isinstance(value, (bool, int, float)):
        return value
    if isinstance(value, StrEnum | str):
        return str(value)
    if isinstance(value, datetime):
        return _instant(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(inner) for inner in value]
    raise TypeError(f"{type(value).__name__} cannot be written to the evidence log.")


def verify(job: Job) -> Break | None:
    """Recompute a job's chain; the first break, or None when it holds."""
    previous, expected = GENESIS, 1
    for entry in job.evidence.order_by("sequence", "pk").iterator(chunk_size=500):
        words = _fault(job, entry, expected, previous)
        if words:
            return Break(job.number, expected, words)
        previous, expected = entry.hash, expected + 1
    if expected - 1 != job.evidence_length:
        words = f"the log holds {expected - 1} entries, the job counts {job.evidence_length}."
        return Break(job.number, expected, words)
    if job.evidence_head != (previous if job.evidence_length else ""):
        return Break(job.number, expected - 1, "its hash is not the one the job keeps as its last.")
    return None


def _fault(job: Job, entry: EvidenceEntry, expected: int, previous: str) -> str:
    """What is wrong with an entry, in words; empty when it holds."""
    if entry.sequence != expected:
        return f"it is missing; the next one is numbered {entry.sequence}."
    if entry.previous_hash != previous:
        return "it does not carry the hash of the entry before."
    if hashlib.sha256(entry.canonical.encode()).hexdigest() != entry.hash:
        return "its text does not have the hash that is stored with it."
    try:
        held = json.loads(entry.canonical)
        person = held["actor"]
        payload = _doubles(entry.payload)
        again = _canonical(job.number, expected, entry.kind, entry.at, person, payload, previous)
    except (ValueError, KeyError, TypeError) as wrong:
        return f"its text cannot be read ({wrong})."
    if again.decode() != entry.canonical:
        return "its columns say something else than the text that was hashed."
    if (person or {}).get("id") != entry.actor_id:
        return "its actor is not the one in the text that was hashed."
    return ""


def _doubles(value: Any) -> Any:
    """Numbers as RFC 8785 has them: PostgreSQL gives 1e21 back as a whole number too large for a double's
    exact range, which is the same number."""
    if isinstance(value, int) and abs(value) > 2**53:
        return float(value)
    if isinstance(value, dict):
        return {key: _doubles(inner) for key, inner in value.items()}
    return [_doubles(inner) for inner in value] if isinstance(value, list) else value


def verify_all(number: str | None = None) -> Iterator[tuple[Job, Break | None]]:
    """Every job, or the one of this number, with its first break."""
    jobs = Job.objects.order_by("pk")
    if number is not None:
        jobs = jobs.filter(number=number)
    for job in jobs.iterator(chunk_size=200):
        yield job, verify(job)
