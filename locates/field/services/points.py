"""Writes of points: one at a time from a phone, or a file whole."""

from __future__ import annotations

import math
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from locates.field import reckoning
from locates.field.models import Point, Run
from locates.field.services.given import PointGiven
from locates.field.words import DEPTH_METHODS, Placed, PositionBy, method_of
from locates.ground import entry
from locates.ground.exchange import Mark
from locates.ground.lengths import FOOT_M, LengthUnit, feet_inches
from locates.ground.quality import Method
from locates.ground.refusal import GroundError
from tickets.services.refusals import BadInput, Conflict, Faults, need_person
from tickets.services.writing import open_job
from tickets.states import Act

PHONE_ACCURACY_M = 5.0  # where nobody says how good a position is; a setting, no source
WORST_ACCURACY_M = 30.0  # beyond this a phone has no position worth a mark; a setting, no source
FURTHEST_FROM_SITE_M = 5_000.0
NEIGHBOURS = 5
HIGHEST_LEVEL_M = 4_500.0  # any height in the country, should somebody take it from the sea


@transaction.atomic
def add_point(*, run: Run, client_id: uuid.UUID, given: PointGiven, actor: Any, now: datetime) -> Point:
    """The next point of an open run. Sent again with the same id it changes nothing and gives the first."""
    need_person(actor)
    run = _open_run(run)
    found = Point.objects.filter(client_id=client_id).first()
    if found is not None:
        if found.run_id != run.pk:
            raise Conflict("That id stands for a point of another run. Give the point an id of its own.")
        return found
    before = list(run.points.filter(taken_out_at=None).order_by("number"))
    read = _read(run, given, before, now)
    point = Point.objects.create(run=run, client_id=client_id, number=run.last_number + 1, by=actor, **read)
    run.last_number = point.number
    _renew(run, [*before, point], now)
    return point


@transaction.atomic
def take_out_point(*, point: Point, words: str, actor: Any, now: datetime) -> Point:
    """A point that is wrong no longer counts; it stays on file with the reason."""
    need_person(actor)
    run = _open_run(point.run)
    point = Point.objects.select_for_update().get(pk=point.pk)
    if point.taken_out_at is not None:
        return point
    point.taken_out_at, point.taken_out_words = now, words.strip()[:200] or "Taken out at the site"
    point.save(update_fields=["taken_out_at", "taken_out_words"])
    _renew(run, list(run.points.filter(taken_out_at=None).order_by("number")), now)
    return point


@transaction.atomic
def add_marks(*, run: Run, marks: Sequence[Mark], actor: Any, now: datetime) -> int:
    """The marks of a file behind the points there are: all of them or none."""
    need_person(actor)
    run = _open_run(run)
    before = list(run.points.filter(taken_out_at=None).order_by("number"))
    _check_depth_allowed(run, any(m.depth_m is not None for m in marks), "file")
    _check_near_site(run, marks[0].latitude, marks[0].longitude)
    points = [
        Point(
            run=run,
            client_id=uuid.uuid4(),
            number=run.last_number + index,
            latitude=mark.latitude,
            longitude=mark.longitude,
            accuracy_m=mark.position_sigma_m * reckoning.SIGMAS_IN_ACCURACY,
            depth_m=mark.depth_m,
            note=mark.note[:200],
            taken_at=now,
            by=actor,
        )
        for index, mark in enumerate(marks, start=1)
    ]
    Point.objects.bulk_create(points, batch_size=500)
    run.last_number += len(points)
    _renew(run, [*before, *points], now)
    return len(points)


def _open_run(run: Run) -> Run:
    """The run, locked behind its job; refused when either is closed."""
    open_job(run.job, Act.RECORD)
    locked = Run.objects.select_for_update(of=("self",)).select_related("job__site").get(pk=run.pk)
    if not locked.is_open:
        raise Conflict(f"{locked.label} was finished before. Begin a new run for further points.")
    return locked


def _renew(run: Run, points: Sequence[Point], now: datetime) -> None:
    run.result = reckoning.reckon(run, points)
    run.result_version, run.reckoned_at = reckoning.VERSION, now
    run.save(update_fields=["result", "result_version", "reckoned_at", "last_number"])


