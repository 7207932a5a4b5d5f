"""The site plan as numbers for an SVG: north up, to scale, feet on the bar. Pure but for the plan's types."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from locates.field.models import Run
from locates.field.plan import DigSpot, LineOnPlan, SitePlan
from locates.field.reckoning import baseline_of
from locates.field.words import LETTERS
from locates.ground.lengths import FOOT_M, feet_inches

WIDTH, HEIGHT, MARGIN = 720, 540, 48
LEAST_VIEW_M = 6.0
AROUND_M = 3.0  # ground shown about the dig areas and lines
MOST_TIMES = 4.0  # what lies farther than so many sizes of the dig area is cut off
BAR_FEET = (1, 2, 5, 10, 20, 50, 100, 200, 500)
NOTE_WIDE, NOTE_HIGH = 105.0, 34.0  # a depth note with the letters under it
NOTE_EVERY_UNITS = 130.0  # depth notes along a line, in units of the drawing
Put = Callable[[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Note:
    """A text at a place on the drawing."""

    x: float
    y: float
    words: str


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """A line: its course, its band, its letters along it, its marks."""

    utility: str
    path: str
    band: str
    letters: tuple[Note, ...]
    depths: tuple[Note, ...]
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class DrawnBaseline:
    path: str
    marks: tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class DrawnSpot:
    """The ground over what a camera saw: its doubt as a path, and the counter's reading beside the middle."""

    doubt: str
    at: Note


@dataclass(frozen=True, slots=True)
class Drawing:
    """Numbers in the drawing's units, from the upper left corner."""

    digs: tuple[str, ...]
    covers: tuple[str, ...]
    zones: tuple[str, ...]
    legal: tuple[str, ...]
    trenches: tuple[str, ...]
    crossings: tuple[Note, ...]
    lines: tuple[DrawnLine, ...]
    baselines: tuple[DrawnBaseline, ...]
    spots: tuple[DrawnSpot, ...]
    bar: tuple[float, float]
    bar_words: str
    scale_words: str
    width: int = WIDTH
    height: int = HEIGHT


def draw(plan: SitePlan) -> Drawing | None:
    """The drawing; None while there is neither a dig area nor a line."""
    if not plan.digs and not plan.lines:
        return None
    put, scale, view = _frame(plan)

    def inside(shapes: Iterable[BaseGeometry]) -> tuple[str, ...]:
        return tuple(p for p in (_path(s.intersection(view), put) for s in shapes) if p)

    trenches = [d.trench for d in plan.digs if d.trench is not None]
    feet, units = _bar(scale)
    taken = [put(*c.at) for t in trenches for c in t.crossings]
    taken += [put(s.found["x_m"], s.found["y_m"]) for s in plan.spots]
    return Drawing(
        digs=inside(d.ground for d in plan.digs),
        covers=inside(plan.covers),
        zones=inside(z.hand_dig for d in plan.digs for z in d.zones),
        legal=inside(z.legal for d in plan.digs for z in d.zones),
        trenches=inside(t.centre for t in trenches),
        crossings=tuple(
            Note(*put(*c.at), str(number))
            for number, c in enumerate((c for t in trenches for c in t.crossings), start=1)
        ),
        lines=tuple(_line(one, view, put, scale, taken) for one in plan.lines),
        baselines=tuple(_baselines(plan, put)),
        spots=tuple(
            DrawnSpot(_path(s.doubt.intersection(view), put), Note(*put(s.found["x_m"], s.found["y_m"]), _counter(s)))
            for s in plan.spots
        ),
        bar=(MARGIN / 2, round(MARGIN / 2 + units, 1)),
        bar_words=f"{feet} ft",
        scale_words=f"1 in on paper 6 in wide is {WIDTH / 6 / scale / FOOT_M:.0f} ft on the ground",
    )


def _counter(spot: DigSpot) -> str:
    return f"{feet_inches(spot.found['counter_m'])}: {spot.found['words']}"[:40]


def _frame(plan: SitePlan) -> tuple[Put, float, BaseGeometry]:
    """Where a place goes, units to the metre, and the ground that is shown."""
    digs = [d.ground for d in plan.digs]
    courses = [one.line.line for one in plan.lines]
    west, south, east, north = (float(v) for v in shapely.total_bounds(digs or courses))
    room = max(east - west, north - south, LEAST_VIEW_M) * MOST_TIMES
    around = shapely.box(west - room, south - room, east + room, north + room)
    shown = [*digs, *(c.intersection(around) for c in courses)]
    west, south, east, north = (float(v) for v in shapely.total_bounds([s for s in shown if not s.is_empty]))
    west, south, east, north = west - AROUND_M, south - AROUND_M, east + AROUND_M, north + AROUND_M
    scale = min(
        (WIDTH - 2 * MARGIN) / max(LEAST_VIEW_M, east - west),
        (HEIGHT - 2 * MARGIN) / max(LEAST_VIEW_M, north - south),
    )
    middle = ((west + east) / 2, (south + north) / 2)

    def put(x_m: float, y_m: float) -> tuple[float, float]:
        return round(WIDTH / 2 + (x_m - middle[0]) * scale, 1), round(HEIGHT / 2 - (y_m - middle[1]) * scale, 1)

    half = (WIDTH / 2 / scale, HEIGHT / 2 / scale)
    view = shapely.box(middle[0] - half[0], middle[1] - half[1], middle[0] + half[0], middle[1] + half[1])
    return put, scale, view


