"""Marks in and out: CSV with named columns and units, and GeoJSON (RFC 7946). Pure.

A file is taken whole or refused whole: every fault is named with its row and column, up to a page of them.
Columns carry their unit in the name, so that no file leaves a doubt: `latitude`, `longitude` (WGS 84
degrees) or `easting`, `northing` (with the grid's EPSG code and unit said by the caller); `depth_m`,
`depth_ft` or `depth_in`; `position_sigma_m`; `note`. Rows are counted as a spreadsheet does: the heading is 1.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from locates.ground import entry
from locates.ground.coordinates import from_grid
from locates.ground.lengths import LengthUnit
from locates.ground.refusal import GroundError

DEPTH_COLUMNS = {"depth_m": LengthUnit.METRE, "depth_ft": LengthUnit.FOOT, "depth_in": LengthUnit.INCH}
OUT_COLUMNS = ("latitude", "longitude", "depth_m", "position_sigma_m", "note")
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
MOST_FAULTS = 50
MOST_ROWS = 50_000
DEFAULT_SIGMA_M = 0.5  # what a file that does not say is taken for; common practice, no source


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark as exchanged: WGS 84 degrees, depth below ground in metres (None: not read)."""

    latitude: float
    longitude: float
    depth_m: float | None = None
    position_sigma_m: float = DEFAULT_SIGMA_M
    note: str = ""


def read_csv(text: str, grid_epsg: int | None = None, grid_unit: LengthUnit | None = None) -> tuple[Mark, ...]:
    """Marks of a CSV text. `grid_epsg` and `grid_unit` belong to easting and northing, and must be said."""
    reader = csv.DictReader(io.StringIO(text.removeprefix("\ufeff")))
    columns = [c.strip().lower() for c in reader.fieldnames or []]
    reader.fieldnames = columns
    _check_columns(columns, grid_epsg)
    marks: list[Mark] = []
    faults: dict[str, str] = {}
    for number, row in enumerate(reader, start=2):
        if number - 1 > MOST_ROWS:
            raise GroundError(
                f"The file has more than {MOST_ROWS:,} rows. Split it into runs.",
                code="file_too_long",
                fields={"file": "too many rows"},
            )
        try:
            marks.append(_mark(row, number, grid_epsg, grid_unit, marks))
        except GroundError as refusal:
            place = next(iter(refusal.fields), "row")
            faults.setdefault(f"row {number}, column {place}", refusal.message)
            if len(faults) >= MOST_FAULTS:
                break
    if faults:
        raise _refused(faults)
    if not marks:
        raise _refused({"row 2": "row 2: the file has a heading but no marks."})
    return tuple(marks)


