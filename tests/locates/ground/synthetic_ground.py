"""Synthetic ground: what a crew would read over conductors and a sonde, by an independent field model.

The fields come from magpylib (straight current segments, point dipoles), never from the code under test.
The crew's work is imitated as far as it bears on the figures: sweep across the line, mark peak and null with
an error, walk off both 45-degree nulls with the receiver's angle a little wrong, read two antennas with noise
and a gain mismatch, lift and read again, mark the 80 % width.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from magpylib.func import dipole_field, polyline_field
from numpy.typing import NDArray

from locates.ground.line import Antenna
from locates.ground.reading import LineReading, Receiver, WidthReading

SPACING_M = 0.4
LIFT_M = 0.5
CHANNEL_ERROR = 0.005
MARK_SIGMA_M = 0.015
TILT_SIGMA_DEG = 1.0
GAIN_SIGMA = 0.003
RECEIVER = Receiver(SPACING_M, CHANNEL_ERROR, MARK_SIGMA_M, TILT_SIGMA_DEG)
HALF_LENGTH_M = 1000.0
NT = 1e9

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Conductor:
    """A long straight conductor: offset and depth where the sweep crosses it, heading off the target's."""

    offset_m: float
    depth_m: float
    current_a: float
    heading_deg: float = 0.0


@dataclass(frozen=True)
class LineCase:
    """One point over a target at offset 0: what was read, and what is true."""

    reading: LineReading
    depth_m: float
    clean_depth_error: float  # of a noise-free two-antenna depth, as a share
    peak_shift: float  # of the noise-free peak, as a share of the depth
    conductors: tuple[Conductor, ...]

    @property
    def distorted(self) -> bool:
        """Is the ground itself misleading? Depth off by over 10 % or peak by over 5 % of the depth."""
        return abs(self.clean_depth_error) > 0.10 or abs(self.peak_shift) > 0.05


def line_field_nt(x_m: Array, height_m: Array | float, conductors: tuple[Conductor, ...]) -> tuple[Array, Array]:
    """Horizontal (across the sweep) and vertical field at points of the sweep, by the field library."""
    n = len(x_m)
    observers = np.column_stack([x_m, np.zeros(n), np.broadcast_to(height_m, (n,))])
    total = np.zeros((n, 3))
    for c in conductors:
        heading = np.radians(c.heading_deg)
        along = HALF_LENGTH_M * np.array([np.sin(heading), np.cos(heading), 0.0])
        middle = np.array([c.offset_m, 0.0, -c.depth_m])
        total += polyline_field(
            "B",
            observers,
            np.tile(middle - along, (n, 1)),
            np.tile(middle + along, (n, 1)),
            np.full(n, c.current_a),
            squeeze=False,
        )
    return total[:, 0] * NT, total[:, 2] * NT


def read_line(conductors: tuple[Conductor, ...], rng: np.random.Generator | None) -> LineCase | None:
    """Read over the first conductor. None where no peak, null or walk-off can be found. No rng: no noise."""
    depth = conductors[0].depth_m
    x = np.linspace(-2.5 * depth, 2.5 * depth, 401)
    horizontal, vertical = (np.abs(f) if i == 0 else f for i, f in enumerate(line_field_nt(x, 0.0, conductors)))
    peak_index = _nearest_peak(x, horizontal, 1.2 * depth)
    null = _nearest_zero(x, vertical, x[peak_index] if peak_index else 0.0)
    if peak_index is None or null is None or abs(null) > 1.5 * depth:
        return None
    peak = _parabola(x, horizontal, peak_index)
    heights = np.array([0.0, SPACING_M, LIFT_M, LIFT_M + SPACING_M])
    column = np.abs(line_field_nt(np.full(4, peak), heights, conductors)[0])
    clean = SPACING_M / (column[0] / column[1] - 1.0)
    noise = _noise(rng)
    gain = 1.0 + GAIN_SIGMA * noise()
    bottom, top, high_bottom, high_top = (v * (1.0 + CHANNEL_ERROR * noise()) for v in column)
    walk_offs = [_walk_off(x, horizontal, np.abs(vertical), null, side, TILT_SIGMA_DEG * noise()) for side in (-1, 1)]
    width = _width(x, horizontal, peak_index, 0.8)
    left, right = walk_offs
    if left is None or right is None or width is None or not (bottom * gain > top and high_bottom * gain > high_top):
        return None
    marks = [MARK_SIGMA_M * noise() for _ in range(6)]
    lifted = SPACING_M / (high_bottom * gain / high_top - 1.0)
    null_mark = null + marks[1]
    reading = LineReading(
        bottom_nt=bottom * gain,
        top_nt=top,
        peak_at_m=peak + marks[0],
        null_at_m=null_mark,
        left_45_at_m=min(left + marks[2], null_mark - 1e-3),
        right_45_at_m=max(right + marks[3], null_mark + 1e-3),
        lift_m=LIFT_M,
        lifted_m=lifted,
        widths=(WidthReading(max(0.05, width + marks[4] - marks[5]), 0.8, Antenna.SINGLE),),
    )
    return LineCase(reading, depth, clean / depth - 1.0, peak / depth, conductors)


def clean_ground(rng: np.random.Generator) -> tuple[Conductor, ...]:
    """One conductor alone, 0.4 to 2.5 m deep."""
    return (Conductor(0.0, rng.uniform(0.4, 2.5), rng.uniform(0.005, 0.2)),)


