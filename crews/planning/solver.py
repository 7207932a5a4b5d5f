"""The routing engine (PyVRP) on our model: a strong plan for everything it can express. Pure; no clock of day.

The only importer of pyvrp. What the engine cannot express is left to `improve.py`: breaks (time is kept free for
them here), order between visits, gaps, unevenness. Kit is expressed exactly: a visit that may need a call at the
yard becomes two clients of a group, one served with what is on the truck (parts are load), one that only fits
after a reload, because until the first reload the truck is filled in a dimension of its own.
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
from .model import FAR_S, REQUIRED_COST, IntArray, Model

_FULL = 1_000_000
# A prize must outweigh any detour, but a sum of prizes must stay far from the limits of 64-bit integers.
_REQUIRED_PRIZE = 0


@dataclass(slots=True)
class EngineResult:
    """Option sequences by shift, whether the engine calls its solution feasible, and its rounds."""

    sequences: list[list[int]]
    feasible: bool
    cost: int
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

    def __init__(self, model: Model, latest: IntArray | None = None, earliest: IntArray | None = None) -> None:
        self._model = model
        self._earliest = model.opt_earliest if earliest is None else earliest
        self._latest = model.opt_latest if latest is None else latest
        self._loaded_at_start = [self._starts_loaded(s) for s in range(len(model.shifts))]
        self._clients: list[tuple[int, bool]] = []
        self._bases = sorted(
            {*model.start_loc, *model.end_loc, *(model.travel.index[y.place] for y in model.yard if y)}
        )
        self._build_clients()
        self._build_matrices()
        self.data = self._build_data()

    def _starts_loaded(self, s: int) -> bool:
        yard = self._model.yard[s]
        return yard is not None and yard.call_s == 0 and yard.place == self._model.shifts[s].start_place

    def _build_clients(self) -> None:
        """Each option once with the truck's kit, and once after a yard call where kit may force one."""
        model = self._model
        self._calls = bool(
            any(y is not None and not loaded for y, loaded in zip(model.yard, self._loaded_at_start, strict=True))
            and (((~model.own) & model.skilled & model.fetched).any() or (model.parts.any() and model.stocked.any()))
        )
        for o, option in enumerate(model.options):
            if self._latest[o] < self._earliest[o]:
                continue
            self._clients.append((o, False))
            v = option.visit
            gains = (model.fetched[:, v] & ~model.own[:, v]).any() or (
                model.parts[v].any() and model.fetched[:, v].any()
            )
            if self._calls and gains:
                self._clients.append((o, True))

    def _mask(self, s: int) -> np.ndarray:
        """Which clients shift `s` may serve."""
        model = self._model
        own = model.own[s] | (model.fetched[s] & self._loaded_at_start[s])
        visits = np.array([model.options[o].visit for o, _ in self._clients], dtype=np.int64)
        fetched = np.array([after for _, after in self._clients], dtype=bool)
        return model.skilled[s][visits] & np.where(fetched, model.fetched[s][visits], own[visits])

    def _build_matrices(self) -> None:
        """One pair of matrices a kind of shift; where all shifts are alike the travel matrix itself serves."""
        model = self._model
        masks = [self._mask(s) for s in range(len(model.shifts))]
        weights = model.problem.weights
        visits = np.array([model.options[o].visit for o, _ in self._clients], dtype=np.int64)
        plain = all(mask.all() for mask in masks) and not model.problem.previous
        if plain:
            self._location = [int(model.loc[v]) for v in visits]
            self._base_location = {b: b for b in self._bases}
            self.profile_of = [0] * len(masks)
            self.times = [model.time]
            self.costs = [model.time * weights.drive if weights.drive != 1 else model.time]
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
                slow, cost = time.copy(), time * weights.drive
                slow[:, len(self._bases) :][:, ~mask] = never
                cost[:, len(self._bases) :] += moved
                np.fill_diagonal(slow, 0)
                np.fill_diagonal(cost, 0)
                self.times.append(slow)
                self.costs.append(cost)
            self.profile_of.append(known[key])

    def _build_data(self) -> pyvrp.ProblemData:
        model = self._model
        members: dict[int, list[int]] = defaultdict(list)
        for c, (o, _) in enumerate(self._clients):
            members[model.options[o].visit].append(c)
        group_of = {v: g for g, v in enumerate(v for v, rows in members.items() if len(rows) > 1)}
        clients = [
            self._client(o, after, group_of.get(model.options[o].visit), self._location[c])
            for c, (o, after) in enumerate(self._clients)
        ]
        groups = [pyvrp.ClientGroup(members[v], required=model.penalty[v] >= REQUIRED_COST) for v in group_of]
        depots = [pyvrp.Depot(self._base_location[b]) for b in self._bases]
        self._depot = {b: k for k, b in enumerate(self._bases)}
        for yard in {y.id: y for y in model.yard if y is not None and y.call_s}.values():
            self._depot[yard.id] = len(depots)  # type: ignore[index]
            depots.append(
                pyvrp.Depot(self._base_location[model.travel.index[yard.place]], service_duration=yard.call_s)
            )
        self._group_shifts()
        types = [self._vehicle(shifts) for shifts in self._alike]
        costs: Any = self.costs
        times: Any = self.times
        at = [pyvrp.Location(0, 0) for _ in range(self._location_count)]
        return pyvrp.ProblemData(at, clients, depots, types, costs, times, groups)

    def _client(self, o: int, after_call: bool, group: int | None, location: int) -> pyvrp.Client:
        model = self._model
        option = model.options[o]
        v = option.visit
        required = bool(model.penalty[v] >= REQUIRED_COST)
        load = (
            []
            if not self._dimensions
            else [*([0] * len(model.part_kinds) if after_call else model.parts[v].tolist())]
        )
        if self._calls:
            load.append(int(after_call))
        return pyvrp.Client(
            location,
            pickup=load,
            service_duration=int(model.duration[v]),
            tw_early=max(0, int(self._earliest[o])),
            tw_late=max(0, int(self._latest[o])),
            prize=_REQUIRED_PRIZE if required else int(model.penalty[v]) - option.cost,
            required=required and group is None,
            group=group,
        )

    @property
    def _dimensions(self) -> int:
        return len(self._model.part_kinds) + int(self._calls)

    def _group_shifts(self) -> None:
        """Shifts that differ in nothing the engine sees become one vehicle type."""
        model = self._model
        alike: dict[tuple[object, ...], list[int]] = defaultdict(list)
        for s, shift in enumerate(model.shifts):
            rest = sum(b.duration_s for b in shift.breaks)
            yard = model.yard[s].id if model.yard[s] is not None else None  # type: ignore[union-attr]
            alike[
                (
                    model.start_loc[s],
                    model.end_loc[s],
                    shift.start_s,
                    shift.end_s,
                    shift.overtime_max_s,
                    rest,
                    shift.free_start,
                    shift.fixed_cost,
                    self.profile_of[s],
                    model.stock[s].tobytes(),
                    yard if self._calls else None,
                    self._loaded_at_start[s],
                )
            ].append(s)
        self._alike = list(alike.values())

    def _vehicle(self, shifts: list[int]) -> pyvrp.VehicleType:
        model, weights = self._model, self._model.problem.weights
        s = shifts[0]
        shift, yard = model.shifts[s], model.yard[s]
        capacity = np.where(model.stocked[s] & self._loaded_at_start[s], _FULL, model.stock[s]).tolist()
        more: dict[str, Any] = {}
        if self._calls:
            capacity.append(_FULL)
            more["initial_load"] = [0] * len(model.part_kinds) + [0 if self._loaded_at_start[s] else _FULL]
            if yard is not None and not self._loaded_at_start[s]:
                at = self._depot[yard.id if yard.call_s else model.travel.index[yard.place]]  # type: ignore[index]
                more.update(reload_depots=[at], max_reloads=1)
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
            capacity,
            self._depot[model.start_loc[s]],
            self._depot[model.end_loc[s]],
            fixed_cost=shift.fixed_cost,
            tw_early=shift.start_s,
            tw_late=shift.last_s,
            unit_distance_cost=1,
            unit_duration_cost=weights.duration,
            profile=self.profile_of[s],
            **more,
        )

    def solve(
        self, budget: Budget, seed: int, start: Sequence[Sequence[int]] | None = None, most_rounds: int | None = None
    ) -> EngineResult:
        """Search until the budget ends (or after `most_rounds`), from `start` (options by shift) when given."""
        stop: Any = _Stop(budget)
        if most_rounds is not None:
            stop = pyvrp.stop.MultipleCriteria([stop, pyvrp.stop.MaxIterations(most_rounds)])
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", PenaltyBoundWarning)
            result = pyvrp.solve(
                self.data, stop, seed=seed, collect_stats=False, display=False, initial_solution=self._initial(start)
            )
        sequences = self._sequences(result.best)
        return EngineResult(
            sequences,
            result.best.is_feasible(),
            int(result.cost()) if result.is_feasible() else FAR_S,
            result.num_iterations,
        )

    def _sequences(self, solution: pyvrp.Solution) -> list[list[int]]:
        out: list[list[int]] = [[] for _ in self._model.shifts]
        free = [list(shifts) for shifts in self._alike]
        for route in solution.routes():
            s = free[route.vehicle_type()].pop(0)
            out[s] = [self._clients[stop.idx][0] for stop in route if stop.is_client()]
        return out

    def _initial(self, start: Sequence[Sequence[int]] | None) -> pyvrp.Solution | None:
        """The warm start; none where yard calls are possible, since the engine names its reloads in its routes."""
        if start is None or self._calls:
            return None
        client = {o: c for c, (o, _) in enumerate(self._clients)}
        kind = {s: t for t, shifts in enumerate(self._alike) for s in shifts}
        routes = [
            pyvrp.Route(self.data, [client[o] for o in seq if o in client], kind[s])
            for s, seq in enumerate(start)
            if any(o in client for o in seq)
        ]
        return pyvrp.Solution(self.data, routes)


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
