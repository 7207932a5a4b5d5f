"""A followed pipe in words: its fall against the code, and the ground over what the camera saw."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from locates.field.models import Observation, Point, Run
from locates.field.plan import DigSpot
from locates.field.reckoning import baseline_of, grid_of
from locates.field.words import PLUMBING_WORDS, method_of
from locates.ground.lengths import feet_inches
from locates.ground.pipe import INCH_PER_FOOT, FallVerdict, PlumbingCode
from locates.ground.quality import Method

EVIDENCE_WORDS = {
    "reprint in a city code read": "read in a city code's reprint",
    "memory": "from memory, not looked up: check it",
}
VERDICT_WORDS = {
    FallVerdict.MEETS: "Meets the least fall",
    FallVerdict.FAILS: "Below the least fall",
    FallVerdict.BACKFALL: "Falls the wrong way",
    FallVerdict.CANNOT_TELL: "Cannot be told from these points",
}


@dataclass(frozen=True)
class FallView:
    """The fall of one pipe; `trouble` instead where it could not be reckoned."""

    run: Run
    trouble: str
    facts: tuple[tuple[str, str], ...] = ()
    stretches: tuple[tuple[str, str, str], ...] = ()
    cautions: tuple[str, ...] = ()
    good: bool = False


@dataclass(frozen=True)
class SpotView:
    """The ground over one observation; `trouble` where it has no place."""

    run: Run
    observation_id: int
    head: str
    trouble: str
    place_words: str = ""
    from_marks: str = ""
    radius_words: str = ""
    depth_words: str = ""
    basis: str = ""
    area_words: str = ""
    cautions: tuple[str, ...] = ()
    observation: Observation | None = None


def fall_view(run: Run) -> FallView | None:
    """The fall of a sonde run; None for other runs and before the first points."""
    stored = (run.result or {}).get("pipe")
    if stored is None or method_of(run.method) is not Method.SONDE:
        return None
    if stored["trouble"]:
        return FallView(run, stored["trouble"])
    verdict = FallVerdict(stored["verdict"])
    slope, half = stored["inch_per_foot"], stored["half_band_inch_per_foot"]
    least = stored["minimum"] / INCH_PER_FOOT
    worst = stored["worst_m"]
    way = "above" if worst > 0 else "below"
    facts = (
        ("Fall", f"{_per_foot(slope)} ({100 * stored['slope']:.1f} %), give or take {_per_foot(half)}"),
        ("Least fall", f"{_per_foot(least)} for {feet_inches(run.pipe_size_m or 0.0)} pipe"),
        ("By", f"{stored['source']} ({EVIDENCE_WORDS.get(stored['evidence'], stored['evidence'])})"),
        ("Verdict", VERDICT_WORDS[verdict]),
        ("Chance it is enough", f"{_percent(stored['probability'])}, if only random error is at work"),
        ("Farthest off the grade", f"Point {stored['worst_number']}, {feet_inches(abs(worst))} {way} it"),
    )
    rows = tuple(
        (
            f"{one['from_number']} to {one['to_number']}",
            feet_inches(one["length_m"]),
            f"{_per_foot(one['slope'] / INCH_PER_FOOT)}, give or take {_per_foot(one['half_band'] / INCH_PER_FOOT)}",
        )
        for one in stored["stretches"]
    )
    return FallView(run, "", facts, rows, tuple(stored["cautions"]), verdict is FallVerdict.MEETS)


def spot_views(run: Run, spots: tuple[DigSpot, ...] = ()) -> list[SpotView]:
    """The ground over each observation of a run; `spots` of the plan say what lies inside the ticket's area."""
    inside = {spot.found["observation"]: spot.inside for spot in spots if spot.run.pk == run.pk}
    rows = {one.pk: one for one in run.observations.all()}
    points = list(run.points.all())
    found = []
    for one in (run.result or {}).get("dig_points", []):
        head = f"{one['words']} at {feet_inches(one['counter_m'])} of the counter"
        base = SpotView(run, one["observation"], head, one["trouble"], observation=rows.get(one["observation"]))
        found.append(base if one["trouble"] else _placed(base, one, points, inside.get(one["observation"])))
    return found


def code_words(run: Run) -> str:
    """The plumbing code that the fall is held against."""
    return PLUMBING_WORDS[PlumbingCode(run.plumbing_code)]


def _placed(base: SpotView, one: dict[str, Any], points: list[Point], inside: bool | None) -> SpotView:
    depth = "Depth not known: expect it at any depth"
    if one["depth_m"] is not None and one["half_band_m"] is not None:
        low, high = max(0.0, one["depth_m"] - one["half_band_m"]), one["depth_m"] + one["half_band_m"]
        depth = f"Expect it from {feet_inches(low)} to {feet_inches(high)} deep"
    area = ""
    if inside is True:
        area = "The hole with its doubt lies inside the ticket's area."
    elif inside is False:
        area = "The hole with its doubt reaches outside the ticket's area: give notice for that ground first."
    return SpotView(
        run=base.run,
        observation_id=base.observation_id,
        head=base.head,
        trouble="",
        place_words=f"{one['latitude']:.7f}, {one['longitude']:.7f}",
        from_marks=_from_marks(base.run, one, points),
        radius_words=feet_inches(one["radius_m"]),
        depth_words=depth,
        basis=one["basis"],
        area_words=area,
        cautions=tuple(one["cautions"]),
        observation=base.observation,
    )


def _from_marks(run: Run, one: dict[str, Any], points: list[Point]) -> str:
    """How to find the place with a tape: along the baseline, else from the two nearest marks."""
    grid = grid_of(run)
    baseline = baseline_of(run, grid)
    if baseline is not None:
        along, left = baseline.offsets(one["x_m"], one["y_m"])
        side = "left" if left >= 0 else "right"
        return f"{feet_inches(along)} along the baseline, {feet_inches(abs(left))} {side} of it"
    spots = zip(points, grid.many_to_local([(p.latitude, p.longitude) for p in points]), strict=True)
    near = sorted((math.dist(spot, (one["x_m"], one["y_m"])), point.number) for point, spot in spots)[:2]
    return " and ".join(f"{feet_inches(away)} from point {number}" for away, number in near)


def _per_foot(inches: float) -> str:
    """Inches a foot as drains are laid: '1/4 in per ft' where it is that, else with two decimals."""
    plain = {0.0625: "1/16", 0.125: "1/8", 0.25: "1/4", 0.5: "1/2"}
    for value, words in plain.items():
        if abs(inches - value) < 5e-4:
            return f"{words} in per ft"
    return f"{inches:.2f} in per ft"


def _percent(share: float) -> str:
    if share > 0.99:
        return "more than 99 %"
    return "less than 1 %" if share < 0.01 else f"{100 * share:.0f} %"
