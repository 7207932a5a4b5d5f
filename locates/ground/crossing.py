"""Where a trench meets lines: chainage, angle, depth band, and the stretch to dig by hand. Pure.

A crossing is never "clear": depths only say how the trench bottom lies to the band that was read, so that a
crew expects the line there. Every stretch inside a hand-dig zone is dug by hand or vacuum at any depth.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from shapely import LineString, Point, line_interpolate_point, line_locate_point
from shapely.geometry.base import BaseGeometry

from locates.ground.caution import DEPTH_IS_NOT_PERMISSION
from locates.ground.lengths import feet_inches
from locates.ground.refusal import positive
from locates.ground.zones import GroundLine, ZoneRule, zone

SHALLOW_ANGLE_DEG = 30.0


class Meeting(StrEnum):
    """How a trench and a line meet."""

    CROSSES = "crosses"
    ALONGSIDE = "runs alongside inside the zone"


class Relation(StrEnum):
    """How the trench's bottom lies to the band that was read. None of these permits a machine in the zone."""

    INTO_BAND = "trench reaches the depth band"
    THROUGH_BAND = "trench goes deeper than the depth band"
    ABOVE_BAND = "trench bottom reads above the depth band"
    UNKNOWN = "depth unknown"


@dataclass(frozen=True, slots=True)
class Crossing:
    """One meeting of a trench with a line.

    `chainage_m` is along the trench (the middle of the stretch when the line only runs alongside);
    `line_chainage_m` along the line; `hand_from_m` to `hand_to_m` the stretch of trench to dig by hand;
    `depth_band_m` from the shallowest to the deepest top-to-bottom the line may lie, or None.
    """

    line: GroundLine
    meeting: Meeting
    chainage_m: float
    line_chainage_m: float
    at: tuple[float, float]
    angle_deg: float | None
    hand_from_m: float
    hand_to_m: float
    depth_band_m: tuple[float, float] | None
    relation: Relation
    cautions: tuple[str, ...]


def crossings(
    trench: LineString, trench_width_m: float, trench_depth_m: float, lines: Sequence[GroundLine], rule: ZoneRule
) -> tuple[Crossing, ...]:
    """Every meeting of a trench (centre line, top width, depth) with the lines, in order of chainage."""
    positive("trench_width_m", trench_width_m)
    positive("trench_depth_m", trench_depth_m)
    # square ends: the trench stops at the ends of its centre line
    strip = trench.buffer(trench_width_m / 2.0, cap_style="flat")
    found: list[Crossing] = []
    for line in lines:
        _, widened = zone(rule, line, strip)
        hand = _stretches(trench, widened.intersection(strip))
        spots = _points(trench.intersection(line.line))
        used: set[int] = set()
        for spot in spots:
            chainage = float(line_locate_point(trench, spot))
            index = next((i for i, (a, b) in enumerate(hand) if a - 1e-6 <= chainage <= b + 1e-6), None)
            used |= set() if index is None else {index}
            stretch = (chainage, chainage) if index is None else hand[index]
            found.append(_crossing(trench, line, Meeting.CROSSES, chainage, spot, stretch, trench_depth_m))
        for index, stretch in enumerate(hand):
            if index not in used:
                chainage = 0.5 * (stretch[0] + stretch[1])
                spot = line_interpolate_point(trench, chainage)
                found.append(_crossing(trench, line, Meeting.ALONGSIDE, chainage, spot, stretch, trench_depth_m))
    return tuple(sorted(found, key=lambda c: (c.chainage_m, c.line.key)))


def depth_band_m(line: GroundLine, line_chainage_m: float) -> tuple[float, float] | None:
    """Shallowest top and deepest bottom where the line may lie, below ground; None when no depth was read.

    The reading is to the electrical centre; half the known diameter goes on both sides.
    """
    half = (line.outside_diameter_m or 0.0) / 2.0
    if line.trace is None:
        if line.marks_depth is None:
            return None
        depth, band = line.marks_depth
    else:
        read = line.trace.depth_at(line_chainage_m)
        if read is None:
            return None
        depth, band = read
    return max(0.0, depth - band - half), depth + band + half


