"""Closed forms of a sonde's field, and a fix of the sonde from two nulls and a peak. Pure.

A sonde is a magnetic dipole with its axis along the pipe (x), at depth z below the antenna.
Sources: the field of a magnetic dipole (any field-theory text); all else follows from it and is checked
in the tests against an independent field library. A record must say LINE or SONDE: the wrong formula is
out by a factor of 3 to 4.4 at 1 to 3 m.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from locates.ground.refusal import GroundError, fraction, positive

FIELD_NT_M3_PER_A_M2 = 100.0  # mu0 / (4 pi) with the field in nT
NULL_SPACING_SHARE = 1.0 / math.sqrt(2.0)  # depth over the spacing of the nulls, level sonde
GHOST_OFFSET = math.sqrt(1.5)  # where the ghost peaks lie, in depths
GHOST_SHARE = 2.0 / 2.5**2.5  # ghost peak over main peak, opposite in sign
MAX_PITCH_DEG = 35.0  # beyond it the three marks no longer tell pitch and depth apart well
SOLVED_PITCH_DEG = 45.0  # searched a little farther, so that the error of a mark can be followed at the edge


def field_nt(
    moment_a_m2: float, x_m: float, y_m: float, depth_m: float, pitch_deg: float = 0.0
) -> tuple[float, float, float]:
    """Field (nT) in line, across and up, at x along and y across the axis from the point over the sonde.

    `pitch_deg` tilts the +x end of the sonde up.
    """
    depth_m = positive("depth_m", depth_m)
    pitch = math.radians(pitch_deg)
    mx, mz = math.cos(pitch), math.sin(pitch)
    r2 = x_m * x_m + y_m * y_m + depth_m * depth_m
    along = 3.0 * (mx * x_m + mz * depth_m) / r2
    scale = FIELD_NT_M3_PER_A_M2 * moment_a_m2 / (r2 * math.sqrt(r2))
    return scale * (along * x_m - mx), scale * along * y_m, scale * (along * depth_m - mz)


def null_spacing_depth_m(spacing_m: float) -> float:
    """Depth of a LEVEL sonde from the distance between its two nulls: 0.707107 x spacing.

    On a pitched sonde it reads too deep, by sqrt(1 + 9/8 tan^2 p): 1.7 % at 10, 17 % at 30 degrees.
    """
    return NULL_SPACING_SHARE * positive("spacing_m", spacing_m)


def pitch_proof_depth_m(rear_m: float, front_m: float) -> float:
    """Depth from the two null distances off the point OVER the sonde, exact at any pitch: sqrt(2 a b)."""
    return math.sqrt(2.0 * positive("rear_m", rear_m) * positive("front_m", front_m))


def pitch_from_nulls_deg(rear_m: float, front_m: float) -> float:
    """Pitch from the two null distances off the point over the sonde; above zero: the front end is up.

    tan p = (rear - front) / (1.5 z). The longer distance lies on the nose-down side.
    """
    depth = pitch_proof_depth_m(rear_m, front_m)
    return math.degrees(math.atan((rear_m - front_m) / (1.5 * depth)))


def two_antenna_depth_m(bottom: float, top: float, spacing_m: float) -> float:
    """Depth of a sonde from two antennas over it: s / ((Bb/Bt)^(1/3) - 1). Fields in any one unit."""
    bottom, top = positive("bottom", bottom, "(field)"), positive("top", top, "(field)")
    if bottom <= top:
        raise GroundError(
            f"The bottom antenna reads {bottom:g} and the top {top:g}; over a sonde the bottom reads more. "
            "Stand over the main peak, in line with the pipe, and read again.",
            code="no_gradient",
            fields={"bottom": "must exceed top"},
        )
    return positive("spacing_m", spacing_m) / ((bottom / top) ** (1.0 / 3.0) - 1.0)


def random_depth_share(depth_m: float, spacing_m: float, channel_error: float) -> float:
    """One standard deviation of a sonde's two-antenna depth, as a share: (sqrt2 e / 3)(1 + z/s)."""
    return (
        math.sqrt(2.0) * channel_error / 3.0 * (1.0 + positive("depth_m", depth_m) / positive("spacing_m", spacing_m))
    )


