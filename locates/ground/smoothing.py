"""Robust local fits behind a trace: outliers set aside, points drawn onto lines without rounding corners. Pure.

Rows are (x, y, depth, position sigma, ...); only x, y and the sigma in column 3 are used here. Everything is
vectorised over the points: ten thousand are fitted in a fraction of a second.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
REACH = 5  # points taken on each side
GOOD_MISFIT = 4.0  # mean square residual over the stated variance that a straight window stays under
OUTLIER_SIGMAS = 4.0
MAX_PASSES = 25
DENSE_SIGMAS = 2.0  # points closer than this many of their own errors are gathered into blocks first


@dataclass(frozen=True, slots=True)
class Outlier:
    """A row set aside: its index, how far it lies off the best fit, and how far it might have."""

    index: int
    off_m: float
    limit_m: float


def gather_dense(table: Array) -> tuple[Array, Indices, list[Outlier]]:
    """Rows gathered into blocks of medians when they stand closer than their errors.

    A receiver that logs as it walks leaves points nearer to each other than they are sure; the way between
    them is then noise and no direction can be had from it. Points far off the running median go first.
    Returns the blocks, the index of each one's middle point, and the points set aside.
    """
    steps = np.hypot(*np.diff(table[:, :2], axis=0).T)
    sigma = float(np.median(table[:, 3]))
    if len(table) < 2 * REACH + 1 or float(np.median(steps)) >= DENSE_SIGMAS * sigma:
        return table, np.arange(len(table)), []
    off, limit = _off_running_median(table)
    good = np.flatnonzero(off <= limit)
    outliers = [Outlier(int(i), float(off[i]), float(limit[i])) for i in np.flatnonzero(off > limit)]
    rows, middle = _blocks(table[good], sigma)
    return rows, good[middle], outliers


def _off_running_median(table: Array) -> tuple[Array, Array]:
    """Distance of every row from the median of its neighbours, and how far it may be."""
    padded = np.pad(table[:, :2], ((REACH, REACH), (0, 0)), mode="edge")
    window = np.lib.stride_tricks.sliding_window_view(padded, 2 * REACH + 1, axis=0)
    off = np.hypot(*(table[:, :2] - np.median(window, axis=2)).T)
    # between the window's middle and its end lie up to REACH steps of honest way
    return off, table[:, 3] * (OUTLIER_SIGMAS + REACH * DENSE_SIGMAS / 2.0)


def _blocks(table: Array, sigma: float) -> tuple[Array, Indices]:
    starts, reach2 = [0], (2.0 * DENSE_SIGMAS * sigma) ** 2
    x0, y0 = float(table[0, 0]), float(table[0, 1])
    for index, (x, y) in enumerate(table[:, :2].tolist()):
        if (x - x0) ** 2 + (y - y0) ** 2 > reach2:
            starts.append(index)
            x0, y0 = x, y
    ends = [*starts[1:], len(table)]
    rows = np.empty((len(starts), table.shape[1]))
    for block, (start, end) in enumerate(zip(starts, ends, strict=True)):
        part = table[start:end]
        rows[block] = np.median(part, axis=0)
        known = part[~np.isnan(part[:, 2]), 2]
        rows[block, 2] = np.median(known) if len(known) else np.nan
        # a median of n independent points is sure to 1.25 sigma / sqrt n; fixes logged in a row are not
        # independent, so a block is never taken as surer than half of one point
        rows[block, 3:] *= np.clip(1.25 / np.sqrt(end - start), 0.5, 1.0)
    return rows, np.array([(start + end - 1) // 2 for start, end in zip(starts, ends, strict=True)])


def _windows(count: int, judged: Indices) -> tuple[Indices, NDArray[np.bool_]]:
    """Indices (judged, 2 REACH) of the neighbours behind and ahead, with a mask of those that exist."""
    offsets = np.concatenate([np.arange(-REACH, 0), np.arange(1, REACH + 1)])
    index = judged[:, None] + offsets[None, :]
    valid = (index >= 0) & (index < count)
    return np.clip(index, 0, count - 1), valid


@dataclass(slots=True)
class Fits:
    """What windows say of the points judged: `place` on the fitted curve (n, 2), how far the point lies `off`
    it, the `variance` there that the stated errors leave (inf: no fit), and `misfit`, the mean square
    residual of the window's own points over the stated variance (NaN: too few points to tell).
    """

    place: Array
    off: Array
    variance: Array
    misfit: Array


def _fit(rows: Array, window: Indices, weight: Array, judged: Indices, degree: int) -> Fits:
    """Straight (degree 1) or bent (degree 2) curves through weighted windows, in each window's own axes."""
    xy = rows[window, :2]
    total = weight.sum(axis=1)
    safe = np.maximum(total, 1e-12)
    middle = (weight[..., None] * xy).sum(axis=1) / safe[:, None]
    d = xy - middle[:, None, :]
    sxx, syy = (weight * d[..., 0] ** 2).sum(axis=1), (weight * d[..., 1] ** 2).sum(axis=1)
    angle = 0.5 * np.arctan2(2.0 * (weight * d[..., 0] * d[..., 1]).sum(axis=1), sxx - syy)
    ex, ey = np.cos(angle), np.sin(angle)
    along = d[..., 0] * ex[:, None] + d[..., 1] * ey[:, None]
    across = d[..., 1] * ex[:, None] - d[..., 0] * ey[:, None]
    own = rows[judged, :2] - middle
    at = own[:, 0] * ex + own[:, 1] * ey
    spread = np.maximum((weight * along**2).sum(axis=1), 1e-12)
    value, residual = np.zeros(len(judged)), across
    variance = 1.0 / safe + at**2 / spread
    if degree == 2:
        # 1, s and a parabola made orthogonal to both: each term then stands alone
        third = (weight * along**3).sum(axis=1) / spread
        level = spread / safe
        bend = along**2 - third[:, None] * along - level[:, None]
        size = np.maximum((weight * bend**2).sum(axis=1), 1e-12)
        curve = (weight * bend * across).sum(axis=1) / size
        at_bend = at**2 - third * at - level
        value = curve * at_bend
        residual = across - curve[:, None] * bend
        variance = variance + at_bend**2 / size
    count = (weight > 0).sum(axis=1)
    freedom = count - 1 - degree
    misfit = np.where(freedom > 0, (weight * residual**2).sum(axis=1) / np.maximum(freedom, 1), np.nan)
    variance = np.where(freedom >= 0, variance, np.inf)
    place = middle + at[:, None] * np.column_stack([ex, ey]) + value[:, None] * np.column_stack([-ey, ex])
    return Fits(place, np.abs(own[:, 1] * ex - own[:, 0] * ey - value), variance, misfit)


