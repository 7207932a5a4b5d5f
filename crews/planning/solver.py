"""The routing engine (PyVRP) on our model: a strong plan for everything it can express. Pure; no clock of day.

The only importer of pyvrp. What the engine cannot express is left to our own `search`: calls at the yard, breaks
(time is kept free for them here), order between visits, gaps, unevenness. Skills and kit are profiles of forbidden
legs, parts are load, several windows are clients of a group of which one is served, visits that may be left out
carry their penalty as a prize.
"""

from __future__ import annotations

import warnings
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyvrp
from pyvrp.exceptions import PenaltyBoundWarning

from .budget import Budget
from .model import REQUIRED_COST, Model


@dataclass(slots=True)
class EngineResult:
    """Option sequences by shift, whether the engine calls its solution feasible, and its rounds."""

    sequences: list[list[int]]
    feasible: bool
    rounds: int


class _Stop:
    """Stops on the budget; tells progress; asked once a round."""

    def __init__(self, budget: Budget) -> None:
        self._budget = budget
        self._asked = 0

    def __call__(self, best_cost: float) -> bool:
        self._asked += 1
        if self._asked % 32 == 0:
            self._budget.tell(int(best_cost) if best_cost < 1e18 else None)
        return self._budget.left() <= 0


class Engine:
    """The model in the engine's terms: locations, clients, groups, vehicle types grouped by likeness."""

    def __init__(self, model: Model) -> None:
        self._model = model
        self._bases = sorted({*model.start_loc, *model.end_loc})
        self._visit = model.opt_visit
        self._build_matrices()
        self._group_shifts()
        self.data = self._build_data()

    def _build_matrices(self) -> None:
        """One pair of matrices a kind of shift; where all shifts are alike the travel matrix itself serves."""
        model, visits = self._model, self._visit
        masks = [(model.own[s] & model.allowed[s])[visits] for s in range(len(model.shifts))]
        drive = model.problem.weights.drive
        if all(mask.all() for mask in masks) and not model.problem.previous:
            self._location = [int(model.loc[v]) for v in visits]
            self._base_location = {b: b for b in self._bases}
            self.profile_of = [0] * len(masks)
            self.times = [model.time]
            self.costs = [model.time * drive if drive != 1 else model.time]
            self._location_count = len(model.time)
            return
        places = np.array([*self._bases, *(int(model.loc[v]) for v in visits)], dtype=np.int64)
        self._location = list(range(len(self._bases), len(places)))
        self._base_location = {b: k for k, b in enumerate(self._bases)}
        self._location_count = len(places)
        time = model.time[np.ix_(places, places)]
        never = int(model.horizon.latest_s - model.horizon.earliest_s) * 2 + 1
        self.times, self.costs, self.profile_of = [], [], []
        known: dict[bytes, int] = {}
        for s, mask in enumerate(masks):
            moved = model.moved[s][visits] if model.problem.previous else np.zeros(len(visits), dtype=np.int64)
            key = mask.tobytes() + moved.tobytes()
            if key not in known:
                known[key] = len(self.times)
                slow, cost = time.copy(), time * drive
                slow[:, len(self._bases) :][:, ~mask] = never
                cost[:, len(self._bases) :] += moved
                np.fill_diagonal(slow, 0)
                np.fill_diagonal(cost, 0)
                self.times.append(slow)
                self.costs.append(cost)
            self.profile_of.append(known[key])

    def _group_shifts(self) -> None:
        """Shifts that differ in nothing the engine sees become one vehicle type."""
        model = self._model
        alike: dict[tuple[object, ...], list[int]] = defaultdict(list)
        for s, shift in enumerate(model.shifts):
            ends = (model.start_loc[s], model.end_loc[s], shift.start_s, shift.end_s, shift.overtime_max_s)
            rest = sum(b.duration_s for b in shift.breaks)
            kind = (rest, shift.free_start, shift.fixed_cost, self.profile_of[s], model.stock[s].tobytes())
            alike[ends + kind].append(s)
        self._alike = list(alike.values())

    def _build_data(self) -> pyvrp.ProblemData:
        model = self._model
        group_of = {v: g for g, v in enumerate(v for v, rows in enumerate(model.options_of) if len(rows) > 1)}
        clients = [self._client(o, group_of.get(int(v))) for o, v in enumerate(self._visit)]
        groups = [
            pyvrp.ClientGroup(model.options_of[v], required=bool(model.penalty[v] >= REQUIRED_COST)) for v in group_of
        ]
        depots = [pyvrp.Depot(self._base_location[b]) for b in self._bases]
        types = [self._vehicle(shifts) for shifts in self._alike]
        costs: Any = self.costs
        times: Any = self.times
        at = [pyvrp.Location(0, 0) for _ in range(self._location_count)]
        return pyvrp.ProblemData(at, clients, depots, types, costs, times, groups)

    def _client(self, o: int, group: int | None) -> pyvrp.Client:
        model = self._model
        option = model.options[o]
        v = option.visit
        required = bool(model.penalty[v] >= REQUIRED_COST)
        return pyvrp.Client(
            self._location[o],
            pickup=model.parts[v].tolist(),
            service_duration=int(model.duration[v]),
            tw_early=max(0, option.earliest_s),
            tw_late=max(0, option.latest_s),
            prize=0 if required else max(0, int(model.penalty[v]) - option.cost),
            required=required and group is None,
            group=group,
        )

    def _vehicle(self, shifts: list[int]) -> pyvrp.VehicleType:
        model, weights = self._model, self._model.problem.weights
        s = shifts[0]
        shift = model.shifts[s]
        more: dict[str, Any] = {}
        rest = sum(b.duration_s for b in shift.breaks)
        if rest or shift.overtime_max_s:
            more.update(
                shift_duration=max(0, shift.end_s - shift.start_s - rest),
                max_overtime=shift.overtime_max_s,
                unit_overtime_cost=weights.overtime,
            )
        if not shift.free_start:
            more["start_late"] = shift.start_s
        return pyvrp.VehicleType(
            len(shifts),
            model.stock[s].tolist(),
            self._bases.index(model.start_loc[s]),
            self._bases.index(model.end_loc[s]),
            fixed_cost=shift.fixed_cost,
            tw_early=shift.start_s,
            tw_late=shift.last_s,
            unit_distance_cost=1,
            unit_duration_cost=weights.duration,
            profile=self.profile_of[s],
            **more,
        )

    def solve(self, budget: Budget, seed: int, most_rounds: int | None = None) -> EngineResult:
        """Search until the budget ends (or after `most_rounds`)."""
        stop: Any = _Stop(budget)
        if most_rounds is not None:
            stop = pyvrp.stop.MultipleCriteria([stop, pyvrp.stop.MaxIterations(most_rounds)])
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", PenaltyBoundWarning)
            result = pyvrp.solve(self.data, stop, seed=seed, collect_stats=False, display=False)
        return EngineResult(self._sequences(result.best), result.best.is_feasible(), result.num_iterations)

    def _sequences(self, solution: pyvrp.Solution) -> list[list[int]]:
        out: list[list[int]] = [[] for _ in self._model.shifts]
        free = [list(shifts) for shifts in self._alike]
        for route in solution.routes():
            s = free[route.vehicle_type()].pop(0)
            out[s] = [stop.idx for stop in route if stop.is_client()]
        return out


