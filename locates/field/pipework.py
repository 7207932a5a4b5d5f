"""What a sonde run says of its pipe: the fall against the code, and where on the ground the camera's counter
lies. From the run's points through the engine, as plain JSON.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from locates.field.models import Observation, Point, Run
from locates.ground.coordinates import LocalGrid
from locates.ground.counter import Counter, DigPoint, dig_point
from locates.ground.pipe import Fall, PlumbingCode, SondePoint, Stretch, fall, stretches
from locates.ground.refusal import GroundError
from locates.ground.run import PointResult, RunRecord, RunResult

NO_SIZE = "Give the pipe's nominal size; the least fall hangs on it."


def fall_of(run: Run, points: Sequence[Point], record: RunRecord, found: RunResult) -> dict[str, Any]:
    """The fall of the pipe; `trouble` says what is wanted where it cannot be reckoned.

    Only the random part of each depth counts here: what shifts all depths alike leaves the fall as it is. A
    depth that lies off its neighbours stays in: it may be a sag.
    """
    kept = _kept(found)
    numbers = [points[i].number for i in kept]
    marks = [_mark(points[i], record, i, found.points[i], whole=False) for i in kept]
    if run.pipe_size_m is None:
        return {"trouble": NO_SIZE}
    try:
        reckoned = fall(marks, run.pipe_size_m, PlumbingCode(run.plumbing_code), run.flows_away)
        between = stretches(marks, run.flows_away)
    except GroundError as refused:
        return {"trouble": refused.message}
    return {"trouble": "", **_plain_fall(reckoned, numbers), "stretches": [_stretch(s, numbers) for s in between]}


def dig_points_of(
    run: Run,
    points: Sequence[Point],
    observations: Sequence[Observation],
    record: RunRecord,
    found: RunResult,
    grid: LocalGrid,
) -> list[dict[str, Any]]:
    """The ground over each observation, by its id; `trouble` says why one has no place."""
    kept = _kept(found)
    odd = {s.index for s in found.trace.set_aside}
    marks = [_mark(points[i], record, i, found.points[i], whole=True, doubtful=i in odd) for i in kept]
    counter = Counter(sonde_behind_lens_m=run.sonde_behind_lens_m or 0.0)
    placed: list[dict[str, Any]] = []
    for one in observations:
        base: dict[str, Any] = {"observation": one.pk, "counter_m": one.counter_m, "words": one.words}
        try:
            spot = dig_point(marks, one.counter_m, counter)
        except GroundError as refused:
            placed.append({**base, "trouble": refused.message})
            continue
        placed.append({**base, "trouble": "", **_plain_spot(spot, grid)})
    return placed


def _kept(found: RunResult) -> list[int]:
    """Indices of the points whose place was not set aside, in the order walked."""
    aside = {s.index for s in found.trace.set_aside if s.what != "depth"}
    return [i for i in range(len(found.points)) if i not in aside]


def _mark(
    point: Point, record: RunRecord, index: int, worth: PointResult, *, whole: bool, doubtful: bool = False
) -> SondePoint:
    """A point as the pipe's rooms take it; `whole` with everything that its depth may be off. A `doubtful`
    depth is none."""
    spot = record.points[index]
    depth, sigma = None, 0.05
    if worth.depth is not None and not doubtful:
        depth = worth.depth.depth_m
        sigma = worth.depth.half_band_m / 2.0 if whole else worth.depth.random_sigma_m
    return SondePoint(
        x_m=spot.x_m,
        y_m=spot.y_m,
        depth_m=depth,
        depth_sigma_m=sigma,
        position_sigma_m=(spot.position_sigma_m**2 + record.datum_sigma_m**2) ** 0.5,
        ground_level_m=point.ground_level_m,
        counter_m=point.counter_m,
    )


def _plain_fall(found: Fall, numbers: Sequence[int]) -> dict[str, Any]:
    return {
        "slope": round(found.slope, 6),
        "half_band": round(found.half_band, 6),
        "inch_per_foot": round(found.inch_per_foot, 4),
        "half_band_inch_per_foot": round(found.half_band_inch_per_foot, 4),
        "probability": round(found.probability, 4),
        "verdict": str(found.verdict),
        "minimum": round(found.minimum.slope, 6),
        "source": found.minimum.source,
        "evidence": found.minimum.evidence,
        "worst_m": round(found.worst_residual_m, 4),
        "worst_number": numbers[found.worst_index],
        "cautions": list(found.cautions),
    }


def _stretch(found: Stretch, numbers: Sequence[int]) -> dict[str, Any]:
    return {
        "from_number": numbers[found.from_index],
        "to_number": numbers[found.to_index],
        "length_m": round(found.length_m, 3),
        "slope": round(found.slope, 6),
        "half_band": round(found.half_band, 6),
    }


def _plain_spot(spot: DigPoint, grid: LocalGrid) -> dict[str, Any]:
    latitude, longitude = grid.to_position(spot.x_m, spot.y_m)
    return {
        "x_m": round(spot.x_m, 4),
        "y_m": round(spot.y_m, 4),
        "latitude": round(latitude, 8),
        "longitude": round(longitude, 8),
        "radius_m": round(spot.radius_of_doubt_m, 4),
        "depth_m": None if spot.depth_m is None else round(spot.depth_m, 4),
        "half_band_m": None if spot.depth_half_band_m is None else round(spot.depth_half_band_m, 4),
        "basis": spot.basis,
        "cautions": list(spot.cautions),
    }
