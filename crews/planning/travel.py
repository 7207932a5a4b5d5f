"""Travel times between places: great circle with a circuity factor, a matrix from outside, a benchmark's plane.

Pure: no network here (see `routing_server.py`). A `Travel` holds whole seconds and whole metres (or a
benchmark's ticks) between every pair of a list of places.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from .errors import BadTravelAnswer
from .problem import Place, Problem

IntMatrix = npt.NDArray[np.int64]

# Mean radius R1 of the WGS 84 ellipsoid, (2a + b) / 3: National Imagery and Mapping Agency, TR8350.2, 3rd edition.
EARTH_RADIUS_M = 6_371_008.8


@dataclass(frozen=True, slots=True)
class Speeds:
    """Default travel rule. Road distance = great circle x `circuity`; speed by length of the trip.

    Circuity about 1.2 to 1.4 for car trips in United States cities (P. Levinson and A. El-Geneidy, "The
    minimum circuity frontier and the journey to work", Regional Science and Urban Economics 39, 2009, from
    memory); the speeds are common practice, no source. `slack_s` is parking and setting out, a trip.
    """

    circuity: float = 1.3
    near_m: float = 8_000.0
    near_kmh: float = 36.0
    far_kmh: float = 72.0
    slack_s: int = 120


@dataclass(frozen=True)
class Travel:
    """Whole seconds and metres from place i to place j; `note` says where they come from and what fell back."""

    index: Mapping[Place, int]
    time_s: IntMatrix
    distance_m: IntMatrix
    note: str = "great circle with circuity"
    missing: tuple[tuple[int, int], ...] = field(default=())

    def seconds(self, start: Place, end: Place) -> int:
        """Seconds of driving from `start` to `end`."""
        return int(self.time_s[self.index[start], self.index[end]])

    def metres(self, start: Place, end: Place) -> int:
        """Metres of driving from `start` to `end`."""
        return int(self.distance_m[self.index[start], self.index[end]])


def places_of(problem: Problem) -> list[Place]:
    """Every place of a problem once, in a fixed order: yards, ends of shifts, visits."""
    found: dict[Place, None] = {}
    for yard in problem.yards:
        found.setdefault(yard.place)
    for shift in problem.shifts:
        found.setdefault(shift.start_place)
        found.setdefault(shift.end_place)
    for visit in problem.visits:
        found.setdefault(visit.place)
    return list(found)


def great_circle_m(start: Place, end: Place) -> float:
    """Metres between two geographic places on a sphere of `EARTH_RADIUS_M` (haversine formula)."""
    lat1, lat2 = math.radians(start.y), math.radians(end.y)
    half_lat = (lat2 - lat1) / 2
    half_lon = math.radians(end.x - start.x) / 2
    chord = math.sin(half_lat) ** 2 + math.cos(lat1) * math.cos(lat2) * math.sin(half_lon) ** 2
    return 2 * EARTH_RADIUS_M * math.asin(min(1.0, math.sqrt(chord)))


def great_circle_travel(places: Sequence[Place], speeds: Speeds | None = None) -> Travel:
    """Default travel: great circle x circuity, slow near and faster beyond; needs no network."""
    rule = speeds or Speeds()
    if any(place.planar for place in places):
        raise BadTravelAnswer("Planar places have no great circle; use the planar rule or give a matrix.")
    lat = np.radians([place.y for place in places])
    lon = np.radians([place.x for place in places])
    chord = (
        np.sin((lat[:, None] - lat[None, :]) / 2) ** 2
        + np.cos(lat[:, None]) * np.cos(lat[None, :]) * np.sin((lon[:, None] - lon[None, :]) / 2) ** 2
    )
    road_m = 2 * EARTH_RADIUS_M * np.arcsin(np.minimum(1.0, np.sqrt(chord))) * rule.circuity
    near = np.minimum(road_m, rule.near_m) / (rule.near_kmh / 3.6)
    far = np.maximum(road_m - rule.near_m, 0.0) / (rule.far_kmh / 3.6)
    time_s = np.ceil(near + far + rule.slack_s).astype(np.int64)
    time_s[road_m < 1.0] = 0
    return Travel(_index(places), time_s, np.rint(road_m).astype(np.int64))


def planar_travel(places: Sequence[Place], ticks: int, rounding: str = "floor") -> Travel:
    """Straight lines in a plane, `ticks` units to one of length, cut (`floor`), raised (`ceil`) or `round`ed.

    Cut to tenths (`ticks=10`) is the convention of the DIMACS challenge for Solomon's instances.
    """
    xy = np.array([(place.x, place.y) for place in places], dtype=float)
    length = np.sqrt(((xy[:, None, :] - xy[None, :, :]) ** 2).sum(-1)) * ticks
    if rounding == "floor":
        whole = np.floor(length + 1e-9)
    elif rounding == "ceil":
        whole = np.ceil(length - 1e-9)
    elif rounding == "round":
        whole = np.rint(length)
    else:
        raise ValueError(f"rounding {rounding!r} is none of floor, ceil, round")
    matrix = whole.astype(np.int64)
    return Travel(_index(places), matrix, matrix, note=f"plane, {ticks} ticks, {rounding}")


def matrix_travel(places: Sequence[Place], answer: Mapping[str, object], fallback: Travel) -> Travel:
    """Travel from a routing server's table answer (OSRM shape), pairs without a route taken from `fallback`.

    `answer` has `code` "Ok" and `durations` (seconds, null where no route), and may have `distances`
    (metres). Anything else is refused with `BadTravelAnswer`.
    """
    if answer.get("code") != "Ok":
        raise BadTravelAnswer(
            f"The routing server answered {answer.get('code')!r} instead of Ok; "
            "plan on the default speeds or look at the server.",
            code="routing_refused",
        )
    time_s, gaps = _matrix(answer.get("durations"), len(places), "durations", fallback.time_s)
    more: tuple[tuple[int, int], ...] = ()
    if answer.get("distances") is None:
        distance_m = fallback.distance_m
    else:
        distance_m, more = _matrix(answer.get("distances"), len(places), "distances", fallback.distance_m)
    missing = tuple(sorted(set(gaps) | set(more)))
    note = (
        "routing server" if not missing else f"routing server; {len(missing)} pairs without a route by great circle"
    )
    return Travel(_index(places), time_s, distance_m, note=note, missing=missing)


def _matrix(rows: object, size: int, name: str, fallback: IntMatrix) -> tuple[IntMatrix, tuple[tuple[int, int], ...]]:
    if (
        not isinstance(rows, list)
        or len(rows) != size
        or any(not isinstance(r, list) or len(r) != size for r in rows)
    ):
        raise BadTravelAnswer(
            f"The routing server's {name} are not a table of {size} by {size}.",
            code="routing_rubbish",
            fields={name: "wrong shape"},
        )
    out = np.zeros((size, size), dtype=np.int64)
    missing = []
    for i, row in enumerate(rows):
        for j, value in enumerate(row):
            if value is None:
                out[i, j] = fallback[i, j]
                missing.append((i, j))
            elif isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < 1e9:
                raise BadTravelAnswer(
                    f"The routing server's {name} hold {value!r}; wanted is a number from 0.",
                    code="routing_rubbish",
                    fields={name: f"row {i + 1}, column {j + 1}"},
                )
            else:
                out[i, j] = math.ceil(value)
    np.fill_diagonal(out, 0)  # whatever a server says of a trip to where one is
    return out, tuple((i, j) for i, j in missing if i != j)


def _index(places: Sequence[Place]) -> dict[Place, int]:
    index = {place: number for number, place in enumerate(places)}
    if len(index) != len(places):
        raise BadTravelAnswer("A place is given twice to the travel table; give each once.")
    return index
