"""A robust trace through the points of a run, with outliers set aside and bands for position and depth. Pure.

Method: around every point four curves are fitted: straight lines through the points behind, ahead, and on
both sides, and a bent one through both sides. A point that agrees with none of them is set aside (a corner
agrees with the lines of its own legs and stays). The kept points are then drawn onto a blend of the four,
each counted by how well it fits, so that straights are smoothed and corners are not rounded off.

Averaging removes random error only. What is common to the run (datum, baseline, a neighbour's pull) is
given as `common_sigma_m` and `common_depth_share` and added after the fit; nothing averages it away.
Bands are two standard deviations, about 95 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from shapely import LineString, get_coordinates, get_parts, get_point, intersection, length, linestrings
from shapely.geometry.base import BaseGeometry

from locates.ground.caution import DEPTH_IS_NOT_PERMISSION, UNKNOWN_IS_NOT_CLEAR
from locates.ground.refusal import GroundError
from locates.ground.smoothing import Array, Indices, blend, gather_dense, set_outliers_aside

LONGEST_GAP_M = 15.24  # 50 ft: the widest mark spacing of the CGA guidelines (Appendix B, secondary source)
MOST_SET_ASIDE = 0.30


@dataclass(frozen=True, slots=True)
class TracePoint:
    """One marked point of a run in a metric grid, in the order walked. Sigmas are random errors only."""

    x_m: float
    y_m: float
    depth_m: float | None = None
    position_sigma_m: float = 0.10
    depth_sigma_m: float = 0.08


@dataclass(frozen=True, slots=True)
class SetAside:
    """A point, or a point's depth, that the trace does not follow: its index, and how far it lies off."""

    index: int
    what: str  # "position" or "depth"
    off_m: float
    limit_m: float

    @property
    def message(self) -> str:
        """What was done and what to do about it."""
        return (
            f"Point {self.index + 1}: its {self.what} lies {self.off_m:.2f} m off its neighbours (limit "
            f"{self.limit_m:.2f} m) and was set aside. Read it again or confirm it on site."
        )


@dataclass(frozen=True)
class Trace:
    """The fitted run. Arrays run over the KEPT points in order of chainage; depth is NaN where unknown.

    `gaps` are the stretches (from, to chainage) longer than the widest mark spacing: assumed, not measured.
    """

    x_m: Array
    y_m: Array
    chainage_m: Array
    position_band_m: Array
    depth_m: Array
    depth_band_m: Array
    source: Indices
    set_aside: tuple[SetAside, ...]
    gaps: tuple[tuple[float, float], ...]
    cautions: tuple[str, ...] = (DEPTH_IS_NOT_PERMISSION, UNKNOWN_IS_NOT_CLEAR)

    @cached_property
    def line(self) -> LineString:
        """The trace as a line in the grid of the points."""
        return LineString(np.column_stack([self.x_m, self.y_m]))

    @property
    def length_m(self) -> float:
        """Length along the trace."""
        return float(self.chainage_m[-1])

    def at(self, chainage_m: float) -> tuple[float, float]:
        """Position at a chainage, clamped to the ends."""
        x = float(np.interp(chainage_m, self.chainage_m, self.x_m))
        return x, float(np.interp(chainage_m, self.chainage_m, self.y_m))

    def position_band_at(self, chainage_m: float) -> float:
        """Half width of the position band at a chainage (the wider of the two neighbours between points)."""
        right = int(np.clip(np.searchsorted(self.chainage_m, chainage_m), 1, len(self.chainage_m) - 1))
        if chainage_m == self.chainage_m[right]:
            return float(self.position_band_m[right])
        return float(max(self.position_band_m[right - 1], self.position_band_m[right]))

    def depth_at(self, chainage_m: float) -> tuple[float, float] | None:
        """Depth and half band at a chainage, or None beyond the depths read or inside an unread gap.

        Between two depths the band takes the wider of theirs plus a quarter of their difference.
        """
        known = np.flatnonzero(~np.isnan(self.depth_m))
        if not len(known):
            return None
        along = self.chainage_m[known]
        if not along[0] - 1e-9 <= chainage_m <= along[-1] + 1e-9:
            return None
        right = int(np.clip(np.searchsorted(along, chainage_m), 0, len(along) - 1))
        left = max(0, right - 1) if along[right] > chainage_m else right
        a, b = known[left], known[right]
        if self.chainage_m[b] - self.chainage_m[a] > LONGEST_GAP_M:
            return None
        depth = float(np.interp(chainage_m, along, self.depth_m[known]))
        band = float(max(self.depth_band_m[a], self.depth_band_m[b]))
        return depth, band + 0.25 * abs(float(self.depth_m[b] - self.depth_m[a]))

    def cut(self, area: BaseGeometry) -> tuple[tuple[float, float], ...]:
        """Stretches of the trace (from, to chainage) that lie inside an area, in order.

        Taken segment by segment: a run that crosses itself is no trouble.
        """
        spots = np.column_stack([self.x_m, self.y_m])
        segments = linestrings(np.stack([spots[:-1], spots[1:]], axis=1))
        parts, owner = get_parts(intersection(segments, area), return_index=True)
        whole = length(parts) > 1e-9  # touching points and empty meetings are no stretch
        parts, owner = parts[whole], owner[whole]
        ends = [get_coordinates(get_point(parts, end)) - spots[owner] for end in (0, -1)]
        along = np.column_stack([np.hypot(*off.T) + self.chainage_m[owner] for off in ends])
        stretches: list[tuple[float, float]] = []
        for start, end in np.sort(np.sort(along, axis=1), axis=0).tolist():
            if stretches and start <= stretches[-1][1] + 1e-6:
                stretches[-1] = (stretches[-1][0], max(end, stretches[-1][1]))
            else:
                stretches.append((start, end))
        return tuple(stretches)


