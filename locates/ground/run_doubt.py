"""Named warnings along a run of points, and at a sonde. Pure.

Along a line the current falls slowly and never rises; depth changes without jumps. A step, a rise or a
reversed direction means a tee, a bond, a fault or another line. Limits are proposals (`doubt.Limits`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from locates.ground import line
from locates.ground.doubt import DEFAULT_LIMITS, NOISE_SIGMAS, Doubt, Grade, Limits
from locates.ground.lengths import feet_inches
from locates.ground.refusal import GroundError
from locates.ground.sonde import SondeFix

MIN_LOSS_RUN_M = 5.0  # shorter runs say nothing about a loss per length


@dataclass(frozen=True, slots=True)
class RunPoint:
    """One point along a run: chainage away from the transmitter, and what was read there.

    `reversed_current` is true when the receiver shows the current flowing back toward the transmitter.
    """

    chainage_m: float
    depth_m: float | None = None
    depth_sigma_m: float = 0.05
    current_a: float | None = None
    current_sigma_share: float = 0.03
    reversed_current: bool | None = None


@dataclass(frozen=True, slots=True)
class RunDoubt:
    """A warning that belongs to a stretch of a run: from one chainage to another."""

    from_m: float
    to_m: float
    doubt: Doubt


def run_doubts(points: Sequence[RunPoint], limits: Limits = DEFAULT_LIMITS) -> tuple[RunDoubt, ...]:
    """Warnings along a run whose points stand in order of chainage away from the transmitter."""
    for first, second in pairwise(points):
        if second.chainage_m <= first.chainage_m:
            raise GroundError(
                f"Point at {second.chainage_m:.2f} m follows the one at {first.chainage_m:.2f} m; put the "
                "points in order along the run, away from the transmitter.",
                code="not_in_order",
                fields={"chainage_m": "must grow along the run"},
            )
    return (*_reversals(points), *_currents(points, limits), *_loss(points, limits), *_jumps(points, limits))


def sonde_doubts(
    fix: SondeFix,
    two_antenna_m: float | None = None,
    two_antenna_sigma_m: float = 0.05,
    antenna_height_m: float = 0.0,
    limits: Limits = DEFAULT_LIMITS,
    side_turned: float | None = None,
) -> tuple[Doubt, ...]:
    """Warnings at a sonde: marks not in line, depths disagreeing, steep pitch, at the receiver's foot.

    `side_turned` is the peak signal with the receiver turned ACROSS the pipe over that in line with it.
    """
    doubts: list[Doubt] = []
    if side_turned is not None and side_turned > 1.0:
        doubts.append(
            Doubt(
                "rises_when_turned",
                Grade.STRONG,
                side_turned,
                1.0,
                "of the signal in line",
                "The signal rises when the receiver is turned across the pipe: a sonde reads most in line, a "
                "line across it.",
                "A line is read here, or the pipe runs another way: turn for the strongest signal and follow that.",
            )
        )
    off_limit = max(limits.gap_share * fix.depth_m, NOISE_SIGMAS * fix.position_sigma_m)
    if abs(fix.off_line_m) > off_limit:
        doubts.append(
            Doubt(
                "peak_beside_nulls",
                Grade.DOUBT,
                abs(fix.off_line_m),
                off_limit,
                "m",
                f"The peak lies {feet_inches(abs(fix.off_line_m))} beside the line through the two nulls.",
                "Turn the receiver for the strongest signal, mark peak and nulls again along that line; look "
                "for metal.",
            )
        )
    if two_antenna_m is not None:
        gap = abs(two_antenna_m - fix.depth_m)
        noise = NOISE_SIGMAS * math.hypot(fix.depth_sigma_m, two_antenna_sigma_m)
        limit = max(limits.depths_share * fix.depth_m, noise)
        if gap > limit:
            doubts.append(
                Doubt(
                    "depths_disagree",
                    Grade.STRONG if gap > limits.depths_strong_share * fix.depth_m else Grade.DOUBT,
                    gap,
                    limit,
                    "m",
                    f"The nulls give {feet_inches(fix.depth_m)}, the receiver shows {feet_inches(two_antenna_m)}.",
                    "Check that the receiver is set to SONDE, not line (out by 3 to 4 times), and stands "
                    "in line over the main peak, not a ghost.",
                )
            )
    doubts += sonde_at_the_foot(fix.depth_m, antenna_height_m)
    if abs(fix.pitch_deg) > 15.0 + 2.0 * fix.pitch_sigma_deg:
        doubts.append(
            Doubt(
                "sonde_steep",
                Grade.NOTE,
                abs(fix.pitch_deg),
                15.0,
                "degrees",
                f"The sonde is pitched {abs(fix.pitch_deg):.0f} degrees: a riser, a drop or a bend.",
                "The depth is corrected for pitch; mark again a few feet on either side before drawing the pipe.",
            )
        )
    return tuple(doubts)


def sonde_at_the_foot(depth_m: float, antenna_height_m: float = 0.0) -> tuple[Doubt, ...]:
    """The warning of a sonde that lies at the receiver's foot; empty when it lies deeper."""
    if depth_m - antenna_height_m >= 0.15:
        return ()
    return (
        Doubt(
            "sonde_at_the_foot",
            Grade.STRONG,
            depth_m - antenna_height_m,
            0.15,
            "m",
            "The sonde lies on the surface or at the receiver's foot, where signal and depth over-range.",
            "Do not record a depth here; raise the receiver by a known height or push the sonde on.",
        ),
    )


