"""One locate run reckoned whole: depths, doubts, trace, quality, from what the crew recorded. Pure.

This is the room the application enters by: it hands over a `RunRecord` and gets a `RunResult` whose `line`
goes into `zones.hand_dig_plan` and `crossing.crossings`. What smoothing cannot average away (the receiver's
calibration, a neighbour's pull, the datum) is kept apart and put back into the bands after the fit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from locates.ground import sonde
from locates.ground.depth import Depth, combined_depth, estimates, sonde_depth
from locates.ground.doubt import DEFAULT_LIMITS, Doubt, Grade, Limits, point_doubts, transmitter_doubts
from locates.ground.quality import GEOPHYSICS, Evidence, Method, Segment, segments
from locates.ground.reading import LineReading, Receiver
from locates.ground.refusal import GroundError, positive
from locates.ground.run_doubt import RunDoubt, RunPoint, run_doubts, sonde_at_the_foot, sonde_doubts
from locates.ground.sonde import SondeFix
from locates.ground.trace import Trace, TracePoint, fit_trace
from locates.ground.zones import GroundLine

NO_DEPTH_METHODS = frozenset({Method.PASSIVE_POWER, Method.PASSIVE_RADIO})


@dataclass(frozen=True, slots=True)
class Exposure:
    """What a hole showed: measured depth to the top, how closely it was measured, and is it the target."""

    depth_to_top_m: float
    vertical_m: float
    horizontal_m: float
    target_verified: bool

    def __post_init__(self) -> None:
        for name in ("depth_to_top_m", "vertical_m", "horizontal_m"):
            positive(name, getattr(self, name))


@dataclass(frozen=True, slots=True)
class PointRecord:
    """One point of a run on the local grid; `position_sigma_m` is how well its place is known at random.

    On a sonde run `sonde` is the fix from its marks (None: the place is the peak's mark) and `reading` holds at
    most the two antennas' fields or the depth shown with the receiver set to SONDE.
    """

    x_m: float
    y_m: float
    position_sigma_m: float
    reading: LineReading = field(default_factory=LineReading)
    sonde: SondeFix | None = None
    exposure: Exposure | None = None
    reversed_current: bool | None = None


@dataclass(frozen=True, slots=True)
class Transmitter:
    """Where the transmitter stood, and (for induction) its moment and the current it drives, if known."""

    x_m: float
    y_m: float
    moment_a_m2: float | None = None
    current_a: float | None = None


@dataclass(frozen=True, slots=True)
class RunRecord:
    """A locate run as recorded: points in the order walked, away from the transmitter.

    `datum_sigma_m` is what shifts all points together (phone position, baseline, datum). The last five
    fields are evidence for the quality level and are statements of fact, not wishes.
    """

    key: str
    label: str
    methods: frozenset[Method]
    receiver: Receiver
    points: tuple[PointRecord, ...]
    datum_sigma_m: float
    outside_diameter_m: float | None = None
    transmitter: Transmitter | None = None
    surveyed: bool = False
    features_surveyed: bool = False
    interpreted: bool = False
    methods_agree: bool = False
    sealed_by: str = ""


@dataclass(frozen=True)
class PointResult:
    """What one point is worth: its depth if any was read, and its doubts, the worst first."""

    depth: Depth | None
    doubts: tuple[Doubt, ...]

    @property
    def worst(self) -> Grade | None:
        """The gravest doubt's grade."""
        grades = [d.grade for d in self.doubts]
        return max(grades, key=list(Grade).index) if grades else None


@dataclass(frozen=True)
class RunResult:
    """A run reckoned: per point, along the run, the trace with honest bands, quality by stretch."""

    points: tuple[PointResult, ...]
    along: tuple[RunDoubt, ...]
    trace: Trace
    quality: tuple[Segment, ...]
    line: GroundLine
    cautions: tuple[str, ...]


def reckon_run(run: RunRecord, limits: Limits = DEFAULT_LIMITS) -> RunResult:
    """Everything a run says. Refuses a run without points or with points that fit no line."""
    points = tuple(_point(run, p, limits) for p in run.points)
    trace = _trace(run, points)
    chainage = {int(i): float(c) for i, c in zip(trace.source, trace.chainage_m, strict=True)}
    along = run_doubts(
        [_run_point(run.points[i], points[i], c, run) for i, c in chainage.items()],
        limits,
    )
    evidence = [_evidence(run, run.points[i], points[i], c, along) for i, c in chainage.items()]
    quality = segments(list(chainage.values()), evidence, trace.gaps)
    notes = [s.message for s in trace.set_aside]
    if run.methods & NO_DEPTH_METHODS and not run.methods - NO_DEPTH_METHODS:
        notes.append("Passive signals only: position without an owner, and no dependable depth.")
    return RunResult(
        points=points,
        along=along,
        trace=trace,
        quality=quality,
        line=GroundLine(run.key, run.label, trace=trace, outside_diameter_m=run.outside_diameter_m),
        cautions=(*dict.fromkeys((*notes, *trace.cautions)),),
    )


def _point(run: RunRecord, point: PointRecord, limits: Limits) -> PointResult:
    if Method.SONDE in run.methods:
        return _sonde_point(run, point, limits)
    doubts = list(point_doubts(point.reading, run.receiver, limits))
    found = estimates(point.reading, run.receiver)
    sender = run.transmitter
    if sender is not None and Method.INDUCTION in run.methods and found:
        doubts += transmitter_doubts(
            max(0.01, math.hypot(point.x_m - sender.x_m, point.y_m - sender.y_m)),
            found[0].depth_m,
            run.receiver.spacing_m,
            sender.moment_a_m2,
            sender.current_a or point.reading.current_a,
            limits,
        )
    passive = not run.methods - NO_DEPTH_METHODS
    over = any(d.code in ("over_range", "above_ground") for d in doubts)
    depth = None if passive or over or not found else combined_depth(point.reading, run.receiver)
    return PointResult(depth, _worst_first(doubts))


def _sonde_point(run: RunRecord, point: PointRecord, limits: Limits) -> PointResult:
    """A sonde's point: its own formulas; the line's would be out by a factor of 3 to 4."""
    read = point.reading
    shown = read.two_antenna_m
    if read.bottom_nt is not None and read.top_nt is not None:
        shown = sonde.two_antenna_depth_m(read.bottom_nt, read.top_nt, run.receiver.spacing_m)
    sigma = (
        0.05
        if shown is None
        else shown * sonde.random_depth_share(shown, run.receiver.spacing_m, run.receiver.channel_error)
    )
    height = run.receiver.antenna_height_m
    if point.sonde is None and shown is None:
        return PointResult(None, ())
    if point.sonde is None:
        assert shown is not None
        foot = sonde_at_the_foot(shown, height)
        return PointResult(None if foot else sonde_depth(None, run.receiver, shown), foot)
    doubts = sonde_doubts(point.sonde, shown, sigma, height, limits, read.side_turned)
    at_foot = any(d.code == "sonde_at_the_foot" for d in doubts)
    return PointResult(None if at_foot else sonde_depth(point.sonde, run.receiver, shown), _worst_first(doubts))


def _worst_first(doubts: Sequence[Doubt]) -> tuple[Doubt, ...]:
    return tuple(sorted(doubts, key=lambda d: -list(Grade).index(d.grade)))


def _trace(run: RunRecord, results: Sequence[PointResult]) -> Trace:
    """The fitted trace, with what no averaging removes put back into its bands."""
    if not run.points:
        raise GroundError(
            f"{run.label}: the run has no points yet. Mark at least two.",
            code="too_few_points",
            fields={"points": "at least two"},
        )
    half = (run.outside_diameter_m or 0.0) / 2.0
    marks, pulled, shared = [], [], []
    for point, result in zip(run.points, results, strict=True):
        depth, sigma, rest = None, 0.05, math.nan
        if point.exposure is not None:
            depth, sigma, rest = point.exposure.depth_to_top_m + half, point.exposure.vertical_m / 2.0, 0.0
        elif result.depth is not None:
            depth, sigma = result.depth.depth_m, result.depth.random_sigma_m
            rest = math.hypot(result.depth.calibration_sigma_m, result.depth.distortion_sigma_m)
        marking = 0.0 if point.exposure else run.receiver.mark_sigma_m
        marks.append(TracePoint(point.x_m, point.y_m, depth, math.hypot(point.position_sigma_m, marking), sigma))
        # a peak and null apart say that the line may lie as far off as they are
        pulled.append(0.0 if point.exposure else abs(point.reading.peak_null_gap_m or 0.0))
        shared.append(rest)
    trace = fit_trace(marks, common_sigma_m=run.datum_sigma_m)
    return replace(
        trace,
        position_band_m=2.0 * np.hypot(trace.position_band_m / 2.0, np.array(pulled)[trace.source]),
        depth_band_m=2.0 * np.hypot(trace.depth_band_m / 2.0, np.array(shared)[trace.source]),
    )


def _run_point(point: PointRecord, result: PointResult, chainage_m: float, run: RunRecord) -> RunPoint:
    depth = result.depth
    return RunPoint(
        chainage_m=chainage_m,
        depth_m=None if depth is None else depth.depth_m,
        depth_sigma_m=0.05 if depth is None else depth.random_sigma_m,
        current_a=point.reading.current_a,
        current_sigma_share=max(0.03, 3.0 * run.receiver.channel_error),
        reversed_current=point.reversed_current,
    )


def _evidence(
    run: RunRecord, point: PointRecord, result: PointResult, chainage_m: float, along: Sequence[RunDoubt]
) -> Evidence:
    """The evidence at one point: its own doubts and those of the stretches it belongs to."""
    grades = [g for g in [result.worst] if g is not None]
    grades += [d.doubt.grade for d in along if d.from_m - 1e-9 <= chainage_m <= d.to_m + 1e-9]
    hole = point.exposure
    return Evidence(
        methods=run.methods | ({Method.EXPOSED} if hole else frozenset()),
        surveyed=run.surveyed,
        features_surveyed=run.features_surveyed,
        interpreted=run.interpreted,
        sealed_by=run.sealed_by,
        target_verified=hole is not None and hole.target_verified,
        exposed_vertical_m=None if hole is None else hole.vertical_m,
        exposed_horizontal_m=None if hole is None else hole.horizontal_m,
        depth_read=result.depth is not None and bool(run.methods & GEOPHYSICS),
        methods_agree=run.methods_agree,
        worst_doubt=max(grades, key=list(Grade).index) if grades else None,
    )
