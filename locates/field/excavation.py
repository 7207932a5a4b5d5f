"""What opening a dig area takes: from its planned depth and width, and the soil as last found."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from locates.field.models import SoilFinding
from locates.ground.layout import Fit, fit_in_area
from locates.ground.refusal import GroundError
from locates.ground.trench import Soil, TrenchAsk, TrenchPlan, plan_trench
from tickets.models import DigArea

NO_AREA = "No one ticket area is drawn here, so it cannot be said whether the sloped trench stays inside it."


@dataclass(frozen=True)
class Middle:
    """The line along the middle of an area, from its western end, with the sides of the box about it."""

    line: LineString
    long_m: float
    short_m: float


@dataclass(frozen=True)
class Excavation:
    """One dig area as an excavation; `finding` None: no soil was classified."""

    area: DigArea
    name: str
    centre: LineString
    depth_m: float
    width_m: float
    finding: SoilFinding | None
    takes: TrenchPlan
    fit: Fit | None
    fit_words: str


def middle_of(ground: Polygon) -> Middle | None:
    """The middle line of an area; None for one without width."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(ground))[:4]
    if len(corners) < 4:
        return None
    sides = [math.dist(corners[i], corners[(i + 1) % 4]) for i in range(4)]
    long, short = max(sides[:2]), min(sides[:2])
    if short <= 0:
        return None
    first = 0 if sides[0] < sides[1] else 1  # a short side: the middle line runs from it to the one across
    ends = [(corners[(first + k) % 4] + corners[(first + k + 1) % 4]) / 2 for k in (0, 2)]
    ends.sort(key=lambda p: (round(p[0], 3), round(p[1], 3)))
    return Middle(LineString(ends), long, short)


def excavation(area: DigArea, middle: Middle, covers: Sequence[BaseGeometry]) -> Excavation | None:
    """What the area takes as an excavation; None without a planned depth."""
    if area.planned_depth_m is None:
        return None
    finding = next(iter(area.soil_findings.all()), None)
    width = area.planned_width_m or middle.short_m
    takes = plan_trench(ask(area.planned_depth_m, width, middle.long_m, finding))
    fit, words = fit_of(middle.line, takes, covers)
    return Excavation(
        area=area,
        name=area.name or "The dig area",
        centre=middle.line,
        depth_m=area.planned_depth_m,
        width_m=width,
        finding=finding,
        takes=takes,
        fit=fit,
        fit_words=words,
    )


def ask(depth_m: float, width_m: float, length_m: float, finding: SoilFinding | None) -> TrenchAsk:
    """The engine's question. Without a finding nothing is taken for granted."""
    if finding is None:
        return TrenchAsk(depth_m, width_m, length_m)
    return TrenchAsk(
        depth_m,
        width_m,
        length_m,
        soil=Soil(finding.soil),
        open_hours=finding.open_hours,
        disturbed=finding.disturbed,
        no_cave_in_sign=None if finding.cave_in_sign is None else not finding.cave_in_sign,
        water_or_seepage=finding.water_or_seepage,
    )


def by_soil(found: Excavation, covers: Sequence[BaseGeometry]) -> list[tuple[Soil, TrenchPlan, Fit | None]]:
    """The same excavation in each class of soil, all else as found: what a finding would change."""
    rows = []
    base = ask(found.depth_m, found.width_m, found.centre.length, found.finding)
    for soil in (Soil.A, Soil.B, Soil.C):
        other = TrenchAsk(
            base.depth_m,
            base.bottom_width_m,
            base.length_m,
            soil=soil,
            open_hours=base.open_hours,
            disturbed=False,
            no_cave_in_sign=base.no_cave_in_sign,
        )
        takes = plan_trench(other)
        rows.append((soil, takes, fit_of(found.centre, takes, covers)[0]))
    return rows


def fit_of(centre: LineString, takes: TrenchPlan, covers: Sequence[BaseGeometry]) -> tuple[Fit | None, str]:
    """Does the sloped trench stay inside the ticket's area?"""
    whole = shapely.union_all(list(covers)) if covers else None
    if whole is None or whole.geom_type != "Polygon":
        return None, NO_AREA
    try:
        fit = fit_in_area(centre, takes, whole)
    except GroundError as refused:
        return None, refused.message
    return fit, fit.message