BEHIND, AHEAD, BOTH = slice(0, REACH), slice(REACH, 2 * REACH), slice(0, 2 * REACH)
JUDGES = ((BEHIND, 1), (AHEAD, 1), (BOTH, 1), (BOTH, 2))


def _judges(rows: Array, judged: Indices, with_self: bool) -> list[Fits]:
    """The four fits at the points judged, with or without the point itself: behind, ahead, both, both bent.

    A window that misses its own points is tried again without each of them in turn: one outlier among the
    neighbours must not spoil the judgement of a good point, nor hide a second outlier.
    """
    window, valid = _windows(len(rows), judged)
    inverse = 1.0 / rows[:, 3] ** 2
    weight = np.where(valid, inverse[window], 0.0)
    found = []
    for part, degree in JUDGES:
        w, i = weight[:, part], window[:, part]
        if with_self:
            w, i = np.column_stack([w, inverse[judged]]), np.column_stack([i, judged])
        fits = _fit(rows, i, w, judged, degree)
        if (part, degree) != (BOTH, 1):
            _retry_without_one(rows, i, w, judged, fits, degree)
        found.append(fits)
    return found


def _retry_without_one(rows: Array, window: Indices, weight: Array, judged: Indices, fits: Fits, degree: int) -> None:
    """Put the best fit without one neighbour in the place of every fit that misses its own points."""
    bad = np.flatnonzero(fits.misfit > GOOD_MISFIT)
    for column in range(window.shape[1] // REACH * REACH if len(bad) else 0):
        w = weight[bad].copy()
        w[:, column] = 0.0
        other = _fit(rows, window[bad], w, judged[bad], degree)
        better = other.misfit < fits.misfit[bad]
        for name in ("place", "off", "variance", "misfit"):
            getattr(fits, name)[bad[better]] = getattr(other, name)[better]


def set_outliers_aside(table: Array) -> tuple[Indices, list[Outlier]]:
    """Indices of the rows kept, and the outliers, worst of each neighbourhood first."""
    kept = np.arange(len(table))
    score, off = np.zeros(len(table)), np.zeros(len(table))
    changed = np.ones(len(table), dtype=bool)
    aside: list[Outlier] = []
    for _ in range(MAX_PASSES):
        if len(kept) < REACH:
            break
        # a row's judgement changes only when a row in its own windows went
        again = np.flatnonzero(changed)
        score[again], off[again] = _score(table[kept], again)
        # only the worst of a neighbourhood goes in one pass: its neighbours may be innocent
        out = (score > OUTLIER_SIGMAS) & (score >= _widest(score))
        if not out.any():
            break
        for i in np.flatnonzero(out):
            aside.append(Outlier(int(kept[i]), float(off[i]), float(off[i] * OUTLIER_SIGMAS / score[i])))
        changed = _widest(out)[~out]
        kept, score, off = kept[~out], score[~out], off[~out]
    return kept, aside


def _score(rows: Array, judged: Indices) -> tuple[Array, Array]:
    """How many of its sigmas each point judged lies off the best of its fits, and how far that is.

    Zero where too few fits may judge: one alone may look along the wrong leg of a corner; only the ends of a
    run have no second.
    """
    score, off = np.full(len(judged), np.inf), np.zeros(len(judged))
    judges = ((judged < 2) | (judged >= len(rows) - 2)).astype(int)
    for (part, _), fits in zip(JUDGES, _judges(rows, judged, with_self=False), strict=True):
        ratio = fits.off / np.sqrt(fits.variance + rows[judged, 3] ** 2)
        # a window that misses its own points (a corner, other outliers) is no judge of this one
        usable = np.isfinite(fits.variance) & ~(fits.misfit > GOOD_MISFIT)
        judges += usable * (2 if part == BOTH else 1)
        better = usable & (ratio < score)
        score, off = np.where(better, ratio, score), np.where(better, fits.off, off)
    return np.where(np.isfinite(score) & (judges > 1), score, 0.0), off


def _widest(values: NDArray[Any]) -> NDArray[Any]:
    """The greatest value within reach of every row, itself included."""
    padded = np.pad(values, REACH)
    return np.lib.stride_tricks.sliding_window_view(padded, 2 * REACH + 1).max(axis=1)


def blend(rows: Array) -> tuple[Array, Array]:
    """Points drawn onto the blend of their four fits, and the standard deviation across."""
    stated = rows[:, 3]
    if len(rows) < 3:
        return rows[:, :2].copy(), stated.copy()
    place = np.zeros((len(rows), 2))
    spread = np.zeros(len(rows))
    total = np.zeros(len(rows))
    for fits in _judges(rows, np.arange(len(rows)), with_self=True):
        judged = np.isfinite(fits.variance) & np.isfinite(fits.misfit)
        variance = np.where(judged, fits.variance, 1.0)
        miss = np.where(judged, np.maximum(fits.misfit, 1.0), 1.0)
        # weight: surer lines count more, and lines that miss their own points hardly at all
        weight = np.where(judged, np.exp(-2.0 * (miss - 1.0)) / variance, 0.0)
        place += weight[:, None] * fits.place
        # the four share points: their errors are taken as wholly dependent, which never flatters
        spread += weight * np.sqrt(variance * miss)
        total += weight
    usable = total > 1e-6 / stated**2
    safe = np.where(usable, total, 1.0)
    place = np.where(usable[:, None], place / safe[:, None], rows[:, :2])
    sigma = np.where(usable, spread / safe, stated)
    # a smoothed point that moved more than its error says the line bends there: keep the point, own up to it
    moved = np.hypot(*(place - rows[:, :2]).T)
    return place, np.where(moved > 2.5 * stated, np.maximum(sigma, moved / 2.0), sigma)