def _reversals(points: Sequence[RunPoint]) -> Iterator[RunDoubt]:
    for point in points:
        if point.reversed_current:
            yield RunDoubt(
                point.chainage_m,
                point.chainage_m,
                Doubt(
                    "current_reversed",
                    Grade.STRONG,
                    1.0,
                    0.0,
                    "reversal",
                    "The current flows back toward the transmitter here.",
                    "This is a return path, not the target: go back to where the direction was right and "
                    "search again.",
                ),
            )


def _currents(points: Sequence[RunPoint], limits: Limits) -> Iterator[RunDoubt]:
    read = [p for p in points if p.current_a is not None]
    for first, second in pairwise(read):
        assert first.current_a is not None
        assert second.current_a is not None
        loss = line.loss_db(first.current_a, second.current_a)
        noise = NOISE_SIGMAS * 8.686 * math.hypot(first.current_sigma_share, second.current_sigma_share)
        length = second.chainage_m - first.chainage_m
        step_limit = max(limits.step_db + limits.loss_db_per_30m * length / 30.0, noise)
        rise_limit = max(limits.rise_db, noise)
        if loss > step_limit:
            yield RunDoubt(
                first.chainage_m,
                second.chainage_m,
                Doubt(
                    "current_step",
                    Grade.DOUBT,
                    loss,
                    step_limit,
                    "dB",
                    f"The current drops from {first.current_a * 1e3:.3g} to {second.current_a * 1e3:.3g} mA "
                    f"over {feet_inches(length)}.",
                    "Sweep a full circle here: a tee, a bond, a fault or a crossing takes the current.",
                ),
            )
        elif -loss > rise_limit:
            yield RunDoubt(
                first.chainage_m,
                second.chainage_m,
                Doubt(
                    "current_rises",
                    Grade.STRONG,
                    -loss,
                    rise_limit,
                    "dB",
                    f"The current rises from {first.current_a * 1e3:.3g} to {second.current_a * 1e3:.3g} mA "
                    "away from the transmitter.",
                    "Current cannot grow along a line: another line has been picked up, or the depth is "
                    "wrong. Go back and follow the target again.",
                ),
            )


def _loss(points: Sequence[RunPoint], limits: Limits) -> Iterator[RunDoubt]:
    """Steady loss over the whole run, without single steps: median of the pairs' losses per length."""
    read = [(p.chainage_m, p.current_a) for p in points if p.current_a is not None]
    if len(read) < 3 or read[-1][0] - read[0][0] < MIN_LOSS_RUN_M:
        return
    rates = sorted(30.0 * line.loss_db(a, b) / (q - p) for (p, a), (q, b) in pairwise(read))
    middle = len(rates) // 2
    rate = rates[middle] if len(rates) % 2 else 0.5 * (rates[middle - 1] + rates[middle])
    if rate > limits.loss_db_per_30m:
        yield RunDoubt(
            read[0][0],
            read[-1][0],
            Doubt(
                "current_falls_fast",
                Grade.DOUBT,
                rate,
                limits.loss_db_per_30m,
                "dB per 30 m",
                f"The current loses {rate:.1f} dB in 30 m (100 ft) all along the run.",
                "The signal leaks to soil or neighbours: lower the frequency, improve the far ground, or "
                "the line is badly insulated or ends here.",
            ),
        )


def _jumps(points: Sequence[RunPoint], limits: Limits) -> Iterator[RunDoubt]:
    read = [p for p in points if p.depth_m is not None]
    for first, second in pairwise(read):
        assert first.depth_m is not None
        assert second.depth_m is not None
        jump = abs(second.depth_m - first.depth_m)
        noise = NOISE_SIGMAS * math.hypot(first.depth_sigma_m, second.depth_sigma_m)
        ramp = limits.jump_grade * (second.chainage_m - first.chainage_m)
        limit = max(limits.jump_share * min(first.depth_m, second.depth_m), noise, ramp)
        if jump > limit:
            yield RunDoubt(
                first.chainage_m,
                second.chainage_m,
                Doubt(
                    "depth_jump",
                    Grade.DOUBT,
                    jump,
                    limit,
                    "m",
                    f"The depth jumps from {feet_inches(first.depth_m)} to {feet_inches(second.depth_m)} "
                    "between neighbours.",
                    "Read both points again and one between them: a riser, a crossing line or a misread depth.",
                ),
            )