def write_csv(marks: Iterable[Mark]) -> str:
    """Marks as a CSV text that `read_csv` reads back unchanged. No cell can act as a formula."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(OUT_COLUMNS)
    for mark in marks:
        note = f"'{mark.note}" if _acts(mark.note) else mark.note
        depth = "" if mark.depth_m is None else repr(mark.depth_m)
        writer.writerow((repr(mark.latitude), repr(mark.longitude), depth, repr(mark.position_sigma_m), note))
    return out.getvalue()


def to_geojson(marks: Sequence[Mark], properties: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """A feature collection: a point for every mark and, for two or more, the line through them."""
    features: list[dict[str, Any]] = [
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [m.longitude, m.latitude]},
            "properties": {"depth_m": m.depth_m, "position_sigma_m": m.position_sigma_m, "note": m.note},
        }
        for m in marks
    ]
    if len(marks) > 1:
        line = [[m.longitude, m.latitude] for m in marks]
        features.append(
            {
                "type": "Feature",
                "geometry": {"type": "LineString", "coordinates": line},
                "properties": dict(properties or {}),
            }
        )
    return {"type": "FeatureCollection", "features": features}


def read_geojson(text: str) -> tuple[Mark, ...]:
    """Marks from the points of a GeoJSON feature collection, in order; other geometries are passed over."""
    try:
        body = json.loads(text)
    except json.JSONDecodeError as trouble:
        raise _refused(
            {f"line {trouble.lineno}": f"line {trouble.lineno}: this is not JSON ({trouble.msg})."}
        ) from None
    features = body.get("features") if isinstance(body, dict) else None
    if not isinstance(features, list):
        raise _refused({"features": "This is not a GeoJSON feature collection: it has no list of features."})
    marks: list[Mark] = []
    faults: dict[str, str] = {}
    for number, feature in enumerate(features, start=1):
        geometry = feature.get("geometry") if isinstance(feature, dict) else None
        if not isinstance(geometry, dict) or geometry.get("type") != "Point":
            continue
        try:
            marks.append(_feature_mark(geometry, feature.get("properties") or {}, f"feature {number}"))
        except GroundError as refusal:
            faults[f"feature {number}"] = refusal.message
            if len(faults) >= MOST_FAULTS:
                break
    if faults:
        raise _refused(faults)
    if not marks:
        raise _refused({"features": "The file has no point features; marks are points."})
    return tuple(marks)


def _check_columns(columns: list[str], grid_epsg: int | None) -> None:
    places = {"latitude", "longitude"} <= set(columns), {"easting", "northing"} <= set(columns)
    if not any(places):
        raise _refused({"row 1": "row 1: needs columns latitude and longitude, or easting and northing."})
    if all(places):
        raise _refused({"row 1": "row 1: has both degrees and grid columns; keep one pair."})
    if places[1] and grid_epsg is None:
        raise _refused({"row 1": "row 1: easting and northing need the grid's EPSG code; choose it beside the file."})
    doubled = [c for c in DEPTH_COLUMNS if c in columns]
    if len(doubled) > 1:
        raise _refused({"row 1": f"row 1: has {' and '.join(doubled)}; keep one depth column."})
    if "depth" in columns:
        raise _refused({"row 1": "row 1: column depth does not say its unit; name it depth_m, depth_ft or depth_in."})


def _mark(
    row: Mapping[str, str | None],
    number: int,
    grid_epsg: int | None,
    grid_unit: LengthUnit | None,
    before: Sequence[Mark],
) -> Mark:
    where = f"row {number}"
    if grid_epsg is not None and "easting" in row:
        east, north = _number(row, "easting", where), _number(row, "northing", where)
        latitude, longitude = from_grid(east, north, grid_epsg, grid_unit)
    else:
        latitude, longitude = _number(row, "latitude", where), _number(row, "longitude", where)
    latitude, longitude = entry.check_position(latitude, longitude, where)
    if before:
        entry.check_jump(_apart_m(before[-1], latitude, longitude), where=where)
    depth = None
    near = [m.depth_m for m in before[-5:] if m.depth_m is not None]
    for column, unit in DEPTH_COLUMNS.items():
        if cell := (row.get(column) or "").strip():
            depth = entry.parse_depth_m(cell, unit, near, column, f"{where}, column {column}")
    sigma = DEFAULT_SIGMA_M
    if (row.get("position_sigma_m") or "").strip():
        sigma = _number(row, "position_sigma_m", where)
        if not 0 < sigma < 100:
            raise _cell(where, "position_sigma_m", f"{sigma:g} m is no error of a position")
    return Mark(latitude, longitude, depth, sigma, _note(row.get("note") or ""))


def _feature_mark(geometry: Mapping[str, Any], properties: Mapping[str, Any], where: str) -> Mark:
    spot = geometry.get("coordinates")
    if not isinstance(spot, list) or len(spot) < 2 or not all(_is_number(v) for v in spot[:2]):
        raise _cell(where, "coordinates", "a point needs longitude and latitude")
    latitude, longitude = entry.check_position(float(spot[1]), float(spot[0]), where)
    depth, sigma = properties.get("depth_m"), properties.get("position_sigma_m", DEFAULT_SIGMA_M)
    if depth is not None:
        if not _is_number(depth):
            raise _cell(where, "depth_m", f'"{depth}" is not a number')
        depth = entry.check_depth_m(float(depth), where=where)
    if not _is_number(sigma) or not 0 < sigma < 100:
        raise _cell(where, "position_sigma_m", f'"{sigma}" is no error of a position')
    return Mark(latitude, longitude, depth, float(sigma), str(properties.get("note") or ""))


def _number(row: Mapping[str, str | None], column: str, where: str) -> float:
    cell = (row.get(column) or "").strip()
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise _cell(where, column, f'"{cell}" is not a number')
    return value


def _acts(note: str) -> bool:
    """Would a spreadsheet take the note for a formula, or take our mark against that for the note's own?"""
    return note[:1] in FORMULA_STARTS or (note[:1] == "'" and note[1:2] in (*FORMULA_STARTS, "'"))


def _note(cell: str) -> str:
    """A note as it was before it was written out: the mark against formulas comes off again."""
    return cell[1:] if cell[:1] == "'" and cell[1:2] in (*FORMULA_STARTS, "'") else cell


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _apart_m(mark: Mark, latitude: float, longitude: float) -> float:
    """Distance on a plane through the marks: good to a per cent, which a jump of 300 m does not need."""
    north = (latitude - mark.latitude) * 111_200.0
    east = (longitude - mark.longitude) * 111_300.0 * math.cos(math.radians(latitude))
    return math.hypot(north, east)


def _cell(where: str, column: str, trouble: str) -> GroundError:
    return GroundError(
        f"{where}, column {column}: {trouble}. Correct the cell.", code="cell_refused", fields={column: trouble}
    )


def _refused(faults: dict[str, str]) -> GroundError:
    first = next(iter(faults.values()))
    more = f" ({len(faults) - 1} more faults are listed.)" if len(faults) > 1 else ""
    return GroundError(f"Nothing was taken from the file. {first}{more}", code="file_refused", fields=faults)
