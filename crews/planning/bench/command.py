"""`bench planner`: reads the options, runs the cases in one or two processes, prints a table or JSON."""

from __future__ import annotations

import argparse
import csv
import json
import sys
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from statistics import fmean
from typing import Any

from locates.errors import FirstspadeError

from ..errors import BadBenchmarkFile
from . import growth
from .runs import Case, Row, ScaleCase, run_case, run_scale

SCALE = ((50, 5, 5), (100, 10, 5), (200, 20, 5), (400, 30, 7), (700, 45, 10), (1_000, 60, 10))


def main(argv: Sequence[str]) -> int:
    """Run the benchmark; 0 when every plan passed the checker, 1 when one did not, 2 when the options are wrong."""
    options = _parser().parse_args(list(argv))
    try:
        if options.scale:
            return _scale(options)
        return _instances(options)
    except FirstspadeError as refusal:
        print(refusal.message, file=sys.stderr)
        return 2


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="bench planner", description="Measure the planner on published instances.")
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--instances", nargs="+", type=Path, metavar="FILE", help="instances in Solomon's text format")
    what.add_argument("--technician", nargs="+", type=Path, metavar="FILE", help="technician routing instances")
    what.add_argument("--scale", action="store_true", help="growth of time, cost and memory with invented problems")
    parser.add_argument("--seconds", type=float, default=None, help="search per instance (default 10; scale 10)")
    parser.add_argument("--seed", type=int, nargs="+", default=[1], help="one or more seeds (default 1)")
    parser.add_argument("--best", type=Path, help="CSV with columns instance,distance (or best_working_time)")
    parser.add_argument("--jobs", type=int, choices=(1, 2), default=1, help="cases at the same time (default 1)")
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of a table")
    parser.add_argument("--no-direct", action="store_true", help="leave out the engine called directly")
    parser.add_argument(
        "--direct-seconds", type=float, help="seconds for the engine called directly (default: the same)"
    )
    parser.add_argument(
        "--cpu",
        action="store_true",
        help="count processor seconds instead of the wall's: for machines that have other work",
    )
    parser.add_argument("--sizes", nargs="+", metavar="VISITS/CREWS/DAYS", help="sizes for --scale, as 200/20/5")
    parser.add_argument("--processors", type=int, choices=(1, 2), default=2, help="searches side by side (default 2)")
    parser.add_argument("--markdown", action="store_true", help="print the table of --scale in Markdown")
    parser.add_argument("--plot", type=Path, metavar="FILE.svg", help="write the growth of --scale as a picture")
    return parser


def _best(path: Path | None) -> dict[str, float]:
    if path is None:
        return {}
    with path.open(encoding="utf-8", newline="") as handle:
        rows = list(csv.DictReader(handle))
    column = next((c for c in ("distance", "best_working_time") if rows and c in rows[0]), None)
    if column is None or "instance" not in rows[0]:
        raise BadBenchmarkFile(f"{path.name} must have the columns instance and distance (or best_working_time).")
    try:
        return {row["instance"].strip().lower(): float(row[column]) for row in rows}
    except ValueError as wrong:
        raise BadBenchmarkFile(f"{path.name}: {wrong}; the column {column} must hold numbers.") from wrong


def _run(cases: Sequence[Case], jobs: int) -> Iterable[Row]:
    if jobs == 1:
        yield from map(run_case, cases)
        return
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        yield from pool.map(run_case, cases)


def _instances(options: argparse.Namespace) -> int:
    technician = options.technician is not None
    paths: list[Path] = options.technician if technician else options.instances
    for path in paths:
        if not path.is_file():
            raise BadBenchmarkFile(f"There is no file {path}.")
    best = _best(options.best)
    seconds = options.seconds or 10.0
    direct = 0.0 if options.no_direct or technician else (options.direct_seconds or seconds)
    cases = [
        Case(str(path), seed, seconds, direct, technician, options.cpu, options.processors)
        for path in paths
        for seed in options.seed
    ]
    rows = []
    if not options.json:
        print(_HEAD_TECHNICIAN if technician else _HEAD)
    for row in _run(cases, options.jobs):
        row.best = best.get(row.instance.lower())
        rows.append(row)
        if not options.json:
            print(_line(row, technician), flush=True)
    summary = _summary(rows)
    if options.json:
        print(json.dumps({"rows": [row.as_dict() for row in rows], "summary": summary}, indent=1))
    else:
        print("\n".join(f"{name.replace('_', ' ')}: {value}" for name, value in summary.items()))
    return 0 if all(row.feasible for row in rows) else 1


