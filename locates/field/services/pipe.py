"""What is known of a followed pipe, and what the camera saw in it."""

from __future__ import annotations

import math
import uuid
from datetime import datetime
from typing import Any

from django.db import transaction

from locates.field import reckoning
from locates.field.models import Observation, Run
from locates.field.services.given import PipeGiven
from locates.field.words import method_of
from locates.ground import entry
from locates.ground.lengths import LengthUnit, feet_inches
from locates.ground.pipe import PlumbingCode
from locates.ground.quality import Method
from locates.ground.refusal import GroundError
from tickets import evidence
from tickets.models import Job
from tickets.services.refusals import BadInput, Conflict, Faults, need_person
from tickets.services.writing import open_job
from tickets.states import Act

WIDEST_PIPE_M = 3.0
LONGEST_HEAD_M = 3.0
MOST_OBSERVATIONS = 200


@transaction.atomic
def describe_pipe(*, run: Run, given: PipeGiven, actor: Any, now: datetime) -> Run:
    """Size, code, direction of fall, and where the sonde sits; also after the run was finished."""
    need_person(actor)
    job, run = _sonde_run(run)
    faults = Faults()
    faults.word("plumbing_code", given.plumbing_code, PlumbingCode)
    if given.pipe_size_m is not None and not 0 < given.pipe_size_m <= WIDEST_PIPE_M:
        faults.add("pipe_size", f"Give a size above zero and up to {feet_inches(WIDEST_PIPE_M)}.")
    behind = given.sonde_behind_lens_m
    if behind is not None and not 0 <= behind <= LONGEST_HEAD_M:
        faults.add("sonde_behind_lens", f"Give a length from 0 to {feet_inches(LONGEST_HEAD_M)}.")
    faults.refuse()
    run.pipe_size_m, run.plumbing_code = given.pipe_size_m, given.plumbing_code
    run.flows_away, run.sonde_behind_lens_m = given.flows_away, behind
    run.save(update_fields=["pipe_size_m", "plumbing_code", "flows_away", "sonde_behind_lens_m"])
    _renew(run, now)
    payload = {
        "run": run.pk,
        "label": run.label,
        "pipe_size_m": given.pipe_size_m,
        "plumbing_code": given.plumbing_code,
        "flows_away": given.flows_away,
        "sonde_behind_lens_m": behind,
    }
    evidence.append(job=job, kind="locate_pipe_described", actor=actor, at=now, payload=payload)
    return run


@transaction.atomic
def add_observation(
    *, run: Run, client_id: uuid.UUID, counter: str, words: str, actor: Any, now: datetime
) -> Observation:
    """What the camera saw at a reading of its counter (typed, feet unless it says more). Where that lies on
    the ground is reckoned with the run; sent again it changes nothing."""
    need_person(actor)
    job, run = _sonde_run(run)
    found = Observation.objects.filter(client_id=client_id).first()
    if found is not None:
        if found.run_id != run.pk:
            raise Conflict("That id stands for another run. Give this one an id of its own.")
        return found
    faults = Faults()
    faults.need(words=words)
    counter_m = _counter_m(counter, faults)
    faults.refuse()
    if run.observations.count() >= MOST_OBSERVATIONS:
        raise BadInput(f"This run has {MOST_OBSERVATIONS} observations already; begin another run.")
    made = Observation.objects.create(
        client_id=client_id, run=run, counter_m=counter_m, words=words.strip()[:120], by=actor, at=now
    )
    _renew(run, now)
    placed: dict[str, Any] = next(
        (d for d in (run.result or {}).get("dig_points", []) if d["observation"] == made.pk), {}
    )
    payload = {"run": run.pk, "label": run.label, **{k: v for k, v in placed.items() if k != "cautions"}}
    evidence.append(job=job, kind="camera_observation", actor=actor, at=now, payload=payload)
    return made


@transaction.atomic
def take_out_observation(*, observation: Observation, words: str, actor: Any, now: datetime) -> Observation:
    """It was wrong: it no longer counts and stays on file with the reason."""
    need_person(actor)
    job, run = _sonde_run(observation.run)
    observation = Observation.objects.select_for_update().get(pk=observation.pk)
    if observation.taken_out_at is not None:
        return observation
    observation.taken_out_at, observation.taken_out_words = now, words.strip()[:200] or "Taken out"
    observation.save(update_fields=["taken_out_at", "taken_out_words"])
    _renew(run, now)
    payload = {"run": run.pk, "label": run.label, "words": observation.words, "why": observation.taken_out_words}
    evidence.append(job=job, kind="camera_observation_out", actor=actor, at=now, payload=payload)
    return observation


def _sonde_run(run: Run) -> tuple[Job, Run]:
    """The job and the run, locked; refused for a run without a sonde."""
    job = open_job(run.job, Act.RECORD)
    locked = Run.objects.select_for_update(of=("self",)).select_related("job__site").get(pk=run.pk)
    if method_of(locked.method) is not Method.SONDE:
        raise BadInput(f"{locked.label} was not followed by a sonde: there is no camera counter to place.")
    return job, locked


def _counter_m(text: str, faults: Faults) -> float:
    if not text.strip():
        faults.add("counter", "Give what the camera's counter showed, as 43 ft.")
        return 0.0
    try:
        found = entry.parse_length_m(text, LengthUnit.FOOT, "counter")
    except GroundError as refused:
        faults.add("counter", refused.message)
        return 0.0
    if not (math.isfinite(found) and 0 <= found <= entry.JUMP_M):
        faults.add("counter", f'"{text}" cannot be: give a length from 0 to {feet_inches(entry.JUMP_M)}.')
    return found


def _renew(run: Run, now: datetime) -> None:
    points = list(run.points.filter(taken_out_at=None).order_by("number"))
    run.result, run.result_version, run.reckoned_at = reckoning.reckon(run, points), reckoning.VERSION, now
    run.save(update_fields=["result", "result_version", "reckoned_at"])
