"""What the page of a job's locates shows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from locates.field.drawing import draw
from locates.field.models import Device, Run
from locates.field.pages.access import local_day
from locates.field.pages.dig_view import dig_words, excavation_view
from locates.field.pages.fields import hertz_words
from locates.field.pages.pipe_view import spot_views
from locates.field.pages.quality import level_words
from locates.field.plan import site_plan
from locates.field.profile import profiles
from locates.field.selectors import runs_of
from locates.field.words import COLOUR_WORDS, LETTERS
from locates.ground.caution import DEPTH_IS_NOT_PERMISSION, LAW_RULES, UNKNOWN_IS_NOT_CLEAR
from locates.ground.doubt import Grade
from locates.ground.lengths import feet_inches
from tickets.models import Job

GRADES = [str(grade) for grade in Grade]


@dataclass(frozen=True)
class RunView:
    """One run in a list: what it found, how sure, with what."""

    run: Run
    colour_words: str
    letters: str
    how_words: str
    depth_words: str
    band_words: str
    length_words: str
    level: str
    doubts: tuple[str, ...]
    devices: tuple[Device, ...]


def job_context(job: Job, now: datetime) -> dict[str, Any]:
    """Everything on the page, for a job loaded by `located_job`."""
    rows = runs_of(job)
    runs = [run_view(run) for run in rows]
    plan = site_plan(job, rows, now)
    drawn = {one.run.pk for one in plan.lines}
    today = local_day(job, now)
    return {
        "plan": plan,
        "drawing": draw(plan),
        "plan_lines": [view for view in runs if view.run.pk in drawn],
        "profiles": profiles(plan),
        "shares": [words for dig in plan.digs for words in dig_words(dig)],
        "excavations": [excavation_view(d.excavation, today) for d in plan.digs if d.excavation is not None],
        "shallow": [dig.area for dig in plan.digs if dig.area.planned_depth_m is None],
        "spots": [spot for run in rows for spot in spot_views(run, plan.spots)],
        "job": job,
        "zone": job.site.time_zone,
        "runs": runs,
        "recorded": next(iter(job.private_locates.all()), None),
        "cautions": (DEPTH_IS_NOT_PERMISSION, UNKNOWN_IS_NOT_CLEAR, LAW_RULES),
    }


def run_view(run: Run) -> RunView:
    """A run's figures in words."""
    result = run.result or {}
    trace = result.get("trace") or {}
    bands = trace.get("position_band_m", [])
    read = [
        (d, b)
        for d, b in zip(trace.get("depth_m", []), trace.get("depth_band_m", []), strict=True)
        if d is not None and b is not None
    ]
    depth = "Depth not known"
    if read:
        low, high = max(0.0, min(d - b for d, b in read)), max(d + b for d, b in read)
        depth = f"Expect it from {feet_inches(low)} to {feet_inches(high)} deep"
    how = [run.get_method_display(), hertz_words(run.frequency_hz)]
    return RunView(
        run=run,
        colour_words=COLOUR_WORDS[run.utility],
        letters=LETTERS[run.utility],
        how_words=", ".join(part for part in how if part),
        depth_words=depth,
        band_words=f"{feet_inches(max(bands))} to either side" if bands else "",
        length_words=feet_inches(trace["chainage_m"][-1]) if trace else "",
        level=level_words(run),
        doubts=_doubts(run, result),
        devices=tuple(run.devices.all()),
    )


def _doubts(run: Run, result: dict[str, Any]) -> tuple[str, ...]:
    """Every warning's words, each once."""
    words = [result["trouble"]] if result.get("trouble") else []
    words += [f"{d.name}: {_lower(d.calibration_words)}." for d in run.devices.all() if d.overdue]
    words += _gathered([d for point in result.get("points", []) for d in point["doubts"]], "at", "point")
    words += _gathered(result.get("along", []), "along", "stretch")
    words += [
        f"{len(aside)} point{'s' if len(aside) > 1 else ''} lay off the others and were set aside."
        for aside in [(result.get("trace") or {}).get("set_aside", [])]
        if aside
    ]
    return tuple(dict.fromkeys(words))


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


def _gathered(doubts: list[dict[str, Any]], where: str, what: str) -> list[str]:
    """One warning of each kind, the gravest, with how many more there are: the run's page has them all."""
    by_code: dict[str, list[dict[str, Any]]] = {}
    for doubt in doubts:
        by_code.setdefault(doubt["code"], []).append(doubt)
    said = []
    for alike in by_code.values():
        worst = max(alike, key=lambda d: GRADES.index(d["grade"]))
        more = len(alike) - 1
        plural = "" if more == 1 else ("es" if what == "stretch" else "s")
        message = worst["message"][:1].upper() + worst["message"][1:]
        said.append(f"{message} The like {where} {more} more {what}{plural}." if more else message)
    return said