def solve_plain_routing(
    rows: Sequence[Sequence[float]], vehicles: int, capacity: int, ticks: int, budget: Budget, seed: int
) -> tuple[int, int, bool, int]:
    """The engine called directly, without our model, on rows of a Solomon file (number, x, y, demand, ready time,
    due date, service time; the depot first): distance in ticks, vehicles, feasible, rounds. For the benchmark."""
    table = np.array(rows, dtype=float)
    xy = table[:, 1:3]
    length = np.sqrt(((xy[:, None] - xy[None]) ** 2).sum(-1)) * ticks
    matrix = np.floor(length + 1e-9).astype(np.int64)
    clients = [
        pyvrp.Client(
            k,
            delivery=[int(row[3])],
            service_duration=round(row[6] * ticks),
            tw_early=round(row[4] * ticks),
            tw_late=round(row[5] * ticks),
        )
        for k, row in enumerate(rows)
        if k
    ]
    fleet = pyvrp.VehicleType(
        vehicles, [capacity], tw_early=round(rows[0][4] * ticks), tw_late=round(rows[0][5] * ticks)
    )
    data = pyvrp.ProblemData(
        [pyvrp.Location(*pair) for pair in xy], clients, [pyvrp.Depot(0)], [fleet], [matrix], [matrix]
    )
    result = pyvrp.solve(data, _Stop(budget), seed=seed, collect_stats=False, display=False)
    return int(result.best.distance()), result.best.num_routes(), result.best.is_feasible(), result.num_iterations
