"""What a quality level rests on besides the points: recorded with who and when, withdrawn with a reason."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from locates.field import reckoning
from locates.field.models import Backing, Run
from locates.field.words import BackingKind, method_of
from locates.ground.agreement import agreement
from locates.ground.quality import GEOPHYSICS
from locates.ground.refusal import GroundError
from tickets import evidence
from tickets.models import Job
from tickets.services.refusals import BadInput, Conflict, Faults, need_office, need_person
from tickets.services.writing import open_job
from tickets.states import Act

LEAST_WORDS = 10


@transaction.atomic
def add_backing(
    *,
    run: Run,
    client_id: uuid.UUID,
    kind: str,
    words: str,
    actor: Any,
    now: datetime,
    other_run: int | None = None,
) -> Backing:
    """Something that was done for a run, also after it was finished. That another method agrees is not taken
    on anybody's word: the two traces are compared. A seal is recorded by the office, which holds the paper."""
    need_person(actor)
    job = open_job(run.job, Act.RECORD)
    found = Backing.objects.filter(client_id=client_id).first()
    if found is not None:
        if found.run_id != run.pk:
            raise Conflict("That id stands for another run. Give this one an id of its own.")
        return found
    run = Run.objects.select_for_update(of=("self",)).select_related("job__site").get(pk=run.pk)
    faults = Faults()
    faults.word("kind", kind, BackingKind)
    if len(words.strip()) < LEAST_WORDS:
        faults.add("words", "Say what was done, by whom and when, and from which papers.")
    faults.refuse()
    if kind == BackingKind.SEALED:
        need_office(actor)
    if run.backings.filter(kind=kind, other_run=other_run, withdrawn_at=None).exists():
        raise BadInput("That is recorded already for this run.", fields={"kind": "Recorded already."})
    figures = _agreed(run, other_run) if kind == BackingKind.AGREE else ""
    made = Backing.objects.create(
        client_id=client_id,
        run=run,
        kind=kind,
        words=words.strip()[:300],
        other_run_id=other_run if kind == BackingKind.AGREE else None,
        figure_words=figures,
        by=actor,
        at=now,
    )
    _renew(run, now)
    payload = {"run": run.pk, "label": run.label, "kind": kind, "words": made.words, "figures": figures}
    _log(job, "locate_backing_added", actor, now, payload)
    return made


@transaction.atomic
def withdraw_backing(*, backing: Backing, words: str, actor: Any, now: datetime) -> Backing:
    """It turned out not to hold: it no longer counts and stays on file."""
    need_person(actor)
    job = open_job(backing.run.job, Act.RECORD)
    backing = Backing.objects.select_for_update(of=("self",)).select_related("run__job__site").get(pk=backing.pk)
    if backing.withdrawn_at is not None:
        return backing
    if backing.kind == BackingKind.SEALED:
        need_office(actor)
    if not words.strip():
        raise BadInput("Say why it does not hold.", fields={"words": "Say why it does not hold."})
    backing.withdrawn_at, backing.withdrawn_words = now, words.strip()[:200]
    backing.save(update_fields=["withdrawn_at", "withdrawn_words"])
    run = Run.objects.select_for_update(of=("self",)).select_related("job__site").get(pk=backing.run_id)
    _renew(run, now)
    payload = {"run": run.pk, "label": run.label, "kind": backing.kind, "words": backing.withdrawn_words}
    _log(job, "locate_backing_withdrawn", actor, now, payload)
    return backing


def _agreed(run: Run, other_run: int | None) -> str:
    """What comparing the two traces found; refuses runs that do not agree, and runs of one method."""
    if other_run is None:
        raise _refused("Choose the other run at this job.")
    other = Run.objects.select_related("job__site").filter(pk=other_run, job=run.job_id).exclude(pk=run.pk).first()
    if other is None:
        raise _refused("Choose the other run at this job.")
    methods = {method_of(run.method), method_of(other.method)}
    if len(methods) < 2 or not methods <= GEOPHYSICS:
        raise _refused(
            f"{other.label} was found {other.get_method_display().lower()}: two different methods that detect the "
            "line are wanted, not one twice."
        )
    first, second = reckoning.line_of(run), reckoning.line_of(other)
    if first is None or second is None or first.trace is None or second.trace is None:
        raise _refused("Both runs need a line first: two points at least.")
    try:
        compared = agreement(first.trace, second.trace)
    except GroundError as refused:
        raise _refused(refused.message) from None
    if not compared.agrees:
        raise _refused(f"The two do not agree. {compared.message} Find out which of them is right.")
    return compared.message


def _refused(words: str) -> BadInput:
    return BadInput(words, fields={"other_run": words})


def _renew(run: Run, now: datetime) -> None:
    points = list(run.points.filter(taken_out_at=None).order_by("number"))
    run.result, run.result_version, run.reckoned_at = reckoning.reckon(run, points), reckoning.VERSION, now
    run.save(update_fields=["result", "result_version", "reckoned_at"])


def _log(job: Job, kind: str, actor: Any, now: datetime, payload: Mapping[str, Any]) -> None:
    evidence.append(job=job, kind=kind, actor=actor, at=now, payload=payload)
