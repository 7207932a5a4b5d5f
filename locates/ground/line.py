"""Closed forms of a long straight conductor's field: depth, current, and how both go wrong. Pure.

Depth is from the ANTENNA CENTRE to the ELECTRICAL CENTRE of the line; `cover_m` takes it to the top.
Sources: the law of Biot and Savart for a line current, B = mu0 I / (2 pi r) (any field-theory text);
every formula below follows from it and is checked in the tests against an independent field library.
Valid while the depth is far below the skin depth of the soil (`skin_depth_m`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from enum import StrEnum

from locates.ground.refusal import GroundError, fraction, not_negative, positive

FIELD_NT_M_PER_A = 200.0  # mu0 / (2 pi) with the field in nT: 200 nT at 1 m from 1 A


class Antenna(StrEnum):
    """The antenna arrangement behind a width-at-a-fraction reading; without it no depth can be had."""

    SINGLE = "single"
    DIFFERENCE = "difference"


def horizontal_field_nt(current_a: float, depth_m: float, offset_m: float = 0.0) -> float:
    """Field across the line (nT) at a sideways offset: mu0 I d / (2 pi (x^2 + d^2)). Peaks over the line."""
    depth_m = positive("depth_m", depth_m)
    return FIELD_NT_M_PER_A * current_a * depth_m / (offset_m * offset_m + depth_m * depth_m)


def vertical_field_nt(current_a: float, depth_m: float, offset_m: float = 0.0) -> float:
    """Vertical field (nT) at a sideways offset: mu0 I x / (2 pi (x^2 + d^2)). Null over the line."""
    depth_m = positive("depth_m", depth_m)
    return FIELD_NT_M_PER_A * current_a * offset_m / (offset_m * offset_m + depth_m * depth_m)


def two_antenna_depth_m(bottom: float, top: float, spacing_m: float) -> float:
    """Depth from two horizontal antennas one above the other: s / (Bb/Bt - 1). Fields in any one unit."""
    bottom, top = positive("bottom", bottom, "(field)"), positive("top", top, "(field)")
    if bottom <= top:
        raise GroundError(
            f"The bottom antenna reads {bottom:g} and the top {top:g}; over a buried line the bottom reads "
            "more. The receiver is upside down, or another field rules here: move away and try again.",
            code="no_gradient",
            fields={"bottom": "must exceed top"},
        )
    return positive("spacing_m", spacing_m) / (bottom / top - 1.0)


def current_from_field_a(bottom_nt: float, depth_m: float) -> float:
    """Current (A rms) from the bottom antenna's field over the line: 2 pi d Bb / mu0."""
    return positive("bottom_nt", bottom_nt, "nT") * positive("depth_m", depth_m) / FIELD_NT_M_PER_A


def current_from_pair_a(bottom_nt: float, top_nt: float, spacing_m: float) -> float:
    """Current (A rms) from both antennas, no depth needed: (2 pi s / mu0) Bb Bt / (Bb - Bt)."""
    return current_from_field_a(bottom_nt, two_antenna_depth_m(bottom_nt, top_nt, spacing_m))


def forty_five_depth_m(walk_off_m: float, tilt_error_deg: float = 0.0) -> float:
    """Depth from the walk-off to the null of an antenna held at 45 degrees: depth = walk-off.

    `tilt_error_deg` is how much steeper than 45 degrees the antenna really stood: the walk-off is then
    d tan(45 + e), 3.55 % a degree, and is divided out.
    """
    return positive("walk_off_m", walk_off_m) / math.tan(math.radians(45.0 + tilt_error_deg))


def width_factor(peak_fraction: float) -> float:
    """Width over depth, between the points where ONE horizontal antenna falls to a fraction of its peak.

    2 sqrt(1/f - 1): width equals depth at 80 %; at 70 % it is 1.309 depths (the rule of thumb that it
    equals depth there is wrong for this antenna).
    """
    return 2.0 * math.sqrt(1.0 / fraction("peak_fraction", peak_fraction) - 1.0)


def difference_width_factor(peak_fraction: float, spacing_over_depth: float) -> float:
    """Width over depth for the DIFFERENCE of two antennas (bottom less top), k = 1 + s/d.

    Root of F v^2 + (F (1 + k^2) + k - 1) v + F k^2 - k^2 + k = 0 with F = f (1 - 1/k), v = (W/2d)^2.
    """
    share = fraction("peak_fraction", peak_fraction)
    k = 1.0 + positive("spacing_over_depth", spacing_over_depth, "")
    a = share * (1.0 - 1.0 / k)
    b = a * (1.0 + k * k) + k - 1.0
    c = a * k * k - k * k + k
    # c < 0 < a for every f in (0, 1): one positive root, in the form that keeps its digits for small a
    return 2.0 * math.sqrt(2.0 * -c / (b + math.sqrt(b * b - 4.0 * a * c)))


