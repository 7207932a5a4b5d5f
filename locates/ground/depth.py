"""One depth with an uncertainty from all readings present at a point. Pure.

Every method gives an estimate with its own random error (`line` L9, tape and tilt errors). They are combined
by inverse variance; when they scatter more than their errors allow the spread is widened (Birge's ratio).
To that come what averaging cannot remove: the calibration allowance of the receiver, and distortion by
neighbours, sized by the tests that were made:

- no test at all (one method, one side): +-50 %. PAS 128 grants a single method 40 % (secondary source), but on
  crowded synthetic ground that held in 89 % of the points only;
- two or more methods that agree: +-25 %, where PAS 128 grants 15 % (secondary source; 89 % likewise);
- the full set (two antennas, peak and null, 45 degrees on both sides): the calibration allowance alone,
  while the tests are clean.

Whatever the tests show above their own noise widens the band in step. The factors are set on synthetic
ground with one neighbour and kept honest by the tests, which check coverage on an independent field model.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from locates.ground import line, sonde
from locates.ground.caution import DEPTH_IS_NOT_PERMISSION
from locates.ground.reading import LineReading, Receiver
from locates.ground.refusal import GroundError
from locates.ground.sonde import SondeFix

COVERAGE = 2.0  # bands are two standard deviations, about 95 %
SINGLE_METHOD_SHARE = 0.50
TWO_METHODS_SHARE = 0.25
# depth error over what the tests show, so that 95 % of bent fields on synthetic ground are covered: with the
# full set and a width or a lift besides, and with less
SHOWN_FACTOR_FULL = 1.25
SHOWN_FACTOR = 1.6


class DepthMethod(StrEnum):
    """How a depth was had. Two depths agree only when two DIFFERENT methods made them."""

    TWO_ANTENNAS = "two antennas"
    FORTY_FIVE = "45 degrees"
    WIDTH = "width at a fraction"
    LIFT = "lift"
    SONDE_NULLS = "nulls of a sonde"
    SONDE_ANTENNAS = "two antennas over a sonde"


class Checked(StrEnum):
    """How far distortion was looked for at the point."""

    NOT = "not checked"
    TWO_METHODS = "two methods compared"
    FULL = "fully checked"


@dataclass(frozen=True, slots=True)
class DepthEstimate:
    """A depth from the antenna by one method with one standard deviation of its random error."""

    method: DepthMethod
    depth_m: float
    sigma_m: float


@dataclass(frozen=True, slots=True)
class Depth:
    """A depth below the GROUND to the electrical centre, with a band of about 95 %.

    `half_band_m` = 2 sqrt(random^2 + calibration^2 + distortion^2); the three parts are one standard
    deviation each. `cautions` belong on every page that shows the depth.
    """

    depth_m: float
    half_band_m: float
    random_sigma_m: float
    calibration_sigma_m: float
    distortion_sigma_m: float
    checked: Checked
    estimates: tuple[DepthEstimate, ...]
    cautions: tuple[str, ...] = (DEPTH_IS_NOT_PERMISSION,)

    @property
    def shallowest_m(self) -> float:
        """Upper edge of the band, never above the ground."""
        return max(0.0, self.depth_m - self.half_band_m)

    @property
    def deepest_m(self) -> float:
        """Lower edge of the band."""
        return self.depth_m + self.half_band_m


def estimates(reading: LineReading, receiver: Receiver) -> tuple[DepthEstimate, ...]:
    """Every depth from the antenna that the readings allow, each with its own random error."""
    return tuple(_estimates(reading, receiver))


def combined_depth(reading: LineReading, receiver: Receiver) -> Depth:
    """The depth below ground from all readings present; refuses a point without any depth reading."""
    found = estimates(reading, receiver)
    if not found:
        raise GroundError(
            "No depth can be had from this point: it has no two-antenna depth, no 45-degree marks and no "
            "width. Take one of them, or record the point without a depth.",
            code="no_depth_reading",
            fields={"two_antenna_m": "not read"},
        )
    weights = [1.0 / e.sigma_m**2 for e in found]
    total = sum(weights)
    mean = sum(w * e.depth_m for w, e in zip(weights, found, strict=True)) / total
    scatter = sum(w * (e.depth_m - mean) ** 2 for w, e in zip(weights, found, strict=True))
    birge = math.sqrt(max(1.0, scatter / (len(found) - 1))) if len(found) > 1 else 1.0
    random = birge / math.sqrt(total)
    checked = _checked(reading, found)
    distortion = _distortion_share(reading, receiver, found, mean, checked) * mean
    return _below_ground(mean, random, distortion, receiver, checked, found)


def sonde_depth(fix: SondeFix | None, receiver: Receiver, two_antenna_m: float | None = None) -> Depth:
    """The depth of a sonde below ground from its marks, and from two antennas (the SONDE formula) if read.

    One method alone keeps the wide band of a single method; two that agree narrow it, two that disagree
    widen it by what they differ. Refuses a sonde with neither.
    """
    found = [] if fix is None else [DepthEstimate(DepthMethod.SONDE_NULLS, fix.depth_m, fix.depth_sigma_m)]
    if two_antenna_m is not None:
        share = sonde.random_depth_share(two_antenna_m, receiver.spacing_m, receiver.channel_error)
        found.append(DepthEstimate(DepthMethod.SONDE_ANTENNAS, two_antenna_m, share * two_antenna_m))
    if not found:
        raise GroundError(
            "No depth of the sonde was read here. Mark its peak and both nulls, or read the depth shown.",
            code="no_depth_read",
            fields={"depth_m": "nothing read"},
        )
    weights = [1.0 / e.sigma_m**2 for e in found]
    mean = sum(w * e.depth_m for w, e in zip(weights, found, strict=True)) / sum(weights)
    apart = _above_noise(found[-1].depth_m - found[0].depth_m, math.hypot(found[-1].sigma_m, found[0].sigma_m))
    floor = SINGLE_METHOD_SHARE if len(found) == 1 else TWO_METHODS_SHARE
    distortion = max(floor / COVERAGE * mean, SHOWN_FACTOR * apart)
    return _below_ground(
        mean,
        1.0 / math.sqrt(sum(weights)),
        distortion,
        receiver,
        Checked.NOT if len(found) == 1 else Checked.TWO_METHODS,
        tuple(found),
    )


def two_antenna(reading: LineReading, receiver: Receiver) -> float | None:
    """The two-antenna depth: computed from the two fields when given, else the one the receiver showed."""
    if reading.bottom_nt is not None and reading.top_nt is not None:
        return line.two_antenna_depth_m(reading.bottom_nt, reading.top_nt, receiver.spacing_m)
    return reading.two_antenna_m


def forty_five_sigma_m(depth_m: float, receiver: Receiver, sides: int) -> float:
    """Random error of a 45-degree depth: marks and tilt, less by root two when both sides were walked."""
    tilt = depth_m * 2.0 * math.radians(receiver.tilt_sigma_deg)
    if sides == 2:  # the null's mark drops out of the mean of both sides
        return math.hypot(receiver.mark_sigma_m, tilt) / math.sqrt(2.0)
    return math.hypot(math.sqrt(2.0) * receiver.mark_sigma_m, tilt)


def lifted_sigma_m(depth_m: float, lift_m: float, receiver: Receiver) -> float:
    """Random error of a depth read with the receiver raised: the two-antenna error at the greater height."""
    high = depth_m + lift_m
    return high * line.random_depth_share(high, receiver.spacing_m, receiver.channel_error)


def _below_ground(
    mean_m: float,
    random_m: float,
    distortion_m: float,
    receiver: Receiver,
    checked: Checked,
    found: tuple[DepthEstimate, ...],
) -> Depth:
    """The depth below ground with its band; refuses one that would lie above it."""
    calibration = (receiver.calibration_share * mean_m + receiver.calibration_m) / COVERAGE
    ground = mean_m - receiver.antenna_height_m
    if ground <= 0:
        raise GroundError(
            f"The depth from the antenna is {mean_m:.2f} m and the antenna stood "
            f"{receiver.antenna_height_m:.2f} m above the ground: the line would lie above it. Check the "
            "antenna height, or the line is exposed.",
            code="above_ground",
            fields={"antenna_height_m": "larger than the depth read"},
        )
    half_band = COVERAGE * math.sqrt(random_m**2 + calibration**2 + distortion_m**2)
    return Depth(ground, half_band, random_m, calibration, distortion_m, checked, found)


def _estimates(reading: LineReading, receiver: Receiver) -> Iterator[DepthEstimate]:
    direct = two_antenna(reading, receiver)
    if direct is not None:
        share = line.random_depth_share(direct, receiver.spacing_m, receiver.channel_error)
        yield DepthEstimate(DepthMethod.TWO_ANTENNAS, direct, share * direct)
    sides = [side for side in (reading.left_45_m, reading.right_45_m) if side is not None]
    if sides:
        depth = sum(map(line.forty_five_depth_m, sides)) / len(sides)
        yield DepthEstimate(DepthMethod.FORTY_FIVE, depth, forty_five_sigma_m(depth, receiver, len(sides)))
    for width in reading.widths:
        yield _width_estimate(width.width_m, width.peak_fraction, width.antenna, receiver)
    if reading.lifted_m is not None and reading.lift_m is not None and reading.lifted_m > reading.lift_m:
        depth = reading.lifted_m - reading.lift_m
        yield DepthEstimate(DepthMethod.LIFT, depth, lifted_sigma_m(depth, reading.lift_m, receiver))


def _width_estimate(width_m: float, peak_fraction: float, antenna: line.Antenna, receiver: Receiver) -> DepthEstimate:
    depth = line.width_depth_m(width_m, peak_fraction, antenna, receiver.spacing_m)
    marks = math.sqrt(2.0) * receiver.mark_sigma_m * depth / width_m
    # a channel error moves the fraction itself; its effect on depth by a small difference
    moved = min(0.999, peak_fraction * (1.0 + math.sqrt(2.0) * receiver.channel_error))
    shift = line.width_depth_m(width_m, moved, antenna, receiver.spacing_m) - depth
    return DepthEstimate(DepthMethod.WIDTH, depth, math.hypot(marks, shift))


def _checked(reading: LineReading, found: tuple[DepthEstimate, ...]) -> Checked:
    methods = {e.method for e in found}
    both_sides = reading.left_45_m is not None and reading.right_45_m is not None
    if both_sides and DepthMethod.TWO_ANTENNAS in methods and reading.peak_null_gap_m is not None:
        return Checked.FULL
    # a lift repeats the two-antenna method: it tests, but it is not a second method
    return Checked.TWO_METHODS if len(methods - {DepthMethod.LIFT}) > 1 else Checked.NOT


def _distortion_share(
    reading: LineReading, receiver: Receiver, found: tuple[DepthEstimate, ...], depth_m: float, checked: Checked
) -> float:
    """One standard deviation of what a neighbour may do to the depth, as a share of the depth."""
    floor = {Checked.NOT: SINGLE_METHOD_SHARE, Checked.TWO_METHODS: TWO_METHODS_SHARE, Checked.FULL: 0.0}[checked]
    shown = [0.0]
    mark = receiver.mark_sigma_m
    gap = reading.peak_null_gap_m
    if gap is not None:
        shown.append(_above_noise(gap, math.sqrt(2.0) * mark))
    left, right = reading.left_45_m, reading.right_45_m
    if left is not None and right is not None:
        # left less right moves twice with the null's mark; half of it counts, which the gap test bears out
        noise = math.sqrt(6.0 * mark**2 + 2.0 * (depth_m * 2.0 * math.radians(receiver.tilt_sigma_deg)) ** 2)
        shown.append(0.5 * _above_noise(left - right, noise))
    first = found[0]
    shown.extend(_above_noise(e.depth_m - first.depth_m, math.hypot(e.sigma_m, first.sigma_m)) for e in found[1:])
    more = checked is Checked.FULL and len({e.method for e in found}) > 2
    factor = SHOWN_FACTOR_FULL if more else SHOWN_FACTOR
    return max(floor / COVERAGE, factor * max(shown) / depth_m)


def _above_noise(value: float, sigma: float) -> float:
    """What of a difference is left once its own random error is taken out."""
    return math.sqrt(max(0.0, value * value - sigma * sigma))
