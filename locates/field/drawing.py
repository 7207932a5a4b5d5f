"""The site plan as numbers for an SVG: north up, to scale, feet on the bar. Pure but for the plan's types."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from locates.field.lettering import LETTERS_UNITS, WORDS_UNITS, Lettering, Spot, about, beside, upon, words_wide
from locates.field.models import Run
from locates.field.plan import DigSpot, LineOnPlan, SitePlan
from locates.field.reckoning import baseline_of
from locates.field.words import LETTERS
from locates.ground.lengths import FOOT_M, feet_inches, primes
from locates.ground.trace import Trace

WIDTH, HEIGHT, MARGIN = 720, 540, 48
LEAST_VIEW_M = 6.0
AROUND_M = 3.0  # ground shown about the dig areas and lines
MOST_TIMES = 4.0  # what lies farther than so many sizes of the dig area is cut off
BAR_FEET = (1, 2, 5, 10, 20, 50, 100, 200, 500)
NOTE_EVERY_UNITS = 240.0  # letters and depths along a line, in units of the drawing
WIDEST_DEPTH = "W 10′10″ to 12′10″"
NUMBER_UNITS, MARK_UNITS = 22.0, 16.0
Put = Callable[[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Note:
    """A text at a place on the drawing: it begins there, ends there or has its middle there."""

    x: float
    y: float
    words: str
    anchor: str = "middle"


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
    """A baseline: its course, its fixed marks and what they are, beside them."""

    path: str
    marks: tuple[tuple[float, float], ...]
    words: tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class DrawnSpot:
    """The ground over what a camera saw: its doubt as a path, its middle, and the counter's reading beside it."""

    doubt: str
    at: tuple[float, float]
    words: Note


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
    texts = _sheet(plan, put)
    for trench in trenches:
        for crossing in trench.crossings:
            texts.keep_free(*put(*crossing.at), NUMBER_UNITS, NUMBER_UNITS)
    spots, baselines = _spots(plan, view, put, texts), tuple(_baselines(plan, put, texts))
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
        lines=tuple(_line(one, view, put, scale, texts) for one in plan.lines),
        baselines=baselines,
        spots=spots,
        bar=(MARGIN / 2, round(MARGIN / 2 + units, 1)),
        bar_words=f"{feet} ft",
        scale_words=f"1 in on paper 6 in wide is {WIDTH / 6 / scale / FOOT_M:.0f} ft on the ground",
    )


def _sheet(plan: SitePlan, put: Put) -> Lettering:
    """The empty sheet: north and the bar have their places, the lines and the digs are its ink."""

    def drawn(course: BaseGeometry) -> BaseGeometry:
        return shapely.transform(course, lambda corners: [put(x, y) for x, y in corners])

    courses = [one.line.line for one in plan.lines]
    courses += [
        LineString([base.start, base.end]) for base in (baseline_of(x.run, plan.grid) for x in plan.lines) if base
    ]
    edges = [d.ground.boundary for d in plan.digs] + [cover.boundary for cover in plan.covers]
    texts = Lettering(WIDTH, HEIGHT, [drawn(one.simplify(0.05)) for one in [*courses, *edges]])
    texts.keep_free(WIDTH - MARGIN / 2, MARGIN, MARGIN, 2 * MARGIN)
    texts.keep_free(WIDTH * 0.22, HEIGHT - MARGIN / 2, WIDTH * 0.44, MARGIN)
    return texts


def _spots(plan: SitePlan, view: BaseGeometry, put: Put, texts: Lettering) -> tuple[DrawnSpot, ...]:
    marks = [put(s.found["x_m"], s.found["y_m"]) for s in plan.spots]
    for mark in marks:
        texts.keep_free(*mark, MARK_UNITS, MARK_UNITS)
    return tuple(
        DrawnSpot(_path(spot.doubt.intersection(view), put), mark, _beside_mark(mark, _counter(spot), texts))
        for spot, mark in zip(plan.spots, marks, strict=True)
    )


