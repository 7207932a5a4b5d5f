"""Published benchmark files read into our own problem model. Pure.

Solomon's text format: M. M. Solomon, Operations Research 35(2), 1987, 254-265. Technician routing: V. Pillac,
C. Gueret, A. L. Medaglia, Optimization Letters 7(7), 2013, 1525-1535.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from ..errors import BadBenchmarkFile
from ..problem import Crew, Kit, KitNeed, Place, Problem, Shift, Visit, VisitKind, Weights, Window, Yard
from ..travel import Travel, places_of, planar_travel

TENTHS = 10
# Technician routing is measured in double precision; legs raised to the next ten-thousandth never flatter us.
TEN_THOUSANDTHS = 10_000


@dataclass(frozen=True, slots=True)
class Instance:
    """A benchmark instance as a problem, with its travel table and how many ticks make one unit of length."""

    name: str
    problem: Problem
    travel: Travel
    ticks: int


def _numbers(line: str, count: int, path: Path, line_no: int) -> list[float]:
    try:
        row = [float(word) for word in line.split()]
    except ValueError:
        row = []
    if len(row) != count:
        raise BadBenchmarkFile(f"{path.name}, line {line_no}: {count} numbers are wanted, found {line.strip()!r}.")
    return row


def solomon_rows(path: Path) -> tuple[str, int, int, list[list[float]]]:
    """Name, vehicles, capacity and the rows (number, x, y, demand, ready time, due date, service time)."""
    lines = path.read_text(encoding="ascii", errors="replace").splitlines()
    starts = [k for k, line in enumerate(lines) if line.split()[:1] == ["NUMBER"]]
    tables = [k for k, line in enumerate(lines) if line.split()[:1] == ["CUST"]]
    if not starts or not tables or len(lines) <= starts[0] + 1:
        raise BadBenchmarkFile(
            f"{path.name} has no VEHICLE or no CUSTOMER table; give a file in Solomon's text format."
        )
    vehicles, capacity = (int(x) for x in _numbers(lines[starts[0] + 1], 2, path, starts[0] + 2))
    rows = [
        _numbers(line, 7, path, k) for k, line in enumerate(lines[tables[0] + 1 :], tables[0] + 2) if line.strip()
    ]
    if len(rows) < 2:
        raise BadBenchmarkFile(f"{path.name} lists no customers.")
    return lines[0].strip(), vehicles, capacity, rows


def read_solomon(path: Path) -> Instance:
    """A vehicle routing instance with windows: every customer a required visit, demand and capacity as parts."""
    name, vehicles, capacity, rows = solomon_rows(path)
    return Instance(name, *_solomon_problem(rows, vehicles, capacity), TENTHS)


def _solomon_problem(rows: list[list[float]], vehicles: int, capacity: int) -> tuple[Problem, Travel]:
    tick = TENTHS
    depot = Place.plane(rows[0][1], rows[0][2])
    crews = tuple(Crew(f"crew {k + 1}", yard_id="depot", parts={"load": capacity}) for k in range(vehicles))
    shifts = tuple(
        Shift(
            f"shift {k + 1}",
            f"crew {k + 1}",
            0,
            int(rows[0][4] * tick),
            int(rows[0][5] * tick),
            depot,
            depot,
            free_start=True,
        )
        for k in range(vehicles)
    )
    visits = tuple(
        Visit(
            f"{int(row[0])}",
            VisitKind.DIG,
            round(row[6] * tick),
            Place.plane(row[1], row[2]),
            (Window(round(row[4] * tick), round(row[5] * tick)),),
            parts={"load": int(row[3])},
            required=True,
        )
        for row in rows[1:]
    )
    problem = Problem(
        visits, crews, shifts, (Yard("depot", depot),), weights=Weights(drive=1, overtime=0), country=()
    )
    return problem, planar_travel(places_of(problem), tick, "floor")


_TECHNICIAN_ROW = re.compile(
    r"\s*(\d+)\s+(-?\d+)\s+(-?\d+)\s+(\d+)\s+(\d+)\s+(\d+)\s+\[(.*?)\]\s*\[(.*?)\]\s*\[(.*?)\]\s*$"
)


def _list(text: str) -> list[int]:
    return [int(word) for word in text.split(",") if word.strip()]


def read_technician(path: Path) -> Instance:
    """A technician routing instance: homes, skills, tools on the truck, spare parts, a depot with all of them."""
    lines = path.read_text(encoding="ascii", errors="replace").splitlines()
    info = next((k for k, line in enumerate(lines) if line.startswith("CREW COUNT")), None)
    rows = [match.groups() for line in lines if (match := _TECHNICIAN_ROW.match(line))]
    if info is None or not rows:
        raise BadBenchmarkFile(f"{path.name} has no CREW COUNT or no requests; give a technician routing file.")
    crew_count, _, tools, _ = (int(x) for x in _numbers(lines[info + 1], 4, path, info + 2))
    if len(rows) <= crew_count + 1:
        raise BadBenchmarkFile(
            f"{path.name} lists {len(rows)} rows, fewer than depot, {crew_count} technicians and a request."
        )
    return Instance(lines[0].strip(), *_technician_problem(rows, crew_count, tools), TEN_THOUSANDTHS)


def _technician_problem(rows: list[tuple[str, ...]], crew_count: int, tools: int) -> tuple[Problem, Travel]:
    tick = TEN_THOUSANDTHS
    depot = Place.plane(float(rows[0][1]), float(rows[0][2]))
    part_kinds = sorted({f"part {k}" for row in rows for k, _ in enumerate(_list(row[8]))})
    yard = Yard("depot", depot, frozenset(part_kinds))
    crews, shifts, kit = [], [], []
    for row in rows[1 : crew_count + 1]:
        home, name = Place.plane(float(row[1]), float(row[2])), f"technician {row[0]}"
        crews.append(
            Crew(
                name,
                frozenset(f"skill {k}" for k in _list(row[6])),
                "depot",
                {f"part {k}": n for k, n in enumerate(_list(row[8]))},
            )
        )
        shifts.append(
            Shift(f"tour {row[0]}", name, 0, int(row[3]) * tick, int(row[4]) * tick, home, home, free_start=True)
        )
        kit += [Kit(f"tool {k} of {name}", f"tool {k}", crew_id=name) for k in _list(row[7])]
        # the depot never runs short: one of each tool for each technician lies there
        kit += [Kit(f"tool {k} for {name}", f"tool {k}", yard_id="depot") for k in range(tools)]
    visits = tuple(
        Visit(
            row[0],
            VisitKind.DIG,
            int(row[5]) * tick,
            Place.plane(float(row[1]), float(row[2])),
            (Window(int(row[3]) * tick, int(row[4]) * tick),),
            skills=frozenset(f"skill {k}" for k in _list(row[6])),
            kit=tuple(KitNeed(f"tool {k}") for k in _list(row[7])),
            parts={f"part {k}": n for k, n in enumerate(_list(row[8])) if n},
            required=True,
        )
        for row in rows[crew_count + 1 :]
    )
    weights = Weights(drive=0, duration=1, overtime=0)
    problem = Problem(visits, tuple(crews), tuple(shifts), (yard,), tuple(kit), weights=weights, country=())
    return problem, planar_travel(places_of(problem), tick, "ceil")