def width_depth_m(width_m: float, peak_fraction: float, antenna: Antenna, spacing_m: float | None = None) -> float:
    """Depth from the width between the two points where the signal falls to a fraction of its peak.

    Refuses a difference antenna without its spacing: the same width then means different depths.
    """
    width_m = positive("width_m", width_m)
    if antenna is Antenna.SINGLE:
        return width_m / width_factor(peak_fraction)
    if spacing_m is None:
        raise GroundError(
            "A width read with a difference antenna needs the spacing of its two antennas to become a depth. "
            "Enter the receiver's antenna spacing, or read with one antenna.",
            code="spacing_missing",
            fields={"spacing_m": "needed for a difference antenna"},
        )
    spacing_m = positive("spacing_m", spacing_m)
    # the factor rises with s/d from its close-spaced limit to the single antenna's, which bounds the depth
    return _bisect(
        lambda d: d * difference_width_factor(peak_fraction, spacing_m / d) - width_m,
        width_m / width_factor(peak_fraction),
        width_m / difference_width_factor(peak_fraction, 1e-9),
    )


def cover_m(depth_m: float, antenna_height_m: float = 0.0, outside_diameter_m: float = 0.0) -> float:
    """Ground above the top of the line: depth less the antenna's height less half the outside diameter.

    May come out below zero (the line is then exposed or the depth wrong); the caller warns.
    """
    return (
        positive("depth_m", depth_m)
        - not_negative("antenna_height_m", antenna_height_m)
        - not_negative("outside_diameter_m", outside_diameter_m) / 2.0
    )


def random_depth_share(depth_m: float, spacing_m: float, channel_error: float) -> float:
    """One standard deviation of a two-antenna depth as a share of the depth: sqrt2 e (1 + d/s)."""
    return (
        math.sqrt(2.0)
        * not_negative("channel_error", channel_error, "")
        * (1.0 + positive("depth_m", depth_m) / positive("spacing_m", spacing_m))
    )


def gain_mismatch_depth_m(depth_m: float, spacing_m: float, gain_error: float) -> float:
    """Depth that is read when the bottom antenna is too strong by a share: s / ((1+g)(d+s)/d - 1)."""
    depth_m, spacing_m = positive("depth_m", depth_m), positive("spacing_m", spacing_m)
    return two_antenna_depth_m((1.0 + gain_error) * (depth_m + spacing_m) / depth_m, 1.0, spacing_m)


def contaminated_depth_m(depth_m: float, spacing_m: float, share: float) -> float:
    """Depth that is read when the same in-phase field (a share of Bb) reaches both antennas: d + q (d + s)."""
    return positive("depth_m", depth_m) + share * (depth_m + positive("spacing_m", spacing_m))


def separation_m(moment_a_m2: float, current_a: float, depth_m: float, share: float) -> float:
    """Least distance from an induction transmitter so that its direct field is at most a share of the line's.

    (m d / (2 I q))^(1/3): the direct field falls as the cube of distance, the line's does not.
    """
    load = positive("moment_a_m2", moment_a_m2, "A m2") * positive("depth_m", depth_m)
    return (load / (2.0 * positive("current_a", current_a, "A") * positive("share", share, ""))) ** (1.0 / 3.0)


def separation_for_error_m(
    moment_a_m2: float, current_a: float, depth_m: float, spacing_m: float, depth_error_m: float
) -> float:
    """Least distance from an induction transmitter for a wanted depth error of a two-antenna reading.

    The direct field reads too deep by q (d + s); the wanted error fixes q, and q the distance.
    """
    share = positive("depth_error_m", depth_error_m) / (
        positive("depth_m", depth_m) + positive("spacing_m", spacing_m)
    )
    return separation_m(moment_a_m2, current_a, depth_m, share)


def yaw_factor(yaw_deg: float) -> float:
    """Reading of an antenna out of square to the line, as a share: cos(yaw). Two-antenna depth is unchanged."""
    return math.cos(math.radians(yaw_deg))


def grade_factor(grade_deg: float) -> float:
    """Field of a line on a grade over that of a level one at the same vertical depth: 1/cos(grade)."""
    return 1.0 / math.cos(math.radians(grade_deg))


def finite_line_factor(half_length_m: float, depth_m: float) -> float:
    """Field over the middle of a straight stretch as a share of an endless line's: L / sqrt(L^2 + d^2)."""
    half_length_m = positive("half_length_m", half_length_m)
    return half_length_m / math.hypot(half_length_m, positive("depth_m", depth_m))


def loss_db(current_before_a: float, current_after_a: float) -> float:
    """Loss between two readings of current along a line: 20 log10(I1/I2). Negative when the current rises."""
    return 20.0 * math.log10(
        positive("current_before_a", current_before_a, "A") / positive("current_after_a", current_after_a, "A")
    )


def skin_depth_m(resistivity_ohm_m: float, frequency_hz: float) -> float:
    """Depth at which soil itself weakens the field to 1/e: sqrt(2 rho / (omega mu0)), about 503 sqrt(rho/f)."""
    omega_mu0 = 2.0 * math.pi * positive("frequency_hz", frequency_hz, "Hz") * 4.0e-7 * math.pi
    return math.sqrt(2.0 * positive("resistivity_ohm_m", resistivity_ohm_m, "ohm m") / omega_mu0)


def _bisect(function: Callable[[float], float], low: float, high: float) -> float:
    """Root of a rising function between two bounds, to the last digits of a float."""
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        if function(middle) < 0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
