"""What the page of a job's locates shows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from locates.field.drawing import draw
from locates.field.models import Device, Run
from locates.field.pages.fields import hertz_words
from locates.field.plan import DigOnPlan, Trench, site_plan
from locates.field.profile import profiles
from locates.field.selectors import runs_of
from locates.field.words import COLOUR_WORDS, LETTERS
from locates.ground.caution import DEPTH_IS_NOT_PERMISSION, LAW_RULES, UNKNOWN_IS_NOT_CLEAR
from locates.ground.lengths import CUBIC_YARD_M3, feet_inches
from tickets.models import Job


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
    return {
        "plan": plan,
        "drawing": draw(plan),
        "plan_lines": [view for view in runs if view.run.pk in drawn],
        "profiles": profiles(plan),
        "shares": [words for dig in plan.digs for words in _dig_words(dig)],
        "trenches": [_trench_view(dig.trench) for dig in plan.digs if dig.trench is not None],
        "job": job,
        "zone": job.site.time_zone,
        "runs": runs,
        "recorded": next(iter(job.private_locates.all()), None),
        "cautions": (DEPTH_IS_NOT_PERMISSION, UNKNOWN_IS_NOT_CLEAR, LAW_RULES),
    }


@dataclass(frozen=True)
class TrenchView:
    """What a trench takes, in words."""

    name: str
    facts: tuple[tuple[str, str], ...]
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]


def _trench_view(trench: Trench) -> TrenchView:
    takes = trench.takes
    facts = [
        ("Size planned", f"{feet_inches(trench.width_m)} wide, {feet_inches(trench.depth_m)} deep"),
        ("Protective system", str(takes.protection).capitalize()),
        ("Soil reckoned with", str(takes.soil_used).capitalize()),
    ]
    if takes.slope is not None and takes.top_width_m is not None:
        facts.append(("Top width when sloped", f"{feet_inches(takes.top_width_m)} ({takes.slope:g} to 1)"))
    facts.append(("Inside the ticket's area", trench.fit_words))
    if takes.loose_m3 is not None:
        facts.append(("Spoil when sloped", _spoil(takes.loose_m3, takes.truck_loads or 0)))
    facts.append(("Spoil with vertical sides", _spoil(takes.shielded_loose_m3, takes.shielded_truck_loads)))
    facts.append(("Spoil set-back", f"{feet_inches(takes.spoil_set_back_m)} from the edge at least"))
    if takes.ladders:
        facts.append(("Ways out", f"{takes.ladders} at least"))
    return TrenchView(trench.name, tuple(facts), takes.reasons, takes.cautions)


def _spoil(loose_m3: float, loads: int) -> str:
    return f"{loose_m3 / CUBIC_YARD_M3:.0f} cubic yards loose, {loads} load{'' if loads == 1 else 's'} of 10"


def _dig_words(dig: DigOnPlan) -> tuple[str, ...]:
    name = dig.area.name or "The dig area"
    if dig.refused:
        return (f"{name}: {dig.refused}",)
    if not dig.zones:
        return (f"{name}: no located line reaches into it. What was not looked for may still be there.",)
    return (f"{name}: {max(1, round(100 * dig.share))} % of it is dug by hand or vacuum.", *dig.cautions)


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
        level=_level(result),
        doubts=_doubts(result),
        devices=tuple(run.devices.all()),
    )


def _level(result: dict[str, Any]) -> str:
    """The least quality level that may be claimed along the run."""
    claims = [segment["claim"] for segment in result.get("quality", [])]
    return max(claims) if claims else ""


def _doubts(result: dict[str, Any]) -> tuple[str, ...]:
    """Every warning's words, each once."""
    words = [result["trouble"]] if result.get("trouble") else []
    words += [d["message"] for point in result.get("points", []) for d in point["doubts"]]
    words += [d["message"] for d in result.get("along", [])]
    words += [
        f"{len(aside)} point{'s' if len(aside) > 1 else ''} lay off the others and were set aside."
        for aside in [(result.get("trace") or {}).get("set_aside", [])]
        if aside
    ]
    return tuple(dict.fromkeys(words))
