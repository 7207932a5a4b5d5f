"""One case of the benchmark, run whole in its own process: plan on our model, check, call the engine directly."""

from __future__ import annotations

import resource
import sys
from dataclasses import asdict, dataclass
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

from ..budget import Budget, Progress
from ..planner import Effort, make_plan
from ..search.warm import make_ready
from ..solver import solve_plain_routing
from .instances import Instance, read_solomon, read_technician, solomon_rows
from .invented import invented_problem


@dataclass(frozen=True, slots=True)
class Case:
    """One instance, one seed; `direct_seconds` nought leaves the direct call out."""

    path: str
    seed: int
    seconds: float
    direct_seconds: float
    technician: bool
    cpu: bool = False
    processors: int = 2


@dataclass(slots=True)
class Row:
    """What came out, in the instance's own unit of length."""

    instance: str
    seed: int
    value: float
    vehicles: int
    feasible: bool
    violations: tuple[str, ...]
    seconds: float
    rounds: int
    direct: float | None = None
    direct_vehicles: int | None = None
    best: float | None = None

    @property
    def gap_percent(self) -> float | None:
        """How far above the best known value."""
        return None if self.best is None else 100 * (self.value / self.best - 1)

    @property
    def loss_percent(self) -> float | None:
        """How far above the engine called directly."""
        return None if self.direct is None else 100 * (self.value / self.direct - 1)

    @property
    def direct_gap_percent(self) -> float | None:
        """How far the engine called directly is above the best known value."""
        return None if self.direct is None or self.best is None else 100 * (self.direct / self.best - 1)

    def as_dict(self) -> dict[str, Any]:
        """For JSON, with the derived figures."""
        return {
            **asdict(self),
            "gap_percent": self.gap_percent,
            "loss_percent": self.loss_percent,
            "direct_gap_percent": self.direct_gap_percent,
        }


def run_case(case: Case) -> Row:
    """Plan one instance, and call the engine directly on the same file with the same seed."""
    path = Path(case.path)
    instance: Instance = read_technician(path) if case.technician else read_solomon(path)
    plan = make_plan(
        instance.problem,
        instance.travel,
        Effort(case.seconds, seed=case.seed, cpu=case.cpu, processors=case.processors),
    )
    ticks = plan.totals.duration_s if case.technician else plan.totals.drive_s
    row = Row(
        instance.name,
        case.seed,
        ticks / instance.ticks,
        plan.totals.shifts_used,
        plan.feasible,
        plan.violations,
        plan.seconds,
        plan.rounds,
    )
    if case.direct_seconds and not case.technician:
        _, vehicles, capacity, rows = solomon_rows(path)
        budget = Budget(case.direct_seconds, clock=process_time if case.cpu else perf_counter)
        distance, used, feasible, _ = solve_plain_routing(rows, vehicles, capacity, instance.ticks, budget, case.seed)
        if feasible:
            row.direct, row.direct_vehicles = distance / instance.ticks, used
    return row


@dataclass(frozen=True, slots=True)
class ScaleCase:
    """An invented problem of one size."""

    visits: int
    crews: int
    days: int
    seed: int
    seconds: float
    cpu: bool = False
    processors: int = 2


def run_scale(case: ScaleCase) -> dict[str, Any]:
    """Plan an invented problem; when the first whole plan stood, what it costs, the process's peak memory."""
    problem = invented_problem(case.visits, case.crews, case.days, case.seed)
    make_ready()  # compiling is no part of planning
    clock = process_time if case.cpu else perf_counter
    start = clock()
    first: list[float] = []

    def listen(progress: Progress) -> None:
        if progress.cost is not None and not first:
            first.append(clock() - start)

    effort = Effort(case.seconds, seed=case.seed, cpu=case.cpu, processors=case.processors)
    plan = make_plan(problem, effort=effort, listener=listen)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1024 * 1024 if sys.platform == "darwin" else 1024)
    return {
        "visits": len(problem.visits),
        "crews": case.crews,
        "days": case.days,
        "seed": case.seed,
        "seconds": clock() - start,
        "cost": plan.totals.cost,
        "planned": plan.totals.planned,
        "left": plan.totals.unplanned,
        "drive_h": plan.totals.drive_s / 3600,
        "overtime_h": plan.totals.overtime_s / 3600,
        "feasible": plan.feasible,
        "violations": list(plan.violations),
        "rounds": plan.rounds,
        "first_plan_s": first[0] if first else clock() - start,
        "memory_mib": peak,
    }
