"""From stored points to what they are worth: the door between the app's rows and the ground engine.

The result is stored as plain JSON with its version, so that what was shown can be shown again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median
from typing import Any

import numpy as np

from locates.field.models import Point, Run
from locates.field.pipework import dig_points_of, fall_of
from locates.field.words import BackingKind, DeviceKind, PositionBy, method_of
from locates.ground.baseline import Baseline
from locates.ground.coordinates import LocalGrid
from locates.ground.doubt import Doubt
from locates.ground.quality import Method
from locates.ground.reading import LineReading, Receiver
from locates.ground.refusal import GroundError
from locates.ground.run import Exposure, PointRecord, RunRecord, RunResult, Transmitter, reckon_run
from locates.ground.sonde import SondeFix, fix_from_marks
from locates.ground.trace import Trace
from locates.ground.zones import GroundLine

VERSION = "2"
TAPE_SIGMA_M = 0.03  # a tape held along the ground; common practice, no source
MEASURED_WITHIN_M = 0.10  # a hole measured without saying how closely
# A position's radius of about 95 % holds 2.45 standard deviations of a plane's two axes; 2 errs on the wide side.
SIGMAS_IN_ACCURACY = 2.0


def grid_of(run: Run) -> LocalGrid:
    """Local metres about the site."""
    return LocalGrid(run.job.site.latitude, run.job.site.longitude)


def baseline_of(run: Run, grid: LocalGrid) -> Baseline | None:
    """The run's baseline; None where positions come from elsewhere."""
    marks = (run.start_latitude, run.start_longitude, run.end_latitude, run.end_longitude)
    if run.position_by != PositionBy.BASELINE or None in marks:
        return None
    start, end = grid.many_to_local([(marks[0], marks[1]), (marks[2], marks[3])])  # type: ignore[list-item]
    return Baseline(start, end, (run.mark_accuracy_m or 1.0) / SIGMAS_IN_ACCURACY)


def reckon(run: Run, points: Sequence[Point]) -> dict[str, Any]:
    """The result to store. A run that cannot be reckoned says why under `trouble`."""
    base: dict[str, Any] = {"version": VERSION, "trouble": "", "order": [p.number for p in points]}
    try:
        record = record_of(run, points)
        found = reckon_run(record)
    except GroundError as refused:
        return {**base, "trouble": refused.message}
    if method_of(run.method) is Method.SONDE:
        seen = list(run.observations.filter(taken_out_at=None).order_by("counter_m", "pk"))
        base["pipe"] = fall_of(run, points, record, found)
        base["dig_points"] = dig_points_of(run, points, seen, record, found, grid_of(run))
    return {**base, **_plain(found)}


def record_of(run: Run, points: Sequence[Point]) -> RunRecord:
    """The run as the engine takes it, on the site's grid."""
    grid = grid_of(run)
    spots = grid.many_to_local([(p.latitude, p.longitude) for p in points])
    datum, randoms = _errors(run, points, grid)
    method = method_of(run.method)
    backings = {b.kind for b in run.backings.all() if b.withdrawn_at is None}
    seals = [b.words for b in run.backings.all() if b.withdrawn_at is None and b.kind == BackingKind.SEALED]
    records = tuple(
        PointRecord(
            x_m=x,
            y_m=y,
            position_sigma_m=randoms[index],
            reading=_reading(point, method),
            sonde=_fix(point, _heading(spots, index), (x, y)) if method is Method.SONDE else None,
            exposure=_exposure(point) if is_exposed(point, method) else None,
        )
        for index, (point, (x, y)) in enumerate(zip(points, spots, strict=True))
    )
    return RunRecord(
        key=f"run-{run.pk}",
        label=run.label,
        methods=frozenset({method}),
        receiver=_receiver(run),
        points=records,
        datum_sigma_m=datum,
        outside_diameter_m=run.outside_diameter_m,
        transmitter=_transmitter(run, grid),
        surveyed=run.position_by == PositionBy.RTK or BackingKind.SURVEYED in backings,
        features_surveyed=BackingKind.FEATURES in backings,
        interpreted=bool(backings & {BackingKind.JUDGED, BackingKind.SEALED}),
        methods_agree=BackingKind.AGREE in backings,
        sealed_by=" ".join(seals),
    )


def is_exposed(point: Point, method: Method) -> bool:
    """Was the line laid open at this point? On any run a depth measured by tape says how closely."""
    return method is Method.EXPOSED or point.measured_within_m is not None


def _receiver(run: Run) -> Receiver:
    """The engine's receiver, with what is on record of the one in use."""
    used = next((d for d in run.devices.all() if d.kind == DeviceKind.RECEIVER), None)
    if used is None:
        return Receiver()
    return Receiver(frequencies_hz=tuple(used.frequencies_hz), full_scale=used.full_scale)


def line_of(run: Run) -> GroundLine | None:
    """The stored trace as the engine's line; None before there is one. The grid is `grid_of(run)`."""
    stored = (run.result or {}).get("trace")
    if not stored:
        return None

    def column(name: str) -> Any:
        return np.array([math.nan if v is None else v for v in stored[name]], dtype=float)

    trace = Trace(
        x_m=column("x_m"),
        y_m=column("y_m"),
        chainage_m=column("chainage_m"),
        position_band_m=column("position_band_m"),
        depth_m=column("depth_m"),
        depth_band_m=column("depth_band_m"),
        source=np.array(stored["source"], dtype=int),
        set_aside=(),
        gaps=tuple((a, b) for a, b in stored["gaps"]),
    )
    return GroundLine(f"run-{run.pk}", run.label, trace=trace, outside_diameter_m=run.outside_diameter_m)