def _crossing(
    trench: LineString,
    line: GroundLine,
    meeting: Meeting,
    chainage: float,
    spot: Point,
    stretch: tuple[float, float],
    trench_depth_m: float,
) -> Crossing:
    along = float(line_locate_point(line.line, spot))
    band = depth_band_m(line, along)
    angle = _angle_deg(trench, chainage, line.line, along) if meeting is Meeting.CROSSES else None
    return Crossing(
        line=line,
        meeting=meeting,
        chainage_m=chainage,
        line_chainage_m=along,
        at=(float(spot.x), float(spot.y)),
        angle_deg=angle,
        hand_from_m=stretch[0],
        hand_to_m=stretch[1],
        depth_band_m=band,
        relation=relation_of(band, trench_depth_m),
        cautions=cautions_of(line.label, stretch, band, angle),
    )


def cautions_of(
    label: str, stretch: tuple[float, float], band: tuple[float, float] | None, angle_deg: float | None
) -> tuple[str, ...]:
    """What to mind where a line called `label` is met on a stretch of the trench."""
    length = feet_inches(stretch[1] - stretch[0])
    notes = [DEPTH_IS_NOT_PERMISSION]
    notes.append(f"Dig {length} of the trench by hand or vacuum for {label}, and expose it before passing.")
    if band is None:
        notes.append(f"The depth of {label} is unknown: expect it at any depth, also just below the surface.")
    if angle_deg is not None and angle_deg < SHALLOW_ANGLE_DEG:
        notes.append(f"It is crossed at {angle_deg:.0f} degrees only: expose it at both ends of the stretch.")
    return tuple(notes)


def relation_of(band: tuple[float, float] | None, trench_depth_m: float) -> Relation:
    """How the trench's bottom lies to a depth band."""
    if band is None:
        return Relation.UNKNOWN
    if trench_depth_m < band[0]:
        return Relation.ABOVE_BAND
    return Relation.THROUGH_BAND if trench_depth_m > band[1] else Relation.INTO_BAND


def _stretches(trench: LineString, covered: BaseGeometry) -> list[tuple[float, float]]:
    """Stretches of the trench (from, to) that an area touches over the trench's whole width."""
    stretches: list[tuple[float, float]] = []
    for part in getattr(covered, "geoms", [covered]):
        if part.is_empty or part.geom_type != "Polygon":
            continue
        along = [float(line_locate_point(trench, Point(c))) for c in part.exterior.coords]
        stretches.append((min(along), max(along)))
    merged: list[tuple[float, float]] = []
    for start, end in sorted(stretches):
        if merged and start <= merged[-1][1] + 1e-9:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return merged


def _points(geometry: BaseGeometry) -> list[Point]:
    """Crossing points of an intersection; a shared stretch gives its middle."""
    if geometry.is_empty:
        return []
    if geometry.geom_type == "Point":
        return [geometry]
    if geometry.geom_type == "LineString":
        return [geometry.interpolate(0.5, normalized=True)]
    return [point for part in getattr(geometry, "geoms", []) for point in _points(part)]


def _angle_deg(first: LineString, first_m: float, second: LineString, second_m: float) -> float:
    """Angle between two lines where they meet, 0 (along) to 90 (square)."""
    a, b = _heading(first, first_m), _heading(second, second_m)
    off = abs(math.degrees(a - b)) % 180.0
    return min(off, 180.0 - off)


def _heading(line: LineString, at_m: float, reach_m: float = 0.25) -> float:
    a = line_interpolate_point(line, max(0.0, at_m - reach_m))
    b = line_interpolate_point(line, min(line.length, at_m + reach_m))
    return math.atan2(b.y - a.y, b.x - a.x)
