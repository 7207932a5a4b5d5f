"""Tolerance zones round lines, hand-dig zones in a dig area, and what a trench crosses. Pure.

Two zones are kept apart. The LEGAL zone is the state's distance from the outer edge (or from the mark, as
the state's law measures it) and says what the law demands. The HAND-DIG zone is the legal one widened by the
locate's own uncertainty: the line may lie anywhere in its band, and the zone goes with it. Where a state
measures from a mark or centre line, half a known diameter is still added: the stricter reading.
The distance comes from the state's law through the caller. Coordinates are metres in one local grid.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, Polygon, buffer, distance, linestrings, simplify, unary_union
from shapely.geometry.base import BaseGeometry

from locates.ground.caution import DEPTH_IS_NOT_PERMISSION, LAW_RULES, UNKNOWN_IS_NOT_CLEAR
from locates.ground.lengths import INCH_M
from locates.ground.refusal import GroundError, not_negative, positive
from locates.ground.trace import LONGEST_GAP_M, Trace

SPREAD = 3  # points on each side over which a band counts
BAND_STEP_M = 0.05  # bands are rounded UP to this, so that stretches of one width are drawn as one
GAP_SHARE = 0.05  # of a stretch without marks: how far its course may leave the straight (proposal)
THIN_M = 0.01  # a trace may be thinned by this; the zone is widened by as much
ARC_STEPS = 16  # straight pieces to a quarter circle
# the chord of a round end lies inside the circle by this share; widening by it keeps the whole zone in
ARC_WIDENING = 1.0 / math.cos(math.pi / (4 * ARC_STEPS))


class MeasuredFrom(StrEnum):
    """What the state's law measures the zone from."""

    OUTER_EDGE = "outer edge"
    MARK = "mark"
    CENTRE_LINE = "centre line"


@dataclass(frozen=True, slots=True)
class ZoneRule:
    """The tolerance zone of one state: inches each side, from what, and where it is written."""

    zone_in: float
    measured_from: MeasuredFrom = MeasuredFrom.OUTER_EDGE
    citation: str = ""

    def __post_init__(self) -> None:
        positive("zone_in", self.zone_in, "in")


@dataclass(frozen=True, slots=True)
class GroundLine:
    """A line in the ground as the crew knows it: an operator's marks, or the crew's own trace.

    `outside_diameter_m` is None when unknown; `width_m` is the width of a bundle or corridor whose middle
    the marks show. Give `trace` for a fitted line, or `marks` with one band for painted marks.
    """

    key: str
    label: str
    trace: Trace | None = None
    marks: LineString | None = None
    outside_diameter_m: float | None = None
    width_m: float | None = None
    marks_band_m: float = 0.0
    marks_depth: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        if (self.trace is None) == (self.marks is None):
            raise GroundError(
                f"{self.label}: give either a fitted trace or painted marks, not both and not neither.",
                code="one_geometry",
                fields={"trace": "exactly one of trace and marks"},
            )
        for name in ("outside_diameter_m", "width_m", "marks_band_m"):
            value = getattr(self, name)
            if value is not None:
                not_negative(name, value)

    @property
    def line(self) -> LineString:
        """The line on the ground."""
        if self.trace is not None:
            return self.trace.line
        assert self.marks is not None
        return self.marks

    @property
    def half_width_m(self) -> float:
        """From the marked line to the outer edge: half the bundle's width or diameter, zero when unknown."""
        return max(self.outside_diameter_m or 0.0, self.width_m or 0.0) / 2.0

    @property
    def size_known(self) -> bool:
        """Is the outer edge known?"""
        return self.outside_diameter_m is not None or self.width_m is not None


@dataclass(frozen=True)
class HandDigZone:
    """Where one line asks for hand digging inside the dig area. Polygons may be empty: then it does not.

    `legal` is the state's zone, `hand_dig` that zone widened by the locate's own uncertainty; both cut with
    the dig area. `half_width_m` is the widest half width of `hand_dig`.
    """

    line: GroundLine
    legal: BaseGeometry
    hand_dig: BaseGeometry
    half_width_m: float
    cautions: tuple[str, ...]

    @property
    def area_m2(self) -> float:
        """Area to be dug by hand or vacuum."""
        return float(self.hand_dig.area)


@dataclass(frozen=True)
class HandDigPlan:
    """All zones in one dig area, their union, and the share of the area that is hand digging."""

    zones: tuple[HandDigZone, ...]
    union: BaseGeometry
    share: float
    cautions: tuple[str, ...] = field(default=(DEPTH_IS_NOT_PERMISSION, UNKNOWN_IS_NOT_CLEAR, LAW_RULES))