def _beside_mark(mark: tuple[float, float], words: str, texts: Lettering) -> Note:
    wide = words_wide(words)
    spot = texts.place(wide, WORDS_UNITS, about(*mark, wide, WORDS_UNITS, MARK_UNITS / 2), must=True)
    assert spot is not None
    return _note(spot, words, wide)


def _note(spot: Spot, words: str, wide: float) -> Note:
    """The words close to what they name, although a wide screen draws them smaller than there is room for."""
    anchor = {1: "start", -1: "end", 0: "middle"}[spot.side]
    return Note(round(spot.x - spot.side * wide / 2, 1), round(spot.y, 1), words, anchor)


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


def _line(one: LineOnPlan, view: BaseGeometry, put: Put, scale: float, texts: Lettering) -> DrawnLine:
    trace = one.line.trace
    assert trace is not None
    band = shapely.union_all(
        [
            LineString(trace.line.coords[i : i + 2]).buffer(
                max(0.01, float(max(trace.position_band_m[i : i + 2]))) + one.line.half_width_m, quad_segs=4
            )
            for i in range(0, len(trace.x_m) - 1, max(1, len(trace.x_m) // 400))
        ]
    )
    named, deep = _texts_of(one, trace, view, put, scale, texts)
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


def _texts_of(
    one: LineOnPlan, trace: Trace, view: BaseGeometry, put: Put, scale: float, texts: Lettering
) -> tuple[list[Note], list[Note]]:
    """The letters upon the line and the depths beside it: each once at least, more where there is room."""
    letters = LETTERS[one.run.utility]
    named: list[Note] = []
    deep: list[Note] = []
    for piece in shapely.get_parts(trace.line.intersection(view)):
        if piece.geom_type != "LineString":
            continue
        course = [put(x, y) for x, y in piece.coords]
        every = max(1, math.ceil(piece.length * scale / NOTE_EVERY_UNITS))
        for best in ((k + 0.5) / every for k in range(every)):
            spot = texts.place(LETTERS_UNITS, LETTERS_UNITS, upon(course, best), must=not named)
            if spot is not None:
                named.append(Note(round(spot.x, 1), round(spot.y, 1), letters))
            wide = words_wide(WIDEST_DEPTH)
            spot = texts.place(wide, WORDS_UNITS, beside(course, best, wide, WORDS_UNITS), must=not deep)
            if spot is not None:
                share = LineString(course).project(shapely.Point(spot.x, spot.y), normalized=True)
                chainage = trace.line.project(piece.interpolate(share, normalized=True))
                deep.append(_note(spot, f"{letters} {depth_words(trace.depth_at(chainage))}", wide))
    return named, deep


def depth_words(depth: tuple[float, float] | None) -> str:
    """A depth and its band for a drawing, from the shallowest: 1′9″ to 6′8″."""
    if depth is None:
        return "depth ?"
    depth_m, band_m = depth
    return f"{primes(max(0.0, depth_m - band_m))} to {primes(depth_m + band_m)}"


def _baselines(plan: SitePlan, put: Put, texts: Lettering) -> Iterable[DrawnBaseline]:
    """Every baseline once, with its fixed marks."""
    seen: set[tuple[float, ...]] = set()
    runs: list[Run] = [one.run for one in plan.lines]
    for run in runs:
        found = baseline_of(run, plan.grid)
        if found is None or (*found.start, *found.end) in seen:
            continue
        seen.add((*found.start, *found.end))
        marks = (put(*found.start), put(*found.end))
        for mark in marks:
            texts.keep_free(*mark, MARK_UNITS, MARK_UNITS)
        words = (run.start_words or "First mark", run.end_words or "Second mark")
        notes = tuple(_beside_mark(mark, text, texts) for mark, text in zip(marks, words, strict=True))
        yield DrawnBaseline(_run_of((found.start, found.end), put), marks, notes)
