"""What a crew reads at one point over a line, and the receiver it reads with. Pure values.

Positions along the sweep (peak, null, 45-degree nulls) share one axis across the line, in metres from any
origin the crew likes; only differences are used.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from locates.ground.line import Antenna
from locates.ground.refusal import GroundError, not_negative, positive


@dataclass(frozen=True, slots=True)
class Receiver:
    """How well a receiver and its operator read. The defaults are proposals; common practice, no source.

    `channel_error` is one standard deviation of one antenna's signal as a share; `mark_sigma_m` how well a
    peak or null is marked on the ground; `tilt_sigma_deg` how well 45 degrees is held. The calibration
    allowance is what the register accepts on a known line at about two standard deviations:
    `calibration_share` of the depth plus `calibration_m`.
    """

    spacing_m: float = 0.4
    channel_error: float = 0.005
    mark_sigma_m: float = 0.015
    tilt_sigma_deg: float = 1.0
    antenna_height_m: float = 0.0
    calibration_share: float = 0.05
    calibration_m: float = 0.05
    frequencies_hz: tuple[float, ...] = ()
    full_scale: float | None = None

    def __post_init__(self) -> None:
        positive("spacing_m", self.spacing_m)
        positive("channel_error", self.channel_error, "(share)")
        positive("mark_sigma_m", self.mark_sigma_m)
        not_negative("tilt_sigma_deg", self.tilt_sigma_deg, "degrees")
        not_negative("antenna_height_m", self.antenna_height_m)


@dataclass(frozen=True, slots=True)
class WidthReading:
    """Width between the two points where the signal falls to a fraction of its peak."""

    width_m: float
    peak_fraction: float
    antenna: Antenna = Antenna.SINGLE


@dataclass(frozen=True, slots=True)
class LineReading:
    """Everything read at one point over a line; absent means not read, never zero.

    `two_antenna_m` is the depth the receiver shows (or comes from `bottom_nt` and `top_nt`); `lifted_m`
    the depth it shows when raised by `lift_m`; `null_floor` the least vertical signal over the peak
    horizontal signal; `side_turned` the peak signal with the receiver turned a quarter over that across
    the line. Depths are from the antenna.
    """

    two_antenna_m: float | None = None
    bottom_nt: float | None = None
    top_nt: float | None = None
    peak_at_m: float | None = None
    null_at_m: float | None = None
    left_45_at_m: float | None = None
    right_45_at_m: float | None = None
    lift_m: float | None = None
    lifted_m: float | None = None
    null_floor: float | None = None
    side_turned: float | None = None
    signal: float | None = None
    current_a: float | None = None
    widths: tuple[WidthReading, ...] = field(default=())

    def __post_init__(self) -> None:
        for name in ("two_antenna_m", "bottom_nt", "top_nt", "lift_m", "lifted_m", "current_a"):
            value = getattr(self, name)
            if value is not None:
                positive(name, value)
        if (self.bottom_nt is None) != (self.top_nt is None):
            raise GroundError(
                "A field was given for one antenna only; the depth needs both. Enter the other or neither.",
                code="one_antenna_only",
                fields={"top_nt": "needed with bottom_nt"},
            )
        if self.null_at_m is None and (self.left_45_at_m is not None or self.right_45_at_m is not None):
            raise GroundError(
                "A 45-degree mark was given without the null it is walked off from. Mark the null as well.",
                code="null_missing",
                fields={"null_at_m": "needed with a 45-degree mark"},
            )
        self._check_sides()

    def _check_sides(self) -> None:
        left, null, right = self.left_45_at_m, self.null_at_m, self.right_45_at_m
        if null is None:
            return
        if (left is not None and left >= null) or (right is not None and right <= null):
            raise GroundError(
                "The 45-degree marks must lie left and right of the null, left with the smaller figure. "
                "Were left and right swapped?",
                code="sides_swapped",
                fields={"left_45_at_m": "must lie left of the null", "right_45_at_m": "must lie right of it"},
            )

    @property
    def left_45_m(self) -> float | None:
        """Walk-off from the null to the left 45-degree null."""
        if self.left_45_at_m is None or self.null_at_m is None:
            return None
        return self.null_at_m - self.left_45_at_m

    @property
    def right_45_m(self) -> float | None:
        """Walk-off from the null to the right 45-degree null."""
        if self.right_45_at_m is None or self.null_at_m is None:
            return None
        return self.right_45_at_m - self.null_at_m

    @property
    def peak_null_gap_m(self) -> float | None:
        """Null less peak: a clean line has none."""
        if self.peak_at_m is None or self.null_at_m is None:
            return None
        return self.null_at_m - self.peak_at_m
