"""Writes of emergency digs: why, by whom, who was told, and when it was over."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from tickets import evidence
from tickets.models import EmergencyDig, Job
from tickets.services.refusals import Conflict, Faults, need_person
from tickets.services.writing import conclude, open_job
from tickets.states import EMERGENCY, Act, after


@transaction.atomic
def declare_emergency(
    *, job: Job, actor: Any, now: datetime, reason: str, declared_at: datetime | None = None
) -> EmergencyDig:
    """Life, health or property are in danger and the dig cannot wait. Anyone on the job may declare it;
    the reason and the name stay on file."""
    need_person(actor)
    job = open_job(job, Act.RECORD)
    at = declared_at or now
    faults = Faults()
    faults.need(reason=reason)
    faults.instant("declared_at", at, not_before=(job.created_at, "the job was entered"), not_after=(now, "now"))
    faults.refuse()
    if job.emergencies.filter(closed_at=None).exists():
        raise Conflict("An emergency dig is open on this job already.")
    dig = EmergencyDig.objects.create(job=job, reason=reason.strip(), declared_by=actor, declared_at=at)
    payload = {"reason": dig.reason, "declared_at": at}
    evidence.append(job=job, kind="emergency_declared", actor=actor, at=now, payload=payload)
    conclude(job=job, actor=actor, now=now)
    return dig


@transaction.atomic
def note_emergency_told(
    *,
    emergency: EmergencyDig,
    actor: Any,
    now: datetime,
    centre_told_at: datetime | None = None,
    operators_told_at: datetime | None = None,
) -> EmergencyDig:
    """When the notification centre, the operators, or both were told."""
    need_person(actor)
    job, dig = _open(emergency, Act.TELL)
    faults = Faults()
    if centre_told_at is None and operators_told_at is None:
        faults.add("centre_told_at", "say when the notification centre or the operators were told.")
    for field, at in (("centre_told_at", centre_told_at), ("operators_told_at", operators_told_at)):
        faults.instant(field, at, not_after=(now, "now"))
    faults.refuse()
    dig.centre_told_at = centre_told_at or dig.centre_told_at
    dig.operators_told_at = operators_told_at or dig.operators_told_at
    dig.save(update_fields=["centre_told_at", "operators_told_at"])
    payload = {"centre_told_at": dig.centre_told_at, "operators_told_at": dig.operators_told_at}
    evidence.append(job=job, kind="emergency_told", actor=actor, at=now, payload=payload)
    conclude(job=job, actor=actor, now=now)
    return dig


@transaction.atomic
def close_emergency(*, emergency: EmergencyDig, actor: Any, now: datetime) -> EmergencyDig:
    """The danger is over. Refused until the centre has been told."""
    need_person(actor)
    job, dig = _open(emergency, Act.CLOSE)
    dig.closed_at = now
    dig.save(update_fields=["closed_at"])
    evidence.append(job=job, kind="emergency_closed", actor=actor, at=now, payload={"closed_at": now})
    conclude(job=job, actor=actor, now=now)
    return dig


def _open(emergency: EmergencyDig, act: Act) -> tuple[Job, EmergencyDig]:
    job = open_job(Job(pk=emergency.job_id), Act.RECORD)
    dig = EmergencyDig.objects.get(pk=emergency.pk)
    after(EMERGENCY, dig.life, act, what="The emergency dig")
    return job, dig
