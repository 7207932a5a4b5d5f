"""Who has read which verdict: a person's word that goes into the evidence log."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from crews.models import Person
from locates.errors import FirstspadeError
from tickets.models import EvidenceEntry, Job
from tickets.services import acknowledge_verdict
from tickets.services.writing import verdict_digest
from tickets.verdict import Verdict

SEEN = "verdict_seen"


class VerdictChanged(FirstspadeError):
    """What the person has read is no longer what stands."""

    code = "verdict_changed"
    conflict = True


@dataclass(frozen=True, slots=True)
class Reading:
    """One person who has read the verdict as it stands."""

    person_id: int
    name: str
    at: datetime


def readings_of(digests: Mapping[int, str]) -> dict[int, tuple[Reading, ...]]:
    """Who has read these verdicts (digest by job), each person once, the first time; one query."""
    entries = EvidenceEntry.objects.filter(
        job_id__in=digests, kind=SEEN, payload__verdict_digest__in=set(digests.values())
    )
    found: dict[int, dict[int, Reading]] = {job_id: {} for job_id in digests}
    for entry in entries.select_related("actor").order_by("job_id", "sequence"):
        if entry.actor is not None and entry.payload.get("verdict_digest") == digests[entry.job_id]:
            found[entry.job_id].setdefault(entry.actor.pk, Reading(entry.actor.pk, str(entry.actor), entry.at))
    return {job_id: tuple(by_person.values()) for job_id, by_person in found.items()}


@transaction.atomic
def say_read(*, job: Job, digest: str, actor: Person, now: datetime) -> Verdict:
    """Log that the actor has read the verdict with this digest. Raises VerdictChanged, and logs nothing,
    when another verdict stands by now: nobody is put down as having read what was not shown."""
    found = acknowledge_verdict(job=job, actor=actor, now=now)
    if verdict_digest(found) != digest:
        raise VerdictChanged("The verdict has changed since this page was loaded. Read it as it stands now.")
    return found
