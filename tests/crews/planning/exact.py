"""An exact reference for small problems: the plan as a constraint programme, solved to proven optimality.

Solver: OR-Tools CP-SAT (L. Perron, F. Didier, "CP-SAT", Google), a general-purpose solver that shares nothing with
the planner. It covers skills, kit on the truck or fetched at the yard, parts, several windows, promised windows,
order and gaps, overtime, visits left out. Shifts count their time from their start, and have no breaks here.
"""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from crews.planning.problem import Priority, Problem, Shift, Visit, Window
from crews.planning.travel import Travel


@dataclass(slots=True)
class _Build:
    problem: Problem
    travel: Travel
    model: cp_model.CpModel
    start: dict[str, cp_model.IntVar]
    on: dict[tuple[str, str], cp_model.IntVar]
    cost: list[cp_model.LinearExprT]


def exact_cost(problem: Problem, travel: Travel, seconds: float = 30.0) -> int:
    """The least cost of any plan, in the problem's weights; raises AssertionError when not proven in time."""
    build = _Build(problem, travel, cp_model.CpModel(), {}, {}, [])
    end = max(shift.last_s for shift in problem.shifts)
    for visit in problem.visits:
        build.start[visit.id] = build.model.new_int_var(0, end, visit.id)
        for shift in problem.shifts:
            build.on[visit.id, shift.id] = build.model.new_bool_var(f"{visit.id} on {shift.id}")
    for visit in problem.visits:
        _visit(build, visit, end)
    for shift in problem.shifts:
        _shift(build, shift)
    for link in problem.links:
        _link(build, link.before_id, link.after_id, link.gap_min_s, link.gap_max_s)
    build.model.minimize(sum(build.cost))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 1
    status = solver.solve(build.model)
    assert status == cp_model.OPTIMAL, "the reference was not proven optimal in time"
    return round(solver.objective_value)


def _penalty(problem: Problem, visit: Visit, end: int) -> int:
    weights = problem.weights
    if visit.priority is Priority.EMERGENCY:
        return weights.unplanned_emergency
    if visit.expires_s is not None and visit.expires_s <= end:
        return weights.unplanned_expiring
    return {
        Priority.HIGH: weights.unplanned_high,
        Priority.NORMAL: weights.unplanned_normal,
        Priority.LOW: weights.unplanned_low,
    }[visit.priority]


def _visit(build: _Build, visit: Visit, end: int) -> None:
    model, start = build.model, build.start[visit.id]
    planned = [build.on[visit.id, shift.id] for shift in build.problem.shifts]
    model.add_at_most_one(planned)
    out = model.new_bool_var("left out")
    model.add(sum(planned) + out == 1)
    build.cost.append(out * _penalty(build.problem, visit, end))
    lawful = visit.lawful or (Window(0, end),)
    inside = _in_one(build, start, lawful)
    model.add_bool_or([inside, out])
    if visit.expires_s is not None:
        model.add(start + visit.duration_s <= visit.expires_s).only_enforce_if(~out)
    if visit.promised:
        kept = _in_one(build, start, visit.promised)
        missed = model.new_bool_var("promise missed")
        model.add_bool_or([kept, missed, out])
        build.cost.append(missed * build.problem.weights.missed_promise)
    for mark in visit.sooner_s:
        late = model.new_bool_var("later than wished")
        model.add(start <= mark).only_enforce_if([~late, ~out])
        build.cost.append(late * build.problem.weights.missed_promise)


def _in_one(build: _Build, start: cp_model.IntVar, windows: tuple[Window, ...]) -> cp_model.IntVar:
    """A literal that implies the start to lie in one of the windows."""
    inside = build.model.new_bool_var("inside")
    each = []
    for window in windows:
        here = build.model.new_bool_var("here")
        build.model.add(start >= window.earliest_s).only_enforce_if(here)
        build.model.add(start <= window.latest_s).only_enforce_if(here)
        each.append(here)
    build.model.add_bool_or([*each, ~inside])
    return inside