def legal_half_width_m(rule: ZoneRule, line: GroundLine) -> float:
    """Half the legal zone about the marked line: the state's distance plus the half width that is known."""
    return rule.zone_in * INCH_M + line.half_width_m


def zone(rule: ZoneRule, line: GroundLine, within: BaseGeometry | None = None) -> tuple[BaseGeometry, BaseGeometry]:
    """The legal and the hand-dig polygon of a line; only the part near `within` is drawn when given."""
    base = legal_half_width_m(rule, line)
    if line.trace is None:
        legal = _buffer(line.line, base)
        return legal, _buffer(line.line, base + line.marks_band_m)
    lines, bands = _pieces(line.trace, base, within)
    legal = _buffer(MultiLineString(list(lines)), base + THIN_M)
    return legal, unary_union(buffer(lines, (base + bands) * ARC_WIDENING, quad_segs=ARC_STEPS))


def hand_dig_plan(dig_area: Polygon, lines: Sequence[GroundLine], rule: ZoneRule) -> HandDigPlan:
    """Hand-dig zones of every line inside a dig area. Refuses an area that is not a valid polygon."""
    check_area(dig_area)
    zones = []
    for line in lines:
        legal, widened = zone(rule, line, dig_area)
        notes = [DEPTH_IS_NOT_PERMISSION]
        if not line.size_known:
            notes.append(
                f"{line.label}: the size is unknown, so the zone is drawn about the mark alone; widen it as "
                "soon as the line's edge is seen."
            )
        if line.trace is not None and line.trace.gaps:
            notes.append(f"{line.label}: between marks over 50 ft apart the course is assumed, not measured.")
        band = float(line.trace.position_band_m.max()) if line.trace is not None else line.marks_band_m
        zones.append(
            HandDigZone(
                line=line,
                legal=legal.intersection(dig_area),
                hand_dig=widened.intersection(dig_area),
                half_width_m=legal_half_width_m(rule, line) + band,
                cautions=tuple(notes),
            )
        )
    union = unary_union([z.hand_dig for z in zones])
    return HandDigPlan(tuple(zones), union, float(union.area / dig_area.area))


def check_area(area: Polygon) -> Polygon:
    """The area when it is a usable polygon; refuses an empty or self-crossing one."""
    if area.geom_type != "Polygon" or area.is_empty or not area.is_valid or area.area <= 0:
        raise GroundError(
            "The dig area is not a plain outline: it is empty or crosses itself. Draw it again, corner by corner.",
            code="area_not_valid",
            fields={"dig_area": "must be a simple outline"},
        )
    return area


def _buffer(line: BaseGeometry, half_width_m: float) -> BaseGeometry:
    return line.buffer(half_width_m * ARC_WIDENING, quad_segs=ARC_STEPS)


def _pieces(
    trace: Trace, base_m: float, within: BaseGeometry | None
) -> tuple[NDArray[np.object_], NDArray[np.float64]]:
    """Stretches of a trace of one (rounded up) band each, thinned; only those that can reach `within`."""
    # a stretch takes the widest band within a few points, so no part of it is drawn too narrow
    near = np.lib.stride_tricks.sliding_window_view(np.pad(trace.position_band_m, SPREAD, "edge"), 2 * SPREAD + 2)
    widths = np.ceil(near.max(axis=1) / BAND_STEP_M - 1e-9) * BAND_STEP_M
    # and one without marks for long takes more: its course is assumed
    steps = np.diff(trace.chainage_m)
    widths = widths + np.where(steps > LONGEST_GAP_M, GAP_SHARE * steps, 0.0)
    starts = np.flatnonzero(np.concatenate([[True], widths[1:] != widths[:-1]]))
    ends = np.append(starts[1:], len(widths))
    spots = np.column_stack([trace.x_m, trace.y_m])
    # a piece runs from its first point to the first of the next, so neighbours share a point
    index = np.repeat(np.arange(len(starts)), ends - starts + 1)
    order = np.concatenate([np.arange(s, e + 1) for s, e in zip(starts, ends, strict=True)])
    lines = linestrings(spots[order], indices=index)
    bands = widths[starts] + THIN_M
    if within is not None:
        reached = distance(lines, within) <= base_m + bands + THIN_M
        lines, bands = lines[reached], bands[reached]
    return simplify(lines, THIN_M), bands