def across_width_depth_m(width_m: float, peak_fraction: float) -> float:
    """Depth from the width across the axis at a fraction of the peak: W / (2 sqrt(f^(-2/3) - 1))."""
    share = fraction("peak_fraction", peak_fraction)
    return positive("width_m", width_m) / (2.0 * math.sqrt(share ** (-2.0 / 3.0) - 1.0))


def ghost_spacing_depth_m(spacing_m: float) -> float:
    """Depth of a level sonde from the distance between its two ghost peaks: spacing / sqrt 6."""
    return positive("spacing_m", spacing_m) / math.sqrt(6.0)


def moment_a_m2(bottom_nt: float, depth_m: float) -> float:
    """Magnetic moment of a level sonde from the field over it: 4 pi z^3 B / mu0. A range check of the sonde."""
    return positive("bottom_nt", bottom_nt, "nT") * positive("depth_m", depth_m) ** 3 / FIELD_NT_M3_PER_A_M2


def null_offsets(pitch_deg: float) -> tuple[float, float]:
    """Rear and front null of the in-line antenna, in depths from the point over the sonde."""
    t = math.tan(math.radians(pitch_deg))
    root = math.sqrt(9.0 * t * t + 8.0)
    return (-3.0 * t - root) / 4.0, (-3.0 * t + root) / 4.0


def peak_offset(pitch_deg: float) -> float:
    """Main peak of the in-line antenna, in depths: the root of 2u^3 + 4tu^2 - 3u - t near -t/3."""
    t = math.tan(math.radians(pitch_deg))
    u = -t / 3.0
    for _ in range(60):
        value = ((2.0 * u + 4.0 * t) * u - 3.0) * u - t
        step = value / ((6.0 * u + 8.0 * t) * u - 3.0)
        u -= step
        if abs(step) < 1e-15:
            break
    return u


def vertical_null_offset(pitch_deg: float) -> float:
    """Null of a vertical antenna, in depths from the point over the sonde (about -2t/3)."""
    t = math.tan(math.radians(pitch_deg))
    # rationalised form of (3 - sqrt(9 + 8 t^2)) / (2 t), good through t = 0
    return -4.0 * t / (3.0 + math.sqrt(9.0 + 8.0 * t * t))


def ghost_shares(pitch_deg: float) -> tuple[float, float]:
    """Rear and front ghost peaks over the main peak, by size. Unequal ghosts mean a tilted sonde."""
    t = math.tan(math.radians(pitch_deg))

    def inline(u: float) -> float:
        return abs(field_nt(1.0, u, 0.0, 1.0, pitch_deg)[0])

    main = peak_offset(pitch_deg)
    # the other two roots of 2u^3 + 4tu^2 - 3u - t, once the main peak's is divided out
    b = 4.0 * t + 2.0 * main
    c = main * b - 3.0
    root = math.sqrt(b * b - 8.0 * c)
    return inline((-b - root) / 4.0) / inline(main), inline((-b + root) / 4.0) / inline(main)


@dataclass(frozen=True, slots=True)
class SondeFix:
    """Where a sonde lies, from marks on the ground. All positions in one metric grid.

    `azimuth_deg` points from the rear to the front null, clockwise from the grid's +y (north);
    `pitch_deg` is above zero when the front end is up; sigmas are one standard deviation.
    """

    x_m: float
    y_m: float
    depth_m: float
    depth_sigma_m: float
    position_sigma_m: float
    azimuth_deg: float
    pitch_deg: float
    pitch_sigma_deg: float
    off_line_m: float


