"""Points in and out of files: GeoJSON and CSV, in degrees, UTM or state plane."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from locates.field.models import Point, Run
from locates.field.reckoning import SIGMAS_IN_ACCURACY
from locates.field.words import COLOUR_WORDS
from locates.ground import exchange
from locates.ground.coordinates import grid_unit, state_planes, to_state_plane, to_utm, utm_epsg
from locates.ground.exchange import Mark
from locates.ground.lengths import LengthUnit

UNIT_WORDS = {
    LengthUnit.METRE: "metres",
    LengthUnit.FOOT: "international feet",
    LengthUnit.SURVEY_FOOT: "US survey feet",
}


@dataclass(frozen=True, slots=True)
class Grid:
    """A grid that covers the site; `epsg` 0 is latitude and longitude."""

    epsg: int
    words: str


def grids_at(latitude: float, longitude: float) -> list[Grid]:
    """Degrees, the site's UTM zone and every state plane zone that covers it."""
    utm = utm_epsg(latitude, longitude)
    found = [Grid(0, "Latitude and longitude (WGS 84)")]
    found.append(Grid(utm, f"{to_utm(latitude, longitude).grid}, metres"))
    for plane in state_planes(latitude, longitude):
        found.append(Grid(plane.epsg, f"{plane.name}, {UNIT_WORDS[plane.unit]}"))
    return found


def read(name: str, text: str, epsg: int = 0) -> tuple[Mark, ...]:
    """The marks of a file, by its ending; refuses the whole file with row and column."""
    if name.lower().endswith((".geojson", ".json")):
        return exchange.read_geojson(text)
    return exchange.read_csv(text, epsg or None, grid_unit(epsg) if epsg else None)


def marks_of(points: Iterable[Point]) -> list[Mark]:
    """Points as they are exchanged: depth as read, position as taken."""
    return [Mark(p.latitude, p.longitude, p.depth_m, p.accuracy_m / SIGMAS_IN_ACCURACY, p.note) for p in points]


def to_csv(points: Iterable[Point], epsg: int = 0) -> str:
    """A CSV text that `read` takes back; in a grid it has easting and northing in the grid's own unit."""
    marks = marks_of(points)
    if not epsg:
        return exchange.write_csv(marks)
    plain = list(csv.reader(io.StringIO(exchange.write_csv(marks))))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["easting", "northing", *plain[0][2:]])
    for mark, row in zip(marks, plain[1:], strict=True):
        spot = to_state_plane(mark.latitude, mark.longitude, epsg)
        writer.writerow([f"{spot.easting:.4f}", f"{spot.northing:.4f}", *row[2:]])
    return out.getvalue()


def to_geojson(run: Run, points: Iterable[Point]) -> dict[str, Any]:
    """A feature collection of the points and the line through them, with what the line is."""
    about = {
        "label": run.label,
        "utility": run.utility,
        "colour": COLOUR_WORDS[run.utility],
        "method": run.method,
        "frequency_hz": run.frequency_hz,
        "begun_at": run.begun_at.isoformat(),
        "caution": "Depths are readings; they never permit machine digging inside a zone.",
    }
    return exchange.to_geojson(marks_of(points), about)
