"""A pipe from sonde points: its alignment and its fall with a confidence. Pure.

A sonde lies on the bottom of the pipe, near the invert; its depth from the ground and the ground's level
give the level of the sonde, and the levels along the run give the fall. Without ground levels there is no
fall to be had: ground is never assumed flat.

Minimum slopes: International Plumbing Code 704.1 (read in the reprint of the Chicago plumbing code, Table
18-29-704.1); Uniform Plumbing Code 708.1 (from memory: 1/4 in per ft, and 1/8 in per ft for 4 in and larger
only where the authority allows). The local code and its inspector rule.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from locates.ground.caution import DEPTH_IS_NOT_PERMISSION, LAW_RULES
from locates.ground.lengths import INCH_M
from locates.ground.refusal import GroundError, positive

INCH_PER_FOOT = 1.0 / 12.0
IPC_MIN_SLOPES = (
    (2.5, 0.25 * INCH_PER_FOOT),
    (6.0, 0.125 * INCH_PER_FOOT),
    (math.inf, 0.0625 * INCH_PER_FOOT),
)
UPC_MIN_SLOPE = 0.25 * INCH_PER_FOOT
SURE = 0.95


class PlumbingCode(StrEnum):
    """Model code whose minimum slope is compared; the locally adopted one rules."""

    IPC = "IPC"
    UPC = "UPC"


class FallVerdict(StrEnum):
    """What the points say about the minimum slope."""

    MEETS = "meets the minimum slope"
    FAILS = "below the minimum slope"
    BACKFALL = "falls the wrong way"
    CANNOT_TELL = "cannot tell from these points"


@dataclass(frozen=True, slots=True)
class SondePoint:
    """One marked sonde position along a run, in order from the access point.

    `depth_m` is below ground, None when it was not read or is not to be believed; `ground_level_m` the level
    of the ground there (any bench mark), None when it was not measured; `counter_m` the camera's counter when
    the mark was made.
    """

    x_m: float
    y_m: float
    depth_m: float | None
    depth_sigma_m: float = 0.05
    position_sigma_m: float = 0.10
    ground_level_m: float | None = None
    level_sigma_m: float = 0.005
    counter_m: float | None = None


@dataclass(frozen=True, slots=True)
class MinimumSlope:
    """Least slope of a horizontal drain (rise over run), with where it is written and how it was read."""

    slope: float
    source: str
    evidence: str


@dataclass(frozen=True, slots=True)
class Fall:
    """Fall of a run in the direction it should flow (rise over run; above zero: downhill as it should be).

    `sigma` is one standard deviation; `half_band` about 95 %. `probability` is the chance that the fall
    reaches the minimum, when nothing but random error is at work. `worst_residual_m` names the largest
    departure of a point from the straight grade: a sag or a misread depth.
    """

    slope: float
    sigma: float
    minimum: MinimumSlope
    probability: float
    verdict: FallVerdict
    worst_residual_m: float
    worst_index: int
    cautions: tuple[str, ...] = (
        LAW_RULES,
        DEPTH_IS_NOT_PERMISSION,
        "A fall from sonde depths is a hint; survey levels or a test prove it.",
    )

    @property
    def half_band(self) -> float:
        """Two standard deviations."""
        return 2.0 * self.sigma

    @property
    def percent(self) -> float:
        """Fall in per cent."""
        return 100.0 * self.slope

    @property
    def inch_per_foot(self) -> float:
        """Fall in inches a foot, as drains are laid."""
        return self.slope / INCH_PER_FOOT

    @property
    def half_band_inch_per_foot(self) -> float:
        """Two standard deviations in inches a foot."""
        return self.half_band / INCH_PER_FOOT


@dataclass(frozen=True, slots=True)
class Stretch:
    """Fall between two neighbouring marks, in the direction it should flow; `half_band` about 95 %. One such
    stretch says little by itself: it shows where to look for a sag."""

    from_index: int
    to_index: int
    length_m: float
    slope: float
    half_band: float


def minimum_slope(pipe_size_m: float, code: PlumbingCode = PlumbingCode.IPC) -> MinimumSlope:
    """Least slope for a nominal pipe size. Sizes between two rows take the steeper row."""
    size_in = positive("pipe_size_m", pipe_size_m) / INCH_M
    if code is PlumbingCode.UPC:
        return MinimumSlope(
            UPC_MIN_SLOPE,
            "Uniform Plumbing Code 708.1: 1/4 in per ft; 1/8 in per ft for 4 in and larger only where allowed",
            "memory",
        )
    # a nominal 3 in pipe opens the second row; what lies between 2.5 and 3 in takes the steeper one
    slope = IPC_MIN_SLOPES[0][1] if size_in < 3.0 - 1e-9 else IPC_MIN_SLOPES[1][1]
    if size_in >= 8.0 - 1e-9:
        slope = IPC_MIN_SLOPES[2][1]
    return MinimumSlope(slope, "International Plumbing Code Table 704.1", "reprint in a city code read")


def chainages_m(points: Sequence[SondePoint]) -> tuple[float, ...]:
    """Horizontal distance along the marks from the first; refuses marks on one spot."""
    if len(points) < 2:
        raise GroundError(
            "A run needs at least two marks. Mark the sonde again a few feet farther on.",
            code="too_few_points",
            fields={"points": "at least two"},
        )
    along = [0.0]
    for index, (a, b) in enumerate(pairwise(points), start=2):
        step = math.hypot(b.x_m - a.x_m, b.y_m - a.y_m)
        if step < 0.05:
            raise GroundError(
                f"Mark {index} lies on the one before it. Remove one of them or correct its position.",
                code="same_place",
                fields={"points": f"mark {index} repeats its neighbour"},
            )
        along.append(along[-1] + step)
    return tuple(along)


def fall(
    points: Sequence[SondePoint],
    pipe_size_m: float,
    code: PlumbingCode = PlumbingCode.IPC,
    flows_away: bool = True,
) -> Fall:
    """Straight grade through the sonde levels by weighted least squares, against the code's minimum.

    `flows_away` tells whether the pipe should fall in the order of the points (true from a clean-out toward
    the main) or against it; the returned fall is above zero when the pipe falls as it should.

    The uncertainty is widened when the points scatter more than their errors allow. Refuses a run without
    depths or ground levels, and one of fewer than three marks (two fit any grade).
    """
    along = chainages_m(points)
    if len(points) < 3:
        raise GroundError(
            "A fall needs at least three marks: two always fit. Mark one more point on the run.",
            code="too_few_points",
            fields={"points": "at least three"},
        )
    unread = [str(i) for i, p in enumerate(points, start=1) if p.depth_m is None]
    if unread:
        raise GroundError(
            f"No fall without depths: missing at mark {', '.join(unread)}. Read the depth there, or leave the mark "
            "out.",
            code="depth_missing",
            fields={"depth_m": "needed at every mark"},
        )
    missing = [str(i) for i, p in enumerate(points, start=1) if p.ground_level_m is None]
    if missing:
        raise GroundError(
            f"No fall without the level of the ground: missing at mark {', '.join(missing)}. Measure the "
            "levels (any bench mark will do); the ground is never assumed flat.",
            code="ground_level_missing",
            fields={"ground_level_m": "needed at every mark"},
        )
    sign = 1.0 if flows_away else -1.0
    levels = [sign * (float(p.ground_level_m or 0.0) - float(p.depth_m or 0.0)) for p in points]
    weights = [1.0 / (p.depth_sigma_m**2 + p.level_sigma_m**2) for p in points]
    slope, sigma, residuals = _weighted_line(along, levels, weights)
    minimum = minimum_slope(pipe_size_m, code)
    probability = 0.5 * math.erfc((minimum.slope + slope) / (sigma * math.sqrt(2.0)))
    wrong_way = 0.5 * math.erfc(-slope / (sigma * math.sqrt(2.0)))
    worst = max(range(len(points)), key=lambda i: abs(residuals[i]))
    return Fall(
        slope=-slope,
        sigma=sigma,
        minimum=minimum,
        probability=probability,
        verdict=_verdict(probability, wrong_way),
        worst_residual_m=sign * residuals[worst],
        worst_index=worst,
    )


def stretches(points: Sequence[SondePoint], flows_away: bool = True) -> tuple[Stretch, ...]:
    """The fall mark by mark, for points that `fall` takes."""
    along = chainages_m(points)
    sign = -1.0 if flows_away else 1.0
    found = []
    for i, (a, b) in enumerate(pairwise(points)):
        length = along[i + 1] - along[i]
        rise = float(b.ground_level_m or 0.0) - float(b.depth_m or 0.0)
        rise -= float(a.ground_level_m or 0.0) - float(a.depth_m or 0.0)
        sigma = math.hypot(a.depth_sigma_m, b.depth_sigma_m, a.level_sigma_m, b.level_sigma_m)
        found.append(Stretch(i, i + 1, length, sign * rise / length, 2.0 * sigma / length))
    return tuple(found)


def _verdict(probability: float, wrong_way: float) -> FallVerdict:
    if wrong_way >= SURE:
        return FallVerdict.BACKFALL
    if probability >= SURE:
        return FallVerdict.MEETS
    return FallVerdict.FAILS if probability <= 1.0 - SURE else FallVerdict.CANNOT_TELL


def _weighted_line(
    x: Sequence[float], y: Sequence[float], weights: Sequence[float]
) -> tuple[float, float, list[float]]:
    """Slope, its standard deviation (widened for scatter beyond the stated errors) and the residuals."""
    total = sum(weights)
    mean_x = sum(w * v for w, v in zip(weights, x, strict=True)) / total
    mean_y = sum(w * v for w, v in zip(weights, y, strict=True)) / total
    spread = sum(w * (v - mean_x) ** 2 for w, v in zip(weights, x, strict=True))
    slope = sum(w * (v - mean_x) * (u - mean_y) for w, v, u in zip(weights, x, y, strict=True)) / spread
    residuals = [u - mean_y - slope * (v - mean_x) for v, u in zip(x, y, strict=True)]
    scatter = sum(w * r * r for w, r in zip(weights, residuals, strict=True)) / (len(x) - 2)
    return slope, math.sqrt(max(1.0, scatter) / spread), residuals
