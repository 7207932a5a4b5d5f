"""What a run's page shows: its points with what they are worth, its warnings, its instruments."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from locates.field.models import Point, Run
from locates.field.pages.fields import hertz_words
from locates.field.pages.pipe_view import fall_view, spot_views
from locates.field.pages.quality import level_words
from locates.field.selectors import photos_of
from locates.field.words import COLOUR_WORDS, DEPTH_METHODS, METHODS, BackingKind, PositionBy, method_of
from locates.ground.caution import DEPTH_IS_NOT_PERMISSION, UNKNOWN_IS_NOT_CLEAR
from locates.ground.lengths import feet_inches
from locates.ground.quality import Method

CAUTIONS = (DEPTH_IS_NOT_PERMISSION, UNKNOWN_IS_NOT_CLEAR)


@dataclass(frozen=True)
class PointView:
    """A point with the engine's word on it."""

    point: Point
    read_words: str
    worth_words: str
    place_words: str
    doubts: tuple[dict[str, Any], ...]
    set_aside: tuple[str, ...]


def run_context(run: Run) -> dict[str, Any]:
    """Everything on the run's page but its forms, for a run loaded by `run_detail`."""
    points = point_views(run)
    result = run.result or {}
    method = method_of(run.method)
    return {
        "run": run,
        "job": run.job,
        "zone": run.job.site.time_zone,
        "points": list(reversed(points)),
        "next_number": run.last_number + 1,
        "along": [one | {"at_words": _stretch(one)} for one in result.get("along", [])],
        "trouble": result.get("trouble", "") if len(points) > 1 else "",
        "frequency_words": hertz_words(run.frequency_hz),
        "colour_words": COLOUR_WORDS[run.utility],
        "devices": list(run.devices.all()),
        "photos": photos_of([run]),
        **shape_of(method),
        "fall": fall_view(run),
        "spots": spot_views(run) if method is Method.SONDE else [],
        "level": level_words(run),
        "sealed": any(b.kind == BackingKind.SEALED and b.withdrawn_at is None for b in run.backings.all()),
        "on_baseline": run.position_by == PositionBy.BASELINE,
        "cautions": CAUTIONS,
    }


def shape_of(method: Method) -> dict[str, bool]:
    """Which parts the form of a point has."""
    return {
        "reads_depth": method in DEPTH_METHODS or method is Method.EXPOSED,
        "is_sonde": method is Method.SONDE,
        "is_exposed": method is Method.EXPOSED,
        "is_line": method in DEPTH_METHODS and method not in (Method.SONDE, Method.RADAR),
        "takes_holes": method in DEPTH_METHODS or method is Method.EXPOSED,
    }


def point_shapes() -> list[dict[str, Any]]:
    """Every form that a point may have, with the methods it serves, along a baseline and not."""
    shapes: dict[tuple[bool, ...], list[str]] = {}
    for word, _ in METHODS:
        shapes.setdefault(tuple(shape_of(method_of(word)).values()), []).append(word)
    return [
        {**shape_of(method_of(words[0])), "methods": " ".join(words), "on_baseline": on_baseline}
        for words in shapes.values()
        for on_baseline in (False, True)
    ]


def point_views(run: Run) -> list[PointView]:
    """The standing points in the order walked."""
    result = run.result or {}
    worth = dict(zip(result.get("order", []), result.get("points", []), strict=False))
    numbers = result.get("order", [])
    aside: dict[int, list[str]] = {}
    for one in (result.get("trace") or {}).get("set_aside", []):
        words = (
            f"Its {one['what']} lies {feet_inches(one['off_m'])} off its neighbours and was set aside. Read it again."
        )
        aside.setdefault(numbers[one["index"]], []).append(words)
    return [_view(point, worth.get(point.number), tuple(aside.get(point.number, ()))) for point in run.points.all()]


def _view(point: Point, worth: dict[str, Any] | None, aside: tuple[str, ...]) -> PointView:
    found, doubts = "", ()
    if worth is not None:
        doubts = tuple(worth["doubts"])
        if worth["depth_m"] is not None:
            low, high = max(0.0, worth["depth_m"] - worth["half_band_m"]), worth["depth_m"] + worth["half_band_m"]
            found = f"expect it from {feet_inches(low)} to {feet_inches(high)}"
    place = f"good to {feet_inches(point.accuracy_m)}"
    if point.along_m is not None and point.left_m is not None:
        side = "left" if point.left_m >= 0 else "right"
        place = f"{feet_inches(point.along_m)} along, {feet_inches(abs(point.left_m))} {side}"
    read = "" if point.depth_m is None else feet_inches(point.depth_m)
    if point.measured_within_m is not None and read:
        found = f"taped to the top of the open line, to within {feet_inches(point.measured_within_m, 4)}"
    return PointView(point, read, found, place, doubts, aside)


def _stretch(one: dict[str, Any]) -> str:
    if one["from_m"] == one["to_m"]:
        return f"At {feet_inches(one['from_m'])} along the line"
    return f"From {feet_inches(one['from_m'])} to {feet_inches(one['to_m'])} along the line"
