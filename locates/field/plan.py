"""The ground on one plane: areas, lines, hand-dig zones, the trench and what it crosses. From the job's rows
through the engine; drawings and tables are made from what comes out.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import shapely
from shapely import LineString
from shapely.geometry import shape
from shapely.geometry.base import BaseGeometry

from locates.field.excavation import Excavation, Middle, excavation, middle_of
from locates.field.models import Run
from locates.field.reckoning import line_of
from locates.field.same_line import met_once
from locates.ground.coordinates import LocalGrid
from locates.ground.crossing import Crossing, crossings
from locates.ground.refusal import GroundError
from locates.ground.zones import GroundLine, HandDigZone, MeasuredFrom, ZoneRule, hand_dig_plan
from locates.law.load import UnknownJurisdiction, jurisdiction
from locates.law.rule import Zone
from locates.law.window import NoVersionInForce, version_on
from tickets.gathering import zone_words
from tickets.models import DigArea, Job
from tickets.states import Utility

LONG_ENOUGH = 2.0  # a dig area this many times longer than wide has a trench along its middle
# Where no state's zone is on file the whole area is hand digging; the drawing still needs a width, and 24 in is
# the widest of most states' (a setting; the words say that it is not known).
UNKNOWN_ZONE_IN = 24.0
_FROM = {"outer_edge": MeasuredFrom.OUTER_EDGE, "mark": MeasuredFrom.MARK, "centreline": MeasuredFrom.CENTRE_LINE}


@dataclass(frozen=True)
class SiteZone:
    """The state's tolerance zone on the day; `rule` drives the drawing, `words` say what the law says."""

    rule: ZoneRule
    words: str
    more: str
    citation: str
    known: bool
    unverified: bool


@dataclass(frozen=True)
class LineOnPlan:
    """A run's line on the plane."""

    run: Run
    line: GroundLine


@dataclass(frozen=True)
class Trench:
    """The trench along a dig area's middle: planned depth and width, and what it crosses."""

    name: str
    area: DigArea
    centre: LineString
    depth_m: float
    width_m: float
    crossings: tuple[Crossing, ...]


@dataclass(frozen=True)
class DigSpot:
    """The ground over what a camera saw, with its doubt; `inside` the ticket's area, None when none is drawn."""

    run: Run
    found: Mapping[str, Any]
    doubt: BaseGeometry
    inside: bool | None


@dataclass(frozen=True)
class DigOnPlan:
    """One dig area with the hand-dig zones in it; `refused` says why its ground could not be reckoned."""

    area: DigArea
    ground: BaseGeometry
    zones: tuple[HandDigZone, ...]
    share: float
    trench: Trench | None
    excavation: Excavation | None
    cautions: tuple[str, ...]
    refused: str = ""


@dataclass(frozen=True)
class SitePlan:
    """Everything on the plane, in metres east and north of the site."""

    grid: LocalGrid
    zone: SiteZone
    digs: tuple[DigOnPlan, ...]
    covers: tuple[BaseGeometry, ...]
    lines: tuple[LineOnPlan, ...]
    not_drawn: tuple[Run, ...]
    spots: tuple[DigSpot, ...] = ()


def site_plan(job: Job, runs: Sequence[Run], at: datetime) -> SitePlan:
    """The plan of a job loaded by `located_job`, by the law in force at `at`."""
    grid = LocalGrid(job.site.latitude, job.site.longitude)
    zone = zone_at(job, at)
    drawn, missing = [], []
    for run in runs:
        line = None if run.found is False else line_of(run)
        if line is None:
            missing.append(run)
        else:
            drawn.append(LineOnPlan(run, line))
    lines = [one.line for one in drawn]
    covers = tuple(_laid(grid, t.area) for t in job.tickets.all() if t.area)
    names = {one.line.key: _name(one.run) for one in drawn}
    digs = tuple(
        _dig(area, _laid(grid, area.polygon), lines, zone.rule, covers, names) for area in job.dig_areas.all()
    )
    spots = tuple(spot for run in runs for spot in _dig_spots(run, covers))
    return SitePlan(grid, zone, digs, covers, tuple(drawn), tuple(missing), spots)