def _shift(build: _Build, shift: Shift) -> None:
    """One tour: a circuit through start and end (node 0), the visits on the shift, and perhaps the yard."""
    problem, travel, model = build.problem, build.travel, build.model
    crew = next(c for c in problem.crews if c.id == shift.crew_id)
    yard = next(y for y in problem.yards if y.id == crew.yard_id)
    call = model.new_bool_var("call")
    call_at = model.new_int_var(0, shift.last_s, "call at")
    back = model.new_int_var(shift.start_s, shift.last_s, "back")
    nodes = [
        *((v.place, v.duration_s, build.start[v.id], build.on[v.id, shift.id]) for v in problem.visits),
        (yard.place, yard.call_s, call_at, call),
    ]
    unused = model.new_bool_var("unused")
    arcs: list[tuple[int, int, cp_model.IntVar]] = [(0, 0, unused)]
    model.add(call == 0).only_enforce_if(unused)
    for i, (place, length, start, on) in enumerate(nodes, 1):
        arcs.append((i, i, ~on))
        first, last = model.new_bool_var("first"), model.new_bool_var("last")
        leg, home = travel.seconds(shift.start_place, place), travel.seconds(place, shift.end_place)
        model.add(start >= shift.start_s + leg).only_enforce_if(first)
        model.add(back >= start + length + home).only_enforce_if(last)
        build.cost += [first * leg * problem.weights.drive, last * home * problem.weights.drive]
        arcs += [(0, i, first), (i, 0, last)]
        for j, (place_j, _, start_j, _) in enumerate(nodes, 1):
            if i != j:
                arc = model.new_bool_var("arc")
                drive = travel.seconds(place, place_j)
                model.add(start_j >= start + length + drive).only_enforce_if(arc)
                build.cost.append(arc * drive * problem.weights.drive)
                arcs.append((i, j, arc))
    model.add_circuit(arcs)
    over = model.new_int_var(0, shift.overtime_max_s, "overtime")
    model.add(over >= back - shift.end_s)
    build.cost.append(over * problem.weights.overtime)
    _kit(build, shift, call, call_at, yard.call_s)


def _kit(build: _Build, shift: Shift, call: cp_model.IntVar, call_at: cp_model.IntVar, call_s: int) -> None:
    """Needs of one item each: on the truck, or at the yard and the visit after the call; parts before the call."""
    problem, model = build.problem, build.model
    crew = next(c for c in problem.crews if c.id == shift.crew_id)
    yard = next(y for y in problem.yards if y.id == crew.yard_id)
    truck = {item.kind for item in problem.kit if item.crew_id == crew.id}
    store = {item.kind for item in problem.kit if item.yard_id == yard.id}
    before: dict[str, list[cp_model.LinearExprT]] = {}
    for visit in problem.visits:
        on = build.on[visit.id, shift.id]
        needs = {need.kind for need in visit.kit}
        if not visit.skills <= crew.skills or not needs <= truck | store:
            model.add(on == 0)
            continue
        after = model.new_bool_var("after the call")
        model.add_implication(after, call)
        model.add(build.start[visit.id] >= call_at + call_s).only_enforce_if([after, on])
        if not needs <= truck:
            model.add_implication(on, after)
        for kind, count in visit.parts.items():
            early = model.new_bool_var("early")
            if kind in yard.part_kinds:
                model.add_bool_or([~on, after, early])
            else:
                model.add_implication(on, early)
            before.setdefault(kind, []).append(early * count)
    for kind, used in before.items():
        model.add(sum(used) <= crew.parts.get(kind, 0))


def _link(build: _Build, before: str, after: str, gap_min: int, gap_max: int | None) -> None:
    model, shifts = build.model, build.problem.shifts
    length = next(v.duration_s for v in build.problem.visits if v.id == before)
    for shift in shifts:
        on = build.on[after, shift.id]
        model.add(sum(build.on[before, other.id] for other in shifts) >= 1).only_enforce_if(on)
        model.add(build.start[after] >= build.start[before] + length + gap_min).only_enforce_if(on)
        if gap_max is not None:
            model.add(build.start[after] <= build.start[before] + length + gap_max).only_enforce_if(on)