def crowded_ground(rng: np.random.Generator, most: float = 0.8) -> tuple[Conductor, ...]:
    """A target with one or two neighbours, currents either way, depths and headings of their own."""
    target = clean_ground(rng)[0]
    neighbours = []
    for _ in range(rng.integers(1, 3)):
        share = rng.choice([-1.0, 1.0]) * rng.uniform(0.05, most)
        offset = rng.choice([-1.0, 1.0]) * rng.uniform(0.4, 3.0) * target.depth_m
        deep = target.depth_m * rng.uniform(0.6, 1.5)
        neighbours.append(Conductor(offset, deep, share * target.current_a, rng.uniform(-20.0, 20.0)))
    return (target, *neighbours)


@dataclass(frozen=True)
class SondeMarks:
    """Marks of one sonde in a pipe along +x: both nulls and the peak (ground plane), and the true depth."""

    rear: tuple[float, float]
    front: tuple[float, float]
    peak: tuple[float, float]
    true_xy: tuple[float, float]
    true_depth_m: float
    two_antennas: tuple[float, float]


def read_sonde(
    x_m: float, depth_m: float, pitch_deg: float, rng: np.random.Generator | None, mark_sigma_m: float = 0.015
) -> SondeMarks:
    """Marks over a sonde at (x, 0) whose front end (+x) is pitched up, by the field library."""
    pitch = np.radians(pitch_deg)
    moment = np.array([np.cos(pitch), 0.0, np.sin(pitch)])
    x = np.linspace(-1.8 * depth_m, 1.8 * depth_m, 721)
    field = _dipole(x, 0.0, depth_m, moment)
    peak_index = int(np.argmax(np.abs(field)))
    peak = _parabola(x, np.abs(field), peak_index)
    crossings = np.flatnonzero(np.sign(field[1:]) != np.sign(field[:-1]))
    zeros = x[crossings] - field[crossings] * (x[1] - x[0]) / (field[crossings + 1] - field[crossings])
    noise = _noise(rng)

    def mark(at: float) -> tuple[float, float]:
        return x_m + at + mark_sigma_m * noise(), mark_sigma_m * noise()

    pair = np.abs([_dipole(np.array([peak]), h, depth_m, moment)[0] for h in (0.0, SPACING_M)])
    bottom, top = (float(v) * (1.0 + CHANNEL_ERROR * noise()) for v in pair)
    rear, front = max(z for z in zeros if z < peak), min(z for z in zeros if z > peak)
    return SondeMarks(mark(rear), mark(front), mark(peak), (x_m, 0.0), depth_m, (bottom, top))


def _dipole(x: Array, height_m: float, depth_m: float, moment: Array) -> Array:
    observers = np.column_stack([x, np.zeros_like(x), np.full_like(x, depth_m + height_m)])
    found = dipole_field("B", observers, np.tile(moment, (len(x), 1)), squeeze=False)
    return np.asarray(found)[:, 0] * NT


def _noise(rng: np.random.Generator | None):  # type: ignore[no-untyped-def]
    return (lambda: 0.0) if rng is None else (lambda: float(rng.normal()))


def _nearest_peak(x: Array, values: Array, within_m: float) -> int | None:
    inner = np.flatnonzero((values[1:-1] > values[:-2]) & (values[1:-1] >= values[2:])) + 1
    inner = inner[np.abs(x[inner]) < within_m]
    return int(inner[np.argmin(np.abs(x[inner]))]) if len(inner) else None


def _nearest_zero(x: Array, values: Array, near: float) -> float | None:
    cross = np.flatnonzero(np.sign(values[1:]) != np.sign(values[:-1]))
    if not len(cross):
        return None
    zeros = x[cross] - values[cross] * (x[cross + 1] - x[cross]) / (values[cross + 1] - values[cross])
    return float(zeros[np.argmin(np.abs(zeros - near))])


def _parabola(x: Array, values: Array, index: int) -> float:
    a, b, c = values[index - 1 : index + 2]
    return float(x[index] + 0.5 * (a - c) / (a - 2 * b + c) * (x[1] - x[0]))


def _walk_off(x: Array, horizontal: Array, vertical: Array, null: float, side: int, tilt_deg: float) -> float | None:
    """Where an antenna held at 45 degrees (and a little off) first falls silent, going out from the null."""
    silent = vertical - np.tan(np.radians(45.0 + tilt_deg)) * horizontal
    order = np.flatnonzero(side * (x - null) > 0)[::side]
    loud = np.flatnonzero(silent[order] >= 0)
    if not len(loud) or loud[0] == 0:
        return None
    far, near = order[loud[0]], order[loud[0] - 1]
    return float(x[near] - silent[near] * (x[far] - x[near]) / (silent[far] - silent[near]))


def _width(x: Array, values: Array, index: int, share: float) -> float | None:
    """Width of the peak where it falls to a share of its height."""
    level = values[index] * share
    right = np.flatnonzero(values[index:] < level)
    left = np.flatnonzero(values[: index + 1][::-1] < level)
    if not len(right) or not len(left):
        return None
    r, lft = index + right[0], index - left[0]
    x_right = x[r - 1] + (values[r - 1] - level) * (x[r] - x[r - 1]) / (values[r - 1] - values[r])
    x_left = x[lft + 1] - (values[lft + 1] - level) * (x[lft + 1] - x[lft]) / (values[lft + 1] - values[lft])
    return float(x_right - x_left)