def _bar(scale: float) -> tuple[int, float]:
    fitting = [feet for feet in BAR_FEET if feet * FOOT_M * scale <= WIDTH * 0.3]
    feet = fitting[-1] if fitting else BAR_FEET[0]
    return feet, round(feet * FOOT_M * scale, 1)


def _path(geometry: BaseGeometry, put: Put) -> str:
    """An SVG path of polygons (with holes) and lines."""
    pieces = []
    for part in shapely.get_parts(geometry):
        if part.is_empty:
            continue
        if part.geom_type == "Polygon":
            pieces += [_run_of(ring.coords, put) + " Z" for ring in (part.exterior, *part.interiors)]
        elif part.geom_type == "LineString":
            pieces.append(_run_of(part.coords, put))
    return " ".join(pieces)


def _run_of(corners: Sequence[tuple[float, ...]], put: Put) -> str:
    return "M" + " L".join(f"{x},{y}" for x, y in (put(c[0], c[1]) for c in corners))


def _free(x: float, y: float, taken: list[tuple[float, float]]) -> bool:
    """May a text stand here without lying over another? Takes the place when it may."""
    if any(abs(x - u) < NOTE_WIDE and abs(y - v) < NOTE_HIGH for u, v in taken):
        return False
    taken.append((x, y))
    return True


def _line(one: LineOnPlan, view: BaseGeometry, put: Put, scale: float, taken: list[tuple[float, float]]) -> DrawnLine:
    trace = one.line.trace
    assert trace is not None
    letters = LETTERS[one.run.utility]
    band = shapely.union_all(
        [
            LineString(trace.line.coords[i : i + 2]).buffer(
                max(0.01, float(max(trace.position_band_m[i : i + 2]))) + one.line.half_width_m, quad_segs=4
            )
            for i in range(0, len(trace.x_m) - 1, max(1, len(trace.x_m) // 400))
        ]
    )
    every = max(1, math.ceil(trace.length_m * scale / NOTE_EVERY_UNITS))
    at = [trace.length_m * (k + 0.5) / every for k in range(every)]
    named, deep = [], []
    for chainage in at:
        spot = trace.at(chainage)
        if not view.contains(shapely.Point(spot)):
            continue
        x, y = put(*spot)
        depth = trace.depth_at(chainage)
        if not _free(x, y, taken):
            continue
        low_high = "depth ?" if depth is None else _band_words(*depth)
        named.append(Note(x, y, letters))
        deep.append(Note(x, round(y - 14, 1), low_high))
    if not named:  # every place was taken: the letters alone still tell whose line it is
        for share in (0.5, 0.1, 0.9):
            x, y = put(*trace.at(trace.length_m * share))
            if share == 0.9 or all(math.dist((x, y), spot) > NOTE_HIGH for spot in taken):
                named.append(Note(x, y, letters))
                break
    thin = max(1, len(trace.x_m) // 200)
    points = [(float(x), float(y)) for x, y in zip(trace.x_m[::thin], trace.y_m[::thin], strict=True)]
    return DrawnLine(
        utility=one.run.utility,
        path=_path(trace.line.simplify(0.01).intersection(view), put),
        band=_path(band.intersection(view), put),
        letters=tuple(named),
        depths=tuple(deep),
        points=tuple(put(x, y) for x, y in points if view.contains(shapely.Point(x, y))),
    )


def _band_words(depth_m: float, band_m: float) -> str:
    return f"{feet_inches(max(0.0, depth_m - band_m))} to {feet_inches(depth_m + band_m)}"


def _baselines(plan: SitePlan, put: Put) -> Iterable[DrawnBaseline]:
    """Every baseline once, with its fixed marks."""
    seen: set[tuple[float, ...]] = set()
    runs: list[Run] = [one.run for one in plan.lines]
    for run in runs:
        found = baseline_of(run, plan.grid)
        if found is None or (*found.start, *found.end) in seen:
            continue
        seen.add((*found.start, *found.end))
        marks = (
            Note(*put(*found.start), run.start_words or "First mark"),
            Note(*put(*found.end), run.end_words or "Second mark"),
        )
        yield DrawnBaseline(_run_of((found.start, found.end), put), marks)
