"""Does a sloped trench with its spoil stay inside the ticket's area? Pure. Coordinates: metres in one
grid.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from locates.ground.lengths import feet_inches
from locates.ground.refusal import GroundError
from locates.ground.trench import TrenchPlan
from locates.ground.zones import check_area


@dataclass(frozen=True)
class Fit:
    """Does the sloped trench, and the trench with its spoil, stay inside an area?

    `trench_outside` and `spoil_outside` are the parts that do not; `spoil_side` is "left" or "right" of the
    direction of the centre line, the side where less of the pile falls outside.
    """

    fits: bool
    trench_outside: BaseGeometry
    spoil_fits: bool
    spoil_outside: BaseGeometry
    spoil_side: str
    message: str


def fit_in_area(centre: LineString, plan: TrenchPlan, area: Polygon) -> Fit:
    """Lay the trench's top width along its centre line and compare with the ticket's area.

    The sloped ends are counted too: the top runs past the bottom's ends by the set-back. The spoil pile is
    tried on both sides. Refuses a trench past 20 ft, which has no slope of its own.
    """
    check_area(area)
    if plan.top_width_m is None or plan.set_back_each_side_m is None or plan.spoil_pile_width_m is None:
        raise GroundError(
            "Deeper than 20 ft there is no slope to lay out; a registered professional engineer designs it "
            "(1926.652(b)(4)).",
            code="engineer_needed",
            fields={"depth_m": "over 20 ft"},
        )
    longer = _extended(centre, plan.set_back_each_side_m)
    top = longer.buffer(plan.top_width_m / 2.0, cap_style="flat")
    outside = top.difference(area)
    away = plan.top_width_m / 2.0 + plan.spoil_set_back_m
    sides = {
        "left": _strip(centre, away, away + plan.spoil_pile_width_m).difference(area),
        "right": _strip(centre, -away, -away - plan.spoil_pile_width_m).difference(area),
    }
    side = min(sides, key=lambda s: float(sides[s].area))
    fits, spoil_fits = float(outside.area) < 1e-6, float(sides[side].area) < 1e-6
    if fits and spoil_fits:
        message = f"The top, {feet_inches(plan.top_width_m)} wide, and its spoil stay inside the area."
    elif fits:
        message = "The trench stays inside the area; its spoil does not: haul it off, or give notice for more ground."
    else:
        message = (
            f"The top, {feet_inches(plan.top_width_m)} wide, leaves the ticket's area: give notice for the "
            "larger area before digging, or shore or shield with vertical sides."
        )
    return Fit(fits, outside, spoil_fits, sides[side], side, message)


def _extended(line: LineString, by_m: float) -> LineString:
    """The line with both ends drawn out straight."""
    spots = [(float(x), float(y)) for x, y in line.coords]
    if by_m <= 0:
        return line

    def beyond(end: tuple[float, float], before: tuple[float, float]) -> tuple[float, float]:
        dx, dy = end[0] - before[0], end[1] - before[1]
        share = by_m / math.hypot(dx, dy)
        return end[0] + dx * share, end[1] + dy * share

    return LineString([beyond(spots[0], spots[1]), *spots, beyond(spots[-1], spots[-2])])


def _strip(line: LineString, near_m: float, far_m: float) -> BaseGeometry:
    """The ground between two distances on one side of a line (left above zero)."""
    near = line.buffer(near_m, single_sided=True, join_style="mitre")
    return line.buffer(far_m, single_sided=True, join_style="mitre").difference(near)
