"""The ground over what a sewer camera saw: its counter reading mapped to a dig point with a radius of doubt. Pure.

Marks of the sonde that carry their own counter readings tie the counter to the ground; between two of them
slip cancels. The counter's error is a care limit of the register: a proposal, common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from locates.ground.caution import DEPTH_IS_NOT_PERMISSION
from locates.ground.pipe import SondePoint
from locates.ground.refusal import GroundError, not_negative


@dataclass(frozen=True, slots=True)
class DigPoint:
    """A point on the ground over a place in the pipe, with a radius of doubt (about 95 %) and a depth band."""

    x_m: float
    y_m: float
    radius_of_doubt_m: float
    depth_m: float | None
    depth_half_band_m: float | None
    basis: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Counter:
    """How good a camera's counter is: a share of the distance run since the last mark, plus a fixed part.

    The defaults are the register's care limit for a counter (proposals, common practice, no source).
    `sonde_behind_lens_m` is how far the sonde lies behind the camera's lens on the cable.
    """

    share: float = 0.01
    fixed_m: float = 0.15
    sonde_behind_lens_m: float = 0.0


def dig_point(
    points: Sequence[SondePoint], counter_m: float, counter: Counter | None = None, reach_m: float = 3.0
) -> DigPoint:
    """Ground over what the camera saw at a counter reading, from marks that carry their own readings.

    Between two marks the counter is stretched to fit both, so its slip cancels. The pipe may bow between them
    by a tenth of the gap, or by as much as the longer way that the counter ran allows. Beyond the last mark
    the direction is a guess: allowed for `reach_m` only.
    """
    counter = counter or Counter()
    not_negative("counter_m", counter_m)
    known = _by_counter(points)
    # the mark shows where the SONDE was; the lens saw the same place a sonde length earlier
    at = counter_m + counter.sonde_behind_lens_m
    first, last = known[0], known[-1]
    if at < first[0]:
        return _beyond(first, known[1], first[0] - at, counter, reach_m)
    if at > last[0]:
        return _beyond(last, known[-2], at - last[0], counter, reach_m)
    (c0, a), (c1, b) = next(pair for pair in pairwise(known) if pair[1][0] >= at)
    share = (at - c0) / (c1 - c0)
    gap = math.hypot(b.x_m - a.x_m, b.y_m - a.y_m)
    nearest = min(at - c0, c1 - at)
    marks = math.hypot((1.0 - share) * a.position_sigma_m, share * b.position_sigma_m)
    # a way of length L over a chord g leaves the chord by at most half of sqrt(L^2 - g^2)
    longer = 0.5 * math.sqrt(max(0.0, (c1 - c0) ** 2 - gap**2))
    bow = 4.0 * share * (1.0 - share) * max(0.1 * gap, longer)
    counted = counter.share * nearest + counter.fixed_m
    depth, half = _depth_between(a, b, share)
    stretch = gap / (c1 - c0)
    notes = (
        ()
        if 0.8 <= stretch <= 1.02
        else (
            f"Between these marks the counter ran {c1 - c0:.1f} m for {gap:.1f} m on the ground: a bend, a "
            "riser or a slipping counter. Mark the sonde again near the place.",
        )
    )
    return DigPoint(
        x_m=a.x_m + share * (b.x_m - a.x_m),
        y_m=a.y_m + share * (b.y_m - a.y_m),
        radius_of_doubt_m=2.0 * marks + counted + bow,
        depth_m=depth,
        depth_half_band_m=half,
        basis="between two marks",
        cautions=(*notes, *_dig_cautions()),
    )


def _depth_between(a: SondePoint, b: SondePoint, share: float) -> tuple[float | None, float | None]:
    """Depth and half its band between two marks; not known when one of them has none."""
    if a.depth_m is None or b.depth_m is None:
        return None, None
    sigma = math.hypot((1.0 - share) * a.depth_sigma_m, share * b.depth_sigma_m)
    return a.depth_m + share * (b.depth_m - a.depth_m), 2.0 * sigma + 0.25 * abs(b.depth_m - a.depth_m)


def _dig_cautions() -> tuple[str, ...]:
    return (
        "Locate the sonde at the place itself before digging whenever the camera can be stopped there.",
        "Notice to the one-call centre covers this hole too; expose by hand inside every zone.",
        DEPTH_IS_NOT_PERMISSION,
    )


def _by_counter(points: Sequence[SondePoint]) -> list[tuple[float, SondePoint]]:
    known = sorted(((p.counter_m, p) for p in points if p.counter_m is not None), key=lambda pair: pair[0])
    if len(known) < 2:
        raise GroundError(
            "A counter reading can only be placed between marks that carry their own counter readings; at "
            "least two are needed. Note the counter at each sonde mark.",
            code="counter_unknown",
            fields={"counter_m": "needed at two marks or more"},
        )
    for (c0, a), (c1, b) in pairwise(known):
        if math.hypot(b.x_m - a.x_m, b.y_m - a.y_m) < 0.05:
            raise GroundError(
                f"The marks at {c0:.2f} and {c1:.2f} m of the counter lie on one spot: the pipe drops there, or one "
                "position is wrong. Leave one of them out.",
                code="same_place",
                fields={"points": "two marks on one spot"},
            )
        if c1 - c0 < 0.05:
            raise GroundError(
                f"Two marks carry the same counter reading, {c0:.2f} m. Correct one of them.",
                code="counter_repeats",
                fields={"counter_m": "must differ from mark to mark"},
            )
    return known


def _beyond(
    end: tuple[float, SondePoint],
    before: tuple[float, SondePoint],
    over_m: float,
    counter: Counter,
    reach_m: float,
) -> DigPoint:
    a, b = before[1], end[1]
    if over_m > reach_m:
        raise GroundError(
            f"The counter reading lies {over_m:.1f} m beyond the last mark; past {reach_m:g} m nothing is "
            "known of the pipe's direction. Mark the sonde nearer to the place.",
            code="beyond_marks",
            fields={"counter_m": f"at most {reach_m:g} m beyond a mark"},
        )
    gap = math.hypot(b.x_m - a.x_m, b.y_m - a.y_m)
    counted = counter.share * over_m + counter.fixed_m
    marks = 2.0 * b.position_sigma_m * (1.0 + over_m / gap)
    depth, half = None, None
    if a.depth_m is not None and b.depth_m is not None:
        depth = max(0.0, b.depth_m + (b.depth_m - a.depth_m) / gap * over_m)
        half = 2.0 * b.depth_sigma_m * (1.0 + over_m / gap) + 0.5 * over_m
    return DigPoint(
        x_m=b.x_m + over_m * (b.x_m - a.x_m) / gap,
        y_m=b.y_m + over_m * (b.y_m - a.y_m) / gap,
        # any fitting up to 45 degrees may follow: the chord of that turn
        radius_of_doubt_m=marks + counted + over_m * 2.0 * math.sin(math.radians(22.5)),
        depth_m=depth,
        depth_half_band_m=half,
        basis="beyond the last mark",
        cautions=("Beyond the last mark the direction is a guess.", *_dig_cautions()),
    )