@dataclass
class _Reader:
    """Reads typed lengths and gathers every fault before refusing."""

    unit: LengthUnit
    faults: Faults
    corrections: dict[str, float | str]

    def length(self, name: str, text: str, unit: LengthUnit | None = None, most_m: float = 9.0) -> float | None:
        """A length above zero and below `most_m`, or None when nothing was typed."""
        if not text.strip():
            return None
        try:
            found = entry.parse_length_m(text, unit or self.unit, name)
        except GroundError as refused:
            self.take(refused, name)
            return None
        if not 0 <= found <= most_m or not math.isfinite(found):
            self.faults.add(name, f'"{text}" cannot be: give a length from 0 to {most_m / FOOT_M:.0f} ft.')
            return None
        return found

    def level(self, name: str, text: str) -> float | None:
        """A level above or below a bench mark, feet unless it says more; None when nothing was typed."""
        if not text.strip():
            return None
        try:
            found = entry.parse_length_m(text, LengthUnit.FOOT, name)
        except GroundError as refused:
            self.take(refused, name)
            return None
        if not (math.isfinite(found) and abs(found) <= HIGHEST_LEVEL_M):
            self.faults.add(name, f'"{text}" is no level of the ground. Read it again.')
            return None
        return found

    def take(self, refused: GroundError, name: str) -> None:
        """A refusal of the engine's entry, with its way to correct."""
        for field, words in refused.fields.items():
            self.faults.add(field, refused.message if field == name else words)
        self.corrections.update(refused.correction)


class PointRefused(BadInput):
    """A point that cannot be used; `members` carries values that would pass, for one tap."""

    def __init__(self, message: str, fields: dict[str, str], correction: dict[str, float | str]) -> None:
        super().__init__(message, code="point_refused", fields=fields)
        self.members = {"correction": correction}


def _read(run: Run, given: PointGiven, before: Sequence[Point], now: datetime) -> dict[str, Any]:
    """The columns of a point, or PointRefused with every fault by field."""
    faults = Faults()
    reader = _Reader(given.unit, faults, {})
    found: dict[str, Any] = {"note": given.note.strip()[:200], "target_verified": given.target_verified}
    found.update(_position(run, given, before, reader))
    found.update(_readings(run, given, before, reader))
    placed = faults.word("placed", given.placed or "nothing", Placed)
    found["placed"] = placed or Placed.NOTHING
    taken = given.taken_at or now
    faults.instant("taken_at", taken)
    # a phone's clock that runs ahead must not stop the crew
    found["taken_at"] = min(taken, now) if taken.tzinfo else now
    if faults.by_field:
        first = next(iter(faults.by_field.values()))
        raise PointRefused(first, faults.by_field, reader.corrections)
    return found


def _position(run: Run, given: PointGiven, before: Sequence[Point], reader: _Reader) -> dict[str, Any]:
    faults = reader.faults
    if run.position_by == PositionBy.BASELINE:
        return _along_baseline(run, given, reader)
    if given.latitude is None or given.longitude is None:
        faults.add("position", "There is no position. Wait for the phone's position, or type it.")
        return {}
    accuracy = _accuracy_m(given, reader)
    if accuracy is None:
        return {}
    try:
        entry.check_position(given.latitude, given.longitude)
        _check_near_site(run, given.latitude, given.longitude)
        if before:
            entry.check_jump(_apart_m(run, before[-1], given.latitude, given.longitude))
    except GroundError as refused:
        faults.add("position", refused.message)
        reader.corrections.update(refused.correction)
        return {}
    return {"latitude": given.latitude, "longitude": given.longitude, "accuracy_m": accuracy}


def _accuracy_m(given: PointGiven, reader: _Reader) -> float | None:
    """Radius of about 95 %: as typed, else as the device says, else what a phone mostly has. None when refused."""
    accuracy, field = given.accuracy_m, "position"
    if given.accuracy.strip():
        field = "accuracy"
        accuracy = reader.length(field, given.accuracy, LengthUnit.FOOT, most_m=entry.JUMP_M)
        if accuracy is None:
            return None
    if accuracy is None:
        return PHONE_ACCURACY_M
    if 0 < accuracy <= WORST_ACCURACY_M:
        return accuracy
    words = "No position is exact. Say how good it is, as 3 ft or 8 in."
    if not accuracy <= 0:
        said, least = feet_inches(accuracy), feet_inches(WORST_ACCURACY_M)
        words = f"The position is good to {said} only; a mark needs {least} or better. Wait under open sky, or use a "
        words += "baseline."
    reader.faults.add(field, words)
    return None