def fit_trace(points: Sequence[TracePoint], common_sigma_m: float = 0.0, common_depth_share: float = 0.0) -> Trace:
    """A trace through points in the order walked; refuses fewer than two, and a run that is mostly outliers.

    `common_sigma_m` is the standard deviation of what shifts the whole run (datum, baseline, pull);
    `common_depth_share` the same for depth as a share of it.
    """
    if len(points) < 2:
        raise GroundError(
            "A trace needs at least two points. Mark the next point of the run.",
            code="too_few_points",
            fields={"points": "at least two"},
        )
    table = np.array(
        [
            (p.x_m, p.y_m, np.nan if p.depth_m is None else p.depth_m, p.position_sigma_m, p.depth_sigma_m)
            for p in points
        ],
        dtype=float,
    )
    if not np.isfinite(table[:, [0, 1, 3, 4]]).all() or (table[:, 3:] <= 0).any():
        raise GroundError(
            "A point of the run has no usable position or no error above zero. Take its position again.",
            code="position_missing",
            fields={"points": "positions must be numbers, errors above zero"},
        )
    table, original, early = gather_dense(table)
    kept, late = set_outliers_aside(table)
    aside = [SetAside(o.index, "position", o.off_m, o.limit_m) for o in early]
    aside += [SetAside(int(original[o.index]), "position", o.off_m, o.limit_m) for o in late]
    if len(kept) < 2 or len(late) > MOST_SET_ASIDE * len(table) or len(early) > MOST_SET_ASIDE * len(points):
        raise GroundError(
            f"{len(aside)} of {len(points)} points do not fit any line through their neighbours; this is "
            "not one run. Check the order of the points, or split them into runs.",
            code="not_one_run",
            fields={"points": "too ragged for one trace"},
        )
    rows = table[kept]
    fitted, sigma = blend(rows)
    steps = np.hypot(*np.diff(fitted, axis=0).T)
    chainage = np.concatenate([[0.0], np.cumsum(steps)])
    # two marks on one spot would make a line of no length there
    distinct = np.concatenate([[True], steps > 1e-6])
    depth, depth_sigma, depth_aside = _depths(chainage, rows, original[kept])
    gaps = [(float(a), float(b)) for a, b in pairwise(chainage) if b - a > LONGEST_GAP_M]
    position_band = 2.0 * np.hypot(sigma, common_sigma_m)
    depth_band = 2.0 * np.hypot(depth_sigma, common_depth_share * depth)
    return Trace(
        x_m=fitted[distinct, 0],
        y_m=fitted[distinct, 1],
        chainage_m=chainage[distinct],
        position_band_m=position_band[distinct],
        depth_m=depth[distinct],
        depth_band_m=depth_band[distinct],
        source=original[kept][distinct],
        set_aside=tuple(sorted((*aside, *depth_aside), key=lambda s: (s.index, s.what))),
        gaps=tuple(gaps),
    )


def _depths(chainage: Array, rows: Array, source: Indices) -> tuple[Array, Array, list[SetAside]]:
    """Depths smoothed along the run by the same windows, with depth outliers set aside."""
    depth, sigma = np.full(len(rows), np.nan), np.full(len(rows), np.nan)
    known = np.flatnonzero(~np.isnan(rows[:, 2]))
    if not len(known):
        return depth, sigma, []
    profile = np.column_stack([chainage[known], rows[known, 2], rows[known, 2], rows[known, 4]])
    left, outliers = set_outliers_aside(profile)
    aside = [SetAside(int(source[known[o.index]]), "depth", o.off_m, o.limit_m) for o in outliers]
    smooth, smooth_sigma = blend(profile[left])
    depth[known[left]], sigma[known[left]] = smooth[:, 1], smooth_sigma
    return depth, sigma, aside