def _errors(run: Run, points: Sequence[Point], grid: LocalGrid) -> tuple[float, list[float]]:
    """What shifts the whole run, and what is random at each point. A phone's error is mostly common to a run
    of a few minutes, so the whole of it is counted as common and half of it again as random."""
    baseline = baseline_of(run, grid)
    if baseline is not None and all(p.along_m is not None and p.left_m is not None for p in points):
        shifts = [baseline.sigma_m(p.along_m or 0.0, p.left_m or 0.0, TAPE_SIGMA_M) for p in points]
        return max(shifts, default=TAPE_SIGMA_M), [TAPE_SIGMA_M for _ in points]
    sigmas = [p.accuracy_m / SIGMAS_IN_ACCURACY for p in points]
    return (median(sigmas) if sigmas else 1.0), [max(0.01, s / 2.0) for s in sigmas]


def _reading(point: Point, method: Method) -> LineReading:
    if is_exposed(point, method):
        return LineReading()
    peak = 0.0
    sided = point.left_45_m is not None or point.right_45_m is not None
    null = point.null_off_m if point.null_off_m is not None else (0.0 if sided else None)
    return LineReading(
        two_antenna_m=point.depth_m,
        peak_at_m=peak if point.null_off_m is not None else None,
        null_at_m=null,
        left_45_at_m=None if point.left_45_m is None or null is None else null - point.left_45_m,
        right_45_at_m=None if point.right_45_m is None or null is None else null + point.right_45_m,
        signal=point.signal,
        current_a=None if point.current_ma is None else point.current_ma / 1000.0,
    )


def sonde_fix(behind_m: float, ahead_m: float) -> SondeFix:
    """A fix from the distances of both nulls from the peak, along +x; refuses marks no sonde makes."""
    return fix_from_marks((-behind_m, 0.0), (ahead_m, 0.0), (0.0, 0.0))


def _fix(point: Point, heading: tuple[float, float], spot: tuple[float, float]) -> SondeFix | None:
    if point.null_behind_m is None or point.null_ahead_m is None:
        return None
    (ex, ey), (x, y) = heading, spot
    rear = (x - ex * point.null_behind_m, y - ey * point.null_behind_m)
    front = (x + ex * point.null_ahead_m, y + ey * point.null_ahead_m)
    return fix_from_marks(rear, front, spot)


def _heading(spots: Sequence[tuple[float, float]], index: int) -> tuple[float, float]:
    """Unit vector along the run at a point, from its neighbours; north for a lone one."""
    before, after = spots[max(0, index - 1)], spots[min(len(spots) - 1, index + 1)]
    dx, dy = after[0] - before[0], after[1] - before[1]
    length = math.hypot(dx, dy)
    return (dx / length, dy / length) if length > 1e-6 else (0.0, 1.0)


def _exposure(point: Point) -> Exposure | None:
    if point.depth_m is None:
        return None
    within = point.measured_within_m or MEASURED_WITHIN_M
    return Exposure(point.depth_m, within, max(within, point.accuracy_m), point.target_verified)


def _transmitter(run: Run, grid: LocalGrid) -> Transmitter | None:
    if run.transmitter_latitude is None or run.transmitter_longitude is None:
        return None
    spot = grid.to_local(run.transmitter_latitude, run.transmitter_longitude)
    return Transmitter(*spot, moment_a_m2=run.transmitter_moment_a_m2)


def _plain(found: RunResult) -> dict[str, Any]:
    """The engine's result as JSON; a depth not known is null."""
    trace = found.trace
    columns = ("x_m", "y_m", "chainage_m", "position_band_m", "depth_m", "depth_band_m")
    stored = {name: [None if math.isnan(v) else round(float(v), 4) for v in getattr(trace, name)] for name in columns}
    return {
        "points": [
            {
                "depth_m": None if p.depth is None else round(p.depth.depth_m, 4),
                "half_band_m": None if p.depth is None else round(p.depth.half_band_m, 4),
                "checked": "" if p.depth is None else str(p.depth.checked),
                "doubts": [doubt_words(d) for d in p.doubts],
            }
            for p in found.points
        ],
        "along": [
            {"from_m": round(d.from_m, 3), "to_m": round(d.to_m, 3), **doubt_words(d.doubt)} for d in found.along
        ],
        "trace": {
            **stored,
            "source": [int(i) for i in trace.source],
            "gaps": [[round(a, 3), round(b, 3)] for a, b in trace.gaps],
            "set_aside": [{"index": s.index, "what": s.what, "off_m": s.off_m} for s in trace.set_aside],
        },
        "quality": [
            {
                "from_m": round(s.from_m, 3),
                "to_m": round(s.to_m, 3),
                "claim": str(s.quality.claim),
                "supports": str(s.quality.supports),
                "pas": str(s.quality.pas),
                "reasons": list(s.quality.reasons),
                "missing": list(s.quality.missing),
                "must_say": list(s.quality.must_say),
            }
            for s in found.quality
        ],
        "cautions": list(found.cautions),
    }


def doubt_words(doubt: Doubt) -> dict[str, Any]:
    """A warning with its figure and what to do about it."""
    return {
        "code": doubt.code,
        "grade": str(doubt.grade),
        "message": doubt.message,
        "remedy": doubt.remedy,
    }
