"""An evidence entry's payload as lines for a person. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from locates.lengths import feet_and_inches
from tickets.verdict.words import instant_words

_INSTANT = re.compile(r"^\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)$")
_CODE = re.compile(r"^[a-z]+(_[a-z]+)+$")
_DIGEST = re.compile(r"^[0-9a-f]{64}$")


@dataclass(frozen=True, slots=True)
class Fact:
    """One line: what it is about and its words; `more` are lines behind it, as the days counted."""

    about: str
    words: str
    more: tuple[str, ...] = ()


def facts_of_payload(payload: Any, zone: str) -> list[Fact]:
    """The payload's facts in its own order, instants on the site's clock; what is empty is left out."""
    return list(_facts(payload, "", zone)) if isinstance(payload, Mapping) else []


def _facts(given: Mapping[str, Any], before: str, zone: str) -> Iterator[Fact]:
    for key, value in given.items():
        about = f"{before}{key.replace('_', ' ')}"
        if key.endswith("_m") and isinstance(value, (int, float)) and not isinstance(value, bool):
            yield Fact(about.removesuffix(" m"), feet_and_inches(value))
            continue
        if value is None or value == "" or value == [] or value == {}:
            continue
        if isinstance(value, Mapping) and value.get("type") in {"Polygon", "MultiPolygon"}:
            yield Fact(about, _area_words(value))
        elif isinstance(value, Mapping):
            yield from _facts(value, f"{about}, ", zone)
        elif isinstance(value, list) and any(isinstance(item, Mapping) for item in value):
            yield _listed(about, [line for item in value for line in _lines(item, zone)])
        elif isinstance(value, list):
            yield Fact(about, _joined([_words(item, zone) for item in value]))
        elif isinstance(value, str) and len(value.splitlines()) > 1:
            yield _listed(about, value.splitlines())
        else:
            yield Fact(about, _words(value, zone))


def _listed(about: str, lines: list[str]) -> Fact:
    return Fact(about, f"{len(lines)}", tuple(lines))


def _lines(item: Any, zone: str) -> list[str]:
    if not isinstance(item, Mapping):
        return [_words(item, zone)]
    if isinstance(item.get("words"), str):
        citation, listed = item.get("citation"), item.get("items")
        said = f"{item['words']} ({citation})" if citation else item["words"]
        return [said, *(_words(one, zone) for one in (listed if isinstance(listed, list) else ()))]
    return [", ".join(_words(inner, zone) for inner in item.values() if inner not in (None, "", []))]


def _joined(words: list[str]) -> str:
    return (" " if all(one.endswith(".") for one in words) else "; ").join(words)


def _words(value: Any, zone: str) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and _INSTANT.match(value):
        return instant_words(datetime.fromisoformat(value.replace("Z", "+00:00")), zone)
    if isinstance(value, str) and _DIGEST.match(value):
        return f"{value[:12]}…"
    if isinstance(value, str) and _CODE.match(value):
        return value.replace("_", " ")
    return str(value)


def _area_words(area: Mapping[str, Any]) -> str:
    corners = list(_positions(area.get("coordinates")))
    if not corners:
        return "an area without corners"
    lon, lat = corners[0]
    return f"an area of {len(corners)} points, from {lat:.6f}, {lon:.6f}"


def _positions(coordinates: Any) -> Iterator[tuple[float, float]]:
    if not isinstance(coordinates, list) or not coordinates:
        return
    if isinstance(coordinates[0], (int, float)):
        yield float(coordinates[0]), float(coordinates[1]) if len(coordinates) > 1 else 0.0
        return
    for part in coordinates:
        yield from _positions(part)