def _along_baseline(run: Run, given: PointGiven, reader: _Reader) -> dict[str, Any]:
    """A place along the run's baseline. Offsets along and beside it are typed in feet unless they say more."""
    grid = reckoning.grid_of(run)
    baseline = reckoning.baseline_of(run, grid)
    assert baseline is not None
    along = reader.length("along", given.along, LengthUnit.FOOT, most_m=entry.JUMP_M)
    if along is None:
        reader.faults.add("along", "Give the distance along the baseline from the first fixed mark.")
        return {}
    sides = {
        side: reader.length(side, text, LengthUnit.FOOT, most_m=entry.JUMP_M)
        for side, text in (("left", given.left), ("right", given.right))
    }
    if sides["left"] and sides["right"]:
        reader.faults.add("right", "A point lies left or right of the baseline, not both. Empty one of them.")
        return {}
    offset = (sides["left"] or 0.0) - (sides["right"] or 0.0)
    latitude, longitude = grid.to_position(*baseline.point(along, offset))
    sigma = baseline.sigma_m(along, offset, reckoning.TAPE_SIGMA_M)
    return {
        "latitude": latitude,
        "longitude": longitude,
        "accuracy_m": sigma * reckoning.SIGMAS_IN_ACCURACY,
        "along_m": along,
        "left_m": offset,
    }


def _readings(run: Run, given: PointGiven, before: Sequence[Point], reader: _Reader) -> dict[str, Any]:
    found: dict[str, Any] = {"depth_m": None}
    if given.depth.strip():
        near = [p.depth_m for p in before[-NEIGHBOURS:] if p.depth_m is not None]
        try:
            _check_depth_allowed(run, True, "depth")
            found["depth_m"] = entry.parse_depth_m(given.depth, given.unit, near, "depth")
        except GroundError as refused:
            reader.take(refused, "depth")
        except BadInput as refused:
            reader.faults.take(refused)
    for name, column in (
        ("null_off", "null_off_m"),
        ("left_45", "left_45_m"),
        ("right_45", "right_45_m"),
        ("null_behind", "null_behind_m"),
        ("null_ahead", "null_ahead_m"),
        ("measured_within", "measured_within_m"),
    ):
        value = reader.length(name, getattr(given, name))
        found[column] = value if name == "null_off" else value or None
    found["counter_m"] = reader.length("counter", given.counter, LengthUnit.FOOT, most_m=entry.JUMP_M)
    found_level = reader.level("ground_level", given.ground_level)
    for name in ("current_ma", "signal", "gain_db", "ground_level_m"):
        figure = getattr(given, name)
        if figure is not None and not math.isfinite(figure):
            reader.faults.add(name, f"{figure} is not a number. Read it again or leave it empty.")
        found[name] = figure
    found["ground_level_m"] = found["ground_level_m"] if found_level is None else found_level
    if given.measured_within.strip() and not given.depth.strip():
        reader.faults.add("depth", "Give the taped depth to the top of the line that lies open.")
    if given.target_verified and not given.measured_within.strip():
        reader.faults.add("measured_within", "Say how closely the open line was measured, as 1 in.")
    if given.current_ma is not None and given.current_ma <= 0:
        reader.faults.add("current_ma", "A current is above zero; leave it empty when none was read.")
    _check_sonde(found, reader)
    return found


def _check_sonde(found: dict[str, Any], reader: _Reader) -> None:
    behind, ahead = found["null_behind_m"], found["null_ahead_m"]
    if (behind is None) != (ahead is None):
        name = "null_ahead" if ahead is None else "null_behind"
        reader.faults.add(name, "A sonde's fix needs both nulls: give the distance of each from the peak.")
    elif behind is not None and ahead is not None:
        try:
            reckoning.sonde_fix(behind, ahead)
        except GroundError as refused:
            reader.faults.add("null_ahead", refused.message)


def _check_depth_allowed(run: Run, given: bool, field: str) -> None:
    method = method_of(run.method)
    if given and method not in DEPTH_METHODS and method is not Method.EXPOSED:
        words = (
            f"{method.value.capitalize()} gives no dependable depth. Leave it empty; put what is said in the note."
        )
        raise BadInput(words, fields={field: words})


def _check_near_site(run: Run, latitude: float, longitude: float) -> None:
    x, y = reckoning.grid_of(run).to_local(latitude, longitude)
    away = math.hypot(x, y)
    if away > FURTHEST_FROM_SITE_M:
        words = f"The position lies {away / 1609.344:.1f} miles from the site. Take it again, or check the site."
        raise GroundError(words, code="far_from_site", fields={"position": words})


def _apart_m(run: Run, point: Point, latitude: float, longitude: float) -> float:
    grid = reckoning.grid_of(run)
    return math.dist(grid.to_local(point.latitude, point.longitude), grid.to_local(latitude, longitude))
