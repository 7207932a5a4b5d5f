"""Named warnings at one point of a line: the figure, the limit, and what to do about it. Pure.

The limits are proposals made from the field of two parallel conductors (no published limit was found);
they are settings (`Limits`). A difference is flagged only when it also exceeds its own random error three
times, so that careful work on clean ground is not called doubtful.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from locates.ground import depth as depths
from locates.ground import line
from locates.ground.lengths import feet_inches
from locates.ground.reading import LineReading, Receiver

NOISE_SIGMAS = 3.0


class Grade(StrEnum):
    """How much a warning weighs. STRONG: do not rely on this point, neither position nor depth."""

    NOTE = "note"
    DOUBT = "doubt"
    STRONG = "strong doubt"


@dataclass(frozen=True, slots=True)
class Doubt:
    """One named warning. `figure` and `limit` are in `unit`; `remedy` is what to do on site."""

    code: str
    grade: Grade
    figure: float
    limit: float
    unit: str
    message: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Limits:
    """Where a reading becomes doubtful: shares of the depth unless the unit is in the name. Proposals.

    `custom_separation_m` is what crews commonly keep from an induction transmitter (6 to 8 ft, some say
    10 ft: common practice, no source); the physics asks for more when a depth is wanted.
    """

    gap_share: float = 0.05
    gap_strong_share: float = 0.10
    sides_share: float = 0.10
    sides_strong_share: float = 0.25
    depths_share: float = 0.10
    depths_strong_share: float = 0.20
    lift_share: float = 0.03
    lift_strong_share: float = 0.10
    null_floor: float = 0.05
    null_floor_strong: float = 0.20
    custom_separation_m: float = 10 * 0.3048
    wanted_depth_error_share: float = 0.10
    full_scale_share: float = 0.98
    step_db: float = 3.0
    rise_db: float = 1.0
    loss_db_per_30m: float = 6.0
    jump_share: float = 0.25
    jump_grade: float = 0.15


DEFAULT_LIMITS = Limits()


def point_doubts(reading: LineReading, receiver: Receiver, limits: Limits = DEFAULT_LIMITS) -> tuple[Doubt, ...]:
    """Every warning that one point over a line gives. Empty means: no test that was made failed.

    An empty answer from a point with few readings says little; `depth.Depth.checked` says how much.
    """
    found = depths.estimates(reading, receiver)
    doubts: list[Doubt | None] = [_over_range(reading, receiver, limits), _turned(reading)]
    if found:
        weights = [1.0 / e.sigma_m**2 for e in found]
        depth = sum(w * e.depth_m for w, e in zip(weights, found, strict=True)) / sum(weights)
        doubts += [
            _peak_null(reading, receiver, depth, limits),
            _sides(reading, receiver, limits),
            *_depths(found, limits),
            _lift(reading, receiver, limits),
        ]
        if depth <= receiver.antenna_height_m:
            doubts.append(_above_ground(depth, receiver))
    doubts.append(_null_floor(reading, receiver, limits))
    return tuple(d for d in doubts if d is not None)


def likely_offset_m(reading: LineReading, neighbour_offset_m: float | None = None) -> float | None:
    """Where the true line likely lies, from the peak, when a neighbour pulls peak and null apart.

    Small distortion moves the peak by u/(1+u^2)^2 and the null by u/(1+u^2) (u = neighbour's offset over
    depth), so the line lies on the far side of the peak from the null, gap / u^2 away. Without a known
    neighbour u^2 = 2 is taken: "half the gap past the peak" (common practice). A hint, not a position.
    """
    gap = reading.peak_null_gap_m
    if gap is None:
        return None
    depth = reading.two_antenna_m
    square = 2.0
    if neighbour_offset_m is not None and depth:
        square = max((neighbour_offset_m / depth) ** 2, 0.25)
    return -gap / square


def transmitter_doubts(
    distance_m: float,
    depth_m: float,
    spacing_m: float,
    moment_a_m2: float | None,
    current_a: float | None,
    limits: Limits = DEFAULT_LIMITS,
) -> tuple[Doubt, ...]:
    """Is the receiver too close to an INDUCTION transmitter for position, and for the wanted depth error?

    Says both: what crews keep (common practice) and the distance that the depth error needs (L12).
    The second needs the transmitter's moment and the line's current; without them only the first is judged.
    With a direct connection there is no such distance: do not call this.
    """
    doubts: list[Doubt] = []
    if distance_m < limits.custom_separation_m:
        doubts.append(
            Doubt(
                "transmitter_beside_receiver",
                Grade.STRONG,
                distance_m,
                limits.custom_separation_m,
                "m",
                f"The receiver stood {feet_inches(distance_m)} from an induction transmitter; crews keep at "
                f"least {feet_inches(limits.custom_separation_m)} (common practice).",
                "Move away along the line until the signal no longer follows the transmitter; then read again.",
            )
        )
    if moment_a_m2 is None or current_a is None:
        return tuple(doubts)
    error = limits.wanted_depth_error_share * depth_m
    needed = line.separation_for_error_m(moment_a_m2, current_a, depth_m, spacing_m, error)
    if distance_m < needed:
        share = line.separation_m(moment_a_m2, current_a, depth_m, 1.0) ** 3 / distance_m**3
        reads = line.contaminated_depth_m(depth_m, spacing_m, share) - depth_m
        doubts.append(
            Doubt(
                "transmitter_too_close_for_depth",
                Grade.STRONG if reads > depth_m / 2 else Grade.DOUBT,
                distance_m,
                needed,
                "m",
                f"At {feet_inches(distance_m)} the transmitter's own field can add {feet_inches(reads)} to "
                f"the depth; {feet_inches(needed)} is needed to keep that under {feet_inches(error)}.",
                f"For a depth stand {feet_inches(needed)} away or connect directly. The mark may still serve.",
            )
        )
    return tuple(doubts)


def _grade(value: float, strong: float) -> Grade:
    return Grade.STRONG if value > strong else Grade.DOUBT


def _peak_null(reading: LineReading, receiver: Receiver, depth: float, limits: Limits) -> Doubt | None:
    gap = reading.peak_null_gap_m
    if gap is None:
        return None
    limit = max(limits.gap_share * depth, NOISE_SIGMAS * math.sqrt(2.0) * receiver.mark_sigma_m)
    if abs(gap) <= limit:
        return None
    side = "right" if gap > 0 else "left"
    other = "left" if gap > 0 else "right"
    return Doubt(
        "peak_null_apart",
        _grade(abs(gap), max(limit, limits.gap_strong_share * depth)),
        abs(gap),
        limit,
        "m",
        f"The null lies {feet_inches(abs(gap), 4)} {side} of the peak, more than {feet_inches(limit, 4)} at "
        "this depth: a neighbour bends the field.",
        f"The line likely lies {other} of the PEAK, not at the null. Lower the frequency, connect directly "
        "or move the ground stake, and read again; expose before relying on position or depth.",
    )


def _sides(reading: LineReading, receiver: Receiver, limits: Limits) -> Doubt | None:
    left, right = reading.left_45_m, reading.right_45_m
    if left is None or right is None:
        return None
    mean = 0.5 * (left + right)
    tilt = mean * 2.0 * math.radians(receiver.tilt_sigma_deg)
    noise = math.sqrt(6.0 * receiver.mark_sigma_m**2 + 2.0 * tilt**2)
    limit = max(limits.sides_share * mean, NOISE_SIGMAS * noise)
    if abs(left - right) <= limit:
        return None
    near = "left" if left < right else "right"
    return Doubt(
        "sides_differ",
        _grade(abs(left - right), max(limit, limits.sides_strong_share * mean)),
        abs(left - right),
        limit,
        "m",
        f"The 45-degree walk-offs are {feet_inches(left)} left and {feet_inches(right)} right; over one "
        "line they are equal.",
        f"Search for a second line; the {near} side reads shorter. Do not use the mean as a depth until the "
        "cause is found.",
    )


def _depths(found: tuple[depths.DepthEstimate, ...], limits: Limits) -> Iterator[Doubt]:
    different = [e for e in found if e.method is not depths.DepthMethod.LIFT]
    worst: tuple[float, float, depths.DepthEstimate, depths.DepthEstimate] | None = None
    for index, first in enumerate(different):
        for second in different[index + 1 :]:
            mean = 0.5 * (first.depth_m + second.depth_m)
            noise = NOISE_SIGMAS * math.hypot(first.sigma_m, second.sigma_m)
            limit = max(limits.depths_share * mean, noise)
            gap = abs(first.depth_m - second.depth_m)
            if gap > limit and (worst is None or gap / limit > worst[0] / worst[1]):
                worst = (gap, limit, first, second)
    if worst is not None:
        gap, limit, first, second = worst
        yield Doubt(
            "depths_disagree",
            _grade(gap, max(limit, limits.depths_strong_share * 0.5 * (first.depth_m + second.depth_m))),
            gap,
            limit,
            "m",
            f"{first.method.value} reads {feet_inches(first.depth_m)}, {second.method.value} reads "
            f"{feet_inches(second.depth_m)}.",
            "Two methods that disagree mean a bent field: trust neither. Clear the field and read both again.",
        )


def _lift(reading: LineReading, receiver: Receiver, limits: Limits) -> Doubt | None:
    direct = depths.two_antenna(reading, receiver)
    if direct is None or reading.lift_m is None or reading.lifted_m is None:
        return None
    short = direct + reading.lift_m - reading.lifted_m
    share = line.random_depth_share(direct, receiver.spacing_m, receiver.channel_error)
    noise = math.hypot(share * direct, depths.lifted_sigma_m(direct, reading.lift_m, receiver))
    limit = max(limits.lift_share * direct, NOISE_SIGMAS * noise)
    if abs(short) <= limit:
        return None
    return Doubt(
        "lift_differs",
        _grade(abs(short), max(limit, limits.lift_strong_share * direct)),
        abs(short),
        limit,
        "m",
        f"Raised by {feet_inches(reading.lift_m)} the receiver reads {feet_inches(reading.lifted_m)}, not "
        f"{feet_inches(direct + reading.lift_m)}.",
        "A second line or the transmitter's own field is mixed in. Move the transmitter, lower the "
        "frequency, read again.",
    )


def _null_floor(reading: LineReading, receiver: Receiver, limits: Limits) -> Doubt | None:
    floor = reading.null_floor
    if floor is None:
        return None
    limit = max(limits.null_floor, NOISE_SIGMAS * receiver.channel_error)
    if floor <= limit:
        return None
    return Doubt(
        "null_shallow",
        _grade(floor, limits.null_floor_strong),
        floor,
        limit,
        "of the peak",
        f"The signal falls only to {floor:.0%} of the peak at the null; over one line it falls to nothing.",
        "A second current out of step runs near by. Lower the frequency or connect directly and read again.",
    )


def _over_range(reading: LineReading, receiver: Receiver, limits: Limits) -> Doubt | None:
    if reading.signal is None or receiver.full_scale is None:
        return None
    limit = limits.full_scale_share * receiver.full_scale
    if reading.signal < limit:
        return None
    return Doubt(
        "over_range",
        Grade.STRONG,
        reading.signal,
        limit,
        "of the scale",
        f"The signal reads {reading.signal:g} of {receiver.full_scale:g}: the receiver is overdriven and "
        "its depth is not to be believed.",
        "Lower the transmitter's output or the gain, or lift the receiver, and read again.",
    )


def _turned(reading: LineReading) -> Doubt | None:
    if reading.side_turned is None or reading.side_turned <= 1.0:
        return None
    return Doubt(
        "rises_when_turned",
        Grade.STRONG,
        reading.side_turned,
        1.0,
        "of the signal across",
        "The signal rises when the receiver is turned along the run: a line reads most across it, a sonde in line.",
        "Find out whether a sonde or a crossing line is read here; the depth formula differs by a factor of "
        "3 or more.",
    )


def _above_ground(depth: float, receiver: Receiver) -> Doubt:
    return Doubt(
        "above_ground",
        Grade.STRONG,
        depth,
        receiver.antenna_height_m,
        "m",
        f"The depth from the antenna, {feet_inches(depth)}, is less than the antenna's height: the line "
        "would lie above ground.",
        "Look for an exposed or overhead line; check the antenna height.",
    )
