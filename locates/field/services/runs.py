"""Beginning and finishing a run."""

from __future__ import annotations

import uuid
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from locates.field import reckoning
from locates.field.models import Device, Run
from locates.field.services.begun import check_begun, log_begun
from locates.field.services.devices import Instrumented, check_devices, check_frequency, device_row
from locates.field.services.given import RunGiven
from locates.field.words import METHODS, PositionBy, method_of
from locates.ground import entry
from locates.ground.baseline import Baseline
from locates.ground.coordinates import LocalGrid
from locates.ground.quality import Method
from locates.ground.refusal import GroundError
from locates.lengths import feet_and_inches
from tickets import evidence
from tickets.models import Job
from tickets.services import record_private_locate
from tickets.services.refusals import Conflict, Faults, need_person
from tickets.services.writing import open_job
from tickets.states import WORDS, Act, Utility

STRONGEST_A_M2 = 1000.0  # no portable transmitter is stronger; a setting, no source
WIDEST_M = 3.0  # no line in a yard is wider


@transaction.atomic
def start_run(
    *, job: Job, client_id: uuid.UUID, given: RunGiven, actor: Any, now: datetime, begun_at: datetime | None = None
) -> Run:
    """A new run on an open job. Sent again with the same id it changes nothing and gives the first. `begun_at`
    is the moment on a phone that had no connection then: instruments are kept as they stood on that day."""
    need_person(actor)
    job = open_job(job, Act.RECORD)
    found = Run.objects.filter(client_id=client_id).first()
    if found is not None:
        if found.job_id != job.pk:
            raise Conflict("That id stands for a run of another job. Give the run an id of its own.")
        return found
    faults = Faults()
    begun = check_begun(job, begun_at, now, faults)
    on = begun.astimezone(ZoneInfo(job.site.time_zone)).date()
    frequency, devices = _check(job, given, on, faults)
    at = given.start_at or (None, None)
    end = given.end_at or (None, None)
    transmitter = given.transmitter_at or (None, None)
    run = Run.objects.create(
        client_id=client_id,
        job=job,
        label=given.label.strip()[:80],
        method=given.method,
        utility=given.utility,
        owner_words=given.owner_words.strip()[:120],
        frequency_hz=frequency,
        outside_diameter_m=given.outside_diameter_m,
        transmitter_words=given.transmitter_words.strip()[:300],
        transmitter_latitude=transmitter[0],
        transmitter_longitude=transmitter[1],
        transmitter_moment_a_m2=given.transmitter_moment_a_m2,
        ground_words=given.ground_words.strip()[:200],
        weather_words=given.weather_words.strip()[:200],
        position_by=given.position_by,
        start_words=given.start_words.strip()[:120],
        start_latitude=at[0],
        start_longitude=at[1],
        end_words=given.end_words.strip()[:120],
        end_latitude=end[0],
        end_longitude=end[1],
        mark_accuracy_m=given.mark_accuracy_m,
        begun_at=begun,
        begun_by=actor,
    )
    Device.objects.bulk_create([device_row(run, device, on) for device in devices])
    log_begun(run, actor, now)
    return run


@transaction.atomic
def finish_run(
    *,
    run: Run,
    found: bool,
    words: str,
    locate_complete: bool,
    actor: Any,
    now: datetime,
) -> Run:
    """No more points. `locate_complete` is the person's word that everything likely at this job was looked
    for: only then is the private locate recorded and the verdict judged anew."""
    need_person(actor)
    job = open_job(run.job, Act.RECORD)
    run = Run.objects.select_for_update().get(pk=run.pk)
    if not run.is_open:
        raise Conflict(f"{run.label} was finished before.")
    points = list(run.points.filter(taken_out_at=None).order_by("number"))
    _check_finish(run, found, words, points)
    run.job = job
    if locate_complete:
        others = Run.objects.filter(job=job, finished_at=None).exclude(pk=run.pk).count()
        if others:
            text = f"{others} other run{'s' if others > 1 else ''} of this job are not finished. Finish them first."
            raise Conflict(text, fields={"locate_complete": text})
    run.finished_at, run.finished_by, run.found, run.finding_words = now, actor, found, words.strip()
    run.result = reckoning.reckon(run, points)
    run.result_version, run.reckoned_at = reckoning.VERSION, now
    run.save()
    payload = {"run": run.pk, "label": run.label, "method": run.method, "found": found, "points": len(points)}
    evidence.append(job=job, kind="locate_run_finished", actor=actor, at=now, payload=payload)
    if locate_complete:
        made = record_private_locate(job=job, actor=actor, now=now, result_words=result_words(job))
        run.private_locate = made
        run.save(update_fields=["private_locate"])
    return run