_HEAD = "instance      seed   distance vehicles  checker   best known   gap %     direct vehicles   loss %   rounds"
_HEAD_TECHNICIAN = "instance                 seed  working time technicians  checker   best known   gap %   rounds"


def _number(value: float | None, width: int, digits: int) -> str:
    return " " * (width - 1) + "-" if value is None else f"{value:{width}.{digits}f}"


def _line(row: Row, technician: bool) -> str:
    verdict = "passed" if row.feasible else "FAILED"
    if technician:
        return (
            f"{row.instance:24} {row.seed:4} {row.value:13.2f} {row.vehicles:11} {verdict:>8} "
            f"{_number(row.best, 12, 2)} {_number(row.gap_percent, 7, 3)} {row.rounds:8}"
        )
    direct_vehicles = "-" if row.direct_vehicles is None else row.direct_vehicles
    return (
        f"{row.instance:12} {row.seed:5} {row.value:10.1f} {row.vehicles:8} {verdict:>8} {_number(row.best, 12, 1)} "
        f"{_number(row.gap_percent, 7, 3)} {_number(row.direct, 10, 1)} {direct_vehicles:>8} "
        f"{_number(row.loss_percent, 8, 3)} {row.rounds:8}"
    )


def _mean(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return round(fmean(known), 4) if known else None


def _summary(rows: Sequence[Row]) -> dict[str, float | int | None]:
    gaps = [row.gap_percent for row in rows if row.gap_percent is not None]
    return {
        "runs": len(rows),
        "passed_the_checker": sum(row.feasible for row in rows),
        "mean_gap_percent": _mean(gaps),
        "worst_gap_percent": round(max(gaps), 4) if gaps else None,
        "at_or_below_best_known": sum(gap <= 1e-6 for gap in gaps) if gaps else None,
        "mean_loss_against_direct_percent": _mean(row.loss_percent for row in rows),
        "mean_gap_of_direct_percent": _mean(row.direct_gap_percent for row in rows),
    }


def _sizes(given: Sequence[str] | None) -> tuple[tuple[int, int, int], ...]:
    if not given:
        return SCALE
    sizes = []
    for text in given:
        words = text.split("/")
        if len(words) != 3 or not all(word.isdigit() and int(word) > 0 for word in words):
            raise BadBenchmarkFile(f"The size {text!r} is not visits/crews/days, for example 200/20/5.")
        sizes.append((int(words[0]), int(words[1]), int(words[2])))
    return tuple(sizes)


_HEAD_SCALE = (
    "visits crews days seed seconds       cost planned left drive h overtime h checker first plan s memory MiB"
)


def _scale_line(row: dict[str, Any]) -> str:
    return (
        f"{row['visits']:6} {row['crews']:5} {row['days']:4} {row['seed']:4} {row['seconds']:7.1f} {row['cost']:10} "
        f"{row['planned']:7} {row['left']:4} {row['drive_h']:7.1f} {row['overtime_h']:10.1f} "
        f"{'passed' if row['feasible'] else 'FAILED':>7} {row['first_plan_s']:12.1f} {row['memory_mib']:10.0f}"
    )


def _scale(options: argparse.Namespace) -> int:
    rows = []
    table = not (options.json or options.markdown)
    if table:
        print(_HEAD_SCALE)
    for size in _sizes(options.sizes):
        for seed in options.seed:
            case = ScaleCase(*size, seed, options.seconds or 10.0, options.cpu, options.processors)
            # a process of its own for each, so that its peak memory is its own
            with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
                row = pool.submit(run_scale, case).result()
            rows.append(row)
            if table:
                print(_scale_line(row), flush=True)
    if options.json:
        print(json.dumps({"rows": rows}, indent=1))
    if options.markdown:
        print(growth.markdown(rows))
    if options.plot is not None:
        options.plot.write_text(growth.plot(rows), encoding="utf-8")
    return 0 if all(row["feasible"] for row in rows) else 1