def fix_from_marks(
    rear: tuple[float, float],
    front: tuple[float, float],
    peak: tuple[float, float],
    mark_sigma_m: float = 0.02,
) -> SondeFix:
    """Fix a sonde from the marks of its two nulls and its main peak, read with the antenna in line.

    Three marks on one line give three unknowns (point over the sonde, depth, pitch) without assuming a
    level pipe: the peak leaves the midpoint of the nulls by 5/12 of the pitch's tangent, in depths.
    `depth_m` is from the antenna. `off_line_m` is how far the peak's mark lies beside the line of nulls:
    much of it means a bend, a neighbour, or a ghost taken for the peak. Refuses a peak outside the nulls.
    """
    positive("mark_sigma_m", mark_sigma_m)
    dx, dy = front[0] - rear[0], front[1] - rear[1]
    spacing = positive("null spacing", math.hypot(dx, dy))
    ex, ey = dx / spacing, dy / spacing
    along = (peak[0] - rear[0]) * ex + (peak[1] - rear[1]) * ey
    off_line = (peak[0] - rear[0]) * -ey + (peak[1] - rear[1]) * ex
    depth, over, pitch = _solve(0.0, spacing, along)
    if abs(pitch) > MAX_PITCH_DEG + 1e-6:
        raise _not_between((along - spacing / 2.0) / spacing)
    # each mark moved by its own error moves depth, place and pitch; the three add as squares
    moved = [
        _solve(mark_sigma_m, spacing, along),
        _solve(0.0, spacing + mark_sigma_m, along),
        _solve(0.0, spacing, along + mark_sigma_m),
    ]
    depth_sigma = math.hypot(*(m[0] - depth for m in moved))
    pitch_sigma = math.hypot(*(m[2] - pitch for m in moved))
    # near level the depth depends on the pitch squared, which its first derivative does not show
    bent = 0.5 * 1.125 * depth * math.tan(math.radians(pitch_sigma)) ** 2
    return SondeFix(
        x_m=rear[0] + over * ex,
        y_m=rear[1] + over * ey,
        depth_m=depth,
        depth_sigma_m=math.hypot(depth_sigma, bent),
        position_sigma_m=math.hypot(*(m[1] - over for m in moved)),
        azimuth_deg=math.degrees(math.atan2(ex, ey)) % 360.0,
        pitch_deg=pitch,
        pitch_sigma_deg=pitch_sigma,
        off_line_m=off_line,
    )


def _solve(rear_m: float, front_m: float, peak_m: float) -> tuple[float, float, float]:
    """Depth, place of the sonde along the marks' line, and pitch, from three marks on that line."""
    spacing = positive("null spacing", front_m - rear_m)
    pitch = _pitch_from_peak((peak_m - 0.5 * (front_m + rear_m)) / spacing)
    t = math.tan(math.radians(pitch))
    depth = null_spacing_depth_m(spacing) / math.sqrt(1.0 + 1.125 * t * t)
    return depth, peak_m - peak_offset(pitch) * depth, pitch


def _pitch_from_peak(eccentricity: float) -> float:
    """Pitch from how far the peak lies ahead of the nulls' midpoint, as a share of their spacing."""

    def model(pitch_deg: float) -> float:
        rear, front = null_offsets(pitch_deg)
        return (peak_offset(pitch_deg) - 0.5 * (rear + front)) / (front - rear)

    low, high = -SOLVED_PITCH_DEG, SOLVED_PITCH_DEG
    if not model(low) <= eccentricity <= model(high):
        raise _not_between(eccentricity)
    for _ in range(50):
        middle = 0.5 * (low + high)
        if model(middle) < eccentricity:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _not_between(eccentricity: float) -> GroundError:
    return GroundError(
        f"The peak's mark lies {eccentricity:+.0%} of the null spacing off their midpoint; no sonde "
        f"within {MAX_PITCH_DEG:g} degrees of level does that. One mark may be a ghost: the main peak "
        "lies between the two nulls and is the strongest.",
        code="peak_not_between_nulls",
        fields={"peak": "must lie near the middle of the two nulls"},
    )