def result_words(job: Job) -> str:
    """What all finished runs of the job found, a line of text each, for the log and the verdict's reader."""
    lines = []
    for run in Run.objects.filter(job=job).exclude(finished_at=None).order_by("begun_at", "pk"):
        sought, known = _way_words(method_of(run.method))
        if not run.found:
            said = f" {run.finding_words}" if run.finding_words else ""
            lines.append(f"{run.label}: nothing found {sought}, which is not the same as nothing there.{said}")
            continue
        what = WORDS[Utility(run.utility)].lower()
        lines.append(f"{run.label} ({what}): {known}{_depth_words(run)}. {run.finding_words}".strip())
    return "\n".join(" ".join(line.split()) for line in lines)


def _way_words(method: Method) -> tuple[str, str]:
    """How it was looked for, and how it is known."""
    if method is Method.EXPOSED:
        return "by opening the ground", method.value
    if method.value.startswith("from "):
        return method.value, f"known {method.value}"
    return f"by {method.value}", f"found by {method.value}"


def _depth_words(run: Run) -> str:
    stored = (run.result or {}).get("trace") or {}
    read = [
        (d, b)
        for d, b in zip(stored.get("depth_m", []), stored.get("depth_band_m", []), strict=True)
        if d is not None
    ]
    if not read:
        return ", depth not known"
    low, high = max(0.0, min(d - b for d, b in read)), max(d + b for d, b in read)
    return f", expect it from {feet_and_inches(low)} to {feet_and_inches(high)} deep"


def _check(job: Job, given: RunGiven, on: date, faults: Faults) -> tuple[float | None, list[Instrumented]]:
    """Refuses with every fault; gives the frequency as the receiver has it, and the instruments."""
    faults.need(label=given.label)
    faults.word("utility", given.utility, Utility)
    faults.word("position_by", given.position_by, PositionBy)
    if given.method not in dict(METHODS):
        faults.add("method", "Choose how the line is looked for.")
        faults.refuse()
    method = method_of(given.method)
    if given.outside_diameter_m is not None and not 0 < given.outside_diameter_m <= WIDEST_M:
        faults.add("outside_diameter", f"Give a size above zero and up to {feet_and_inches(WIDEST_M)}.")
    moment = given.transmitter_moment_a_m2
    if moment is not None and not 0 < moment <= STRONGEST_A_M2:
        faults.add("transmitter_moment", f"Give a figure above zero and up to {STRONGEST_A_M2:g} A m2, or none.")
    devices = check_devices(method, given.devices, on, faults)
    frequency = check_frequency(method, given.frequency_hz, devices, faults)
    _check_places(job, given, faults)
    faults.refuse()
    return frequency, devices


def _check_places(job: Job, given: RunGiven, faults: Faults) -> None:
    for name in ("transmitter_at", "start_at", "end_at"):
        spot = getattr(given, name)
        if spot is not None:
            try:
                entry.check_position(*spot)
            except GroundError as refused:
                faults.add(name, refused.message)
    if given.position_by != PositionBy.BASELINE:
        return
    if given.start_at is None:
        faults.add("start_at", "Give the position of the first fixed mark.")
    if given.end_at is None:
        faults.add("end_at", "Give the position of the second fixed mark.")
    if given.mark_accuracy_m is None or not 0 < given.mark_accuracy_m <= 30:
        faults.add("mark_accuracy", "Say how well the fixed marks' positions are known, as 15 ft or 2 in.")
    if given.start_at is None or given.end_at is None or faults.by_field:
        return
    grid = LocalGrid(job.site.latitude, job.site.longitude)
    try:
        base = Baseline(grid.to_local(*given.start_at), grid.to_local(*given.end_at))
    except GroundError as refused:
        faults.add("end_at", refused.message)
        return
    if base.length_m > entry.JUMP_M:
        faults.add("end_at", f"The marks lie {feet_and_inches(base.length_m)} apart; check both positions.")


def _check_finish(run: Run, found: bool, words: str, points: list[Any]) -> None:
    faults = Faults()
    if found and len(points) < 2:
        faults.add("found", f"A line that was found has two points at least; this run has {len(points)}.")
    if found and len(points) >= 2 and (run.result or {}).get("trouble"):
        faults.add("found", f"The points make no line yet. {(run.result or {})['trouble']}")
    if not found and not words.strip():
        faults.add("words", "Say where and how it was looked for: nothing found is a finding too.")
    faults.refuse()