def zone_at(job: Job, at: datetime) -> SiteZone:
    """The tolerance zone by the version of the state's law in force at the site."""
    try:
        found: Zone = version_on(jurisdiction(job.site.state), at, job.site.time_zone).zone
    except (UnknownJurisdiction, NoVersionInForce):
        words = "The tolerance zone is not known here: treat the whole dig area as the zone."
        return SiteZone(ZoneRule(UNKNOWN_ZONE_IN), words, "", "", known=False, unverified=True)
    citation = found.ground.citation()
    rule = ZoneRule(float(found.inches_each_side), _FROM.get(found.measured_from, MeasuredFrom.MARK), citation)
    return SiteZone(
        rule, zone_words(found), found.words, citation, known=True, unverified=not found.ground.tier.verified
    )


def _laid(grid: LocalGrid, area: Any) -> BaseGeometry:
    """GeoJSON on the site's plane."""
    found = shape(dict(area))

    def flat(corners: Any) -> Any:
        return grid.many_to_local([(float(lat), float(lon)) for lon, lat in corners])

    return shapely.transform(found, flat)


def _name(run: Run) -> tuple[str, str]:
    """Runs of one utility under one name followed one line. A utility that is not known makes no two alike."""
    own = str(run.pk) if run.utility == Utility.UNKNOWN else ""
    return run.utility + own, " ".join(run.label.casefold().split())


def _dig(
    area: DigArea,
    ground: BaseGeometry,
    lines: Sequence[GroundLine],
    rule: ZoneRule,
    covers: Sequence[BaseGeometry],
    names: Mapping[str, Hashable],
) -> DigOnPlan:
    parts = [p for p in shapely.get_parts(ground) if p.geom_type == "Polygon"]
    zones: list[HandDigZone] = []
    notes: list[str] = []
    hand = 0.0
    try:
        for part in parts:
            plan = hand_dig_plan(part, lines, rule)
            zones += [z for z in plan.zones if not z.hand_dig.is_empty]
            notes += [note for z in plan.zones if not z.hand_dig.is_empty for note in z.cautions]
            hand += plan.share * part.area
        middle = middle_of(parts[0]) if len(parts) == 1 else None
        opened = None if middle is None else excavation(area, middle, covers)
        trench = _trench(area, middle, opened, lines, rule, names)
    except GroundError as refused:
        return DigOnPlan(area, ground, (), 0.0, None, None, (), refused.message)
    share = hand / max(ground.area, 1e-9)
    return DigOnPlan(area, ground, tuple(zones), share, trench, opened, (*dict.fromkeys(notes),))


def _trench(
    area: DigArea,
    middle: Middle | None,
    opened: Excavation | None,
    lines: Sequence[GroundLine],
    rule: ZoneRule,
    names: Mapping[str, Hashable],
) -> Trench | None:
    """The trench along the middle of a long dig area with a planned depth; None for a pit or without depth."""
    if middle is None or opened is None or middle.long_m < LONG_ENOUGH * middle.short_m:
        return None
    met = crossings(middle.line, opened.width_m, opened.depth_m, lines, rule)
    return Trench(
        name=area.name or "Trench",
        area=area,
        centre=middle.line,
        depth_m=opened.depth_m,
        width_m=opened.width_m,
        crossings=met_once(met, names, opened.depth_m),
    )


def spots_of(job: Job, run: Run) -> tuple[DigSpot, ...]:
    """The dig spots of one run of a job loaded by `located_job`."""
    grid = LocalGrid(job.site.latitude, job.site.longitude)
    return _dig_spots(run, tuple(_laid(grid, t.area) for t in job.tickets.all() if t.area))


def _dig_spots(run: Run, covers: Sequence[BaseGeometry]) -> tuple[DigSpot, ...]:
    """The places over what the camera saw, each held against the ticket's area."""
    whole = shapely.union_all(list(covers)) if covers else None
    found = []
    for one in (run.result or {}).get("dig_points", []):
        if one["trouble"]:
            continue
        doubt = shapely.Point(one["x_m"], one["y_m"]).buffer(one["radius_m"])
        found.append(DigSpot(run, one, doubt, None if whole is None else bool(whole.covers(doubt))))
    return tuple(found)
