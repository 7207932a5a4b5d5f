"""Problem in, plan out: the engine, our own search, yard kit shared out, the independent check, the reasons. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from time import perf_counter, process_time

from .budget import Budget, Cancelled, Listener
from .check import violations_of
from .errors import PlanningCancelled
from .limits import Limits
from .model import REQUIRED_COST, Model
from .plan import Plan, PlannedTour, Totals, timed_tour, way_of
from .problem import Kit, Problem
from .reasons import unplanned_reasons
from .search.search import Found, Search
from .search.team import Team, processors
from .search.warm import is_kept, is_ready, make_ready
from .sharing import hold_shares, may_clash, settle_shares, share_out
from .solver import Engine
from .state import State, state_of
from .travel import Travel, great_circle_travel, places_of
from .validate import checked


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard to search: seconds on the stopwatch (with `cpu` of the processor, for benchmarks on a busy machine),
    and optionally a number of rounds, which makes a plan the same on every machine. At most `processors` search side
    by side; with rounds, or the processor's clock, one alone."""

    seconds: float = 10.0
    most_rounds: int | None = None
    seed: int = 0
    cpu: bool = False
    processors: int = 2


FEW, FEW_ROUNDS, FEW_S = 12, 30_000, 5.0  # a small problem is done long before its time is up
HOT, WARM = 1.0, 0.3  # first temperatures, in mean costs of a visit
# Beyond so many visits the engine alone can settle too early (a published instance of 200 customers stayed 1.1 %
# above what ten times the time found); our own search goes on from its plan.
ENGINE_ALONE, ENGINE_PART = 100, 2 / 3
MOST_SHARINGS, KEPT_TO_SHARE = 8, 0.25  # of the last third, where two tours wanted the same by then


def make_plan(
    problem: Problem,
    travel: Travel | None = None,
    effort: Effort | None = None,
    *,
    listener: Listener | None = None,
    cancelled: Cancelled | None = None,
) -> Plan:
    """The best plan found for a checked problem; raises `BadProblem`, or `PlanningCancelled` when called off.

    Every plan has been through the independent checker; what it found stands in `Plan.violations`.
    """
    effort = effort or Effort()
    checked(problem)
    travel = travel or great_circle_travel(places_of(problem))
    _get_ready(effort, listener, cancelled)
    budget = Budget(effort.seconds, listener, cancelled, process_time if effort.cpu else perf_counter)
    budget.tell(None, force=True)
    _refuse_called_off(budget)
    model, state, rounds = _search(Model(problem, travel), budget, effort)
    for turn in range(MOST_SHARINGS + 1):
        shares = share_out(model, state)
        _refuse_called_off(budget)
        if shares.fair:
            break
        budget.phase = "sharing out kit and parts"
        no_more = turn == MOST_SHARINGS - 1 or budget.left() <= 0
        limits = settle_shares(model, state) if no_more else hold_shares(model, state)
        model, state, extra = _repair(model, state, limits, budget, effort)
        rounds += extra
    return _finished(model, state, shares.taken, effort, budget, rounds)


def _get_ready(effort: Effort, listener: Listener | None, cancelled: Cancelled | None) -> None:
    """Have the compiled search at hand; what this takes is no part of the plan's time."""
    if is_ready():
        return
    waiting = Budget(effort.seconds, listener, cancelled, clock=lambda: 0.0)
    waiting.phase = "loading the search" if is_kept() else "compiling the search, once after an installation"
    waiting.tell(None, force=True)

    def called_off() -> bool:
        waiting.tell(None, force=True)
        return waiting.called_off

    make_ready(called_off)
    waiting.tell(None, force=True)
    _refuse_called_off(waiting)


def _refuse_called_off(budget: Budget) -> None:
    if budget.called_off:
        raise PlanningCancelled("The plan was called off before it was ready; nothing has changed.")


def _search(model: Model, budget: Budget, effort: Effort) -> tuple[Model, State, int]:
    """The engine where it knows all that the problem asks for, our own search for the rest."""
    if not model.visits or not model.shifts:
        left = list(range(len(model.visits)))
        return model, state_of(model, [() for _ in model.shifts], left, {}), 0
    if _needs_own_search(model):
        return _own_search(model, budget, effort)
    budget.phase = "planning tours"
    both = len(model.visits) > ENGINE_ALONE and effort.most_rounds is None
    part = budget.part(budget.left() * ENGINE_PART) if both else budget
    found = Engine(model).solve(part, effort.seed, most_rounds=effort.most_rounds)
    team = Team(model, effort.seed, _members(effort) if both else 1, found.sequences)
    budget.phase = "improving tours"
    if both:
        team.run(budget, HOT)
    elif team.found().left:
        team.run(Budget(FEW_S), WARM, FEW_ROUNDS)
    return model, _state(model, team.found()), found.rounds + team.rounds


def _members(effort: Effort) -> int:
    """How many searches may run side by side; one alone where the processor's clock or the rounds are counted."""
    alone = effort.cpu or effort.most_rounds is not None
    return 1 if alone else min(effort.processors, processors())


def _own_search(model: Model, budget: Budget, effort: Effort) -> tuple[Model, State, int]:
    """Our own search: side by side with different dice for two thirds of the time, then all on from the best."""
    budget.phase = "improving tours"
    members = _members(effort)
    team = Team(model, effort.seed, members)
    budget.tell(team.best.cost, force=True)
    most = effort.most_rounds
    if most is None and len(model.visits) <= FEW:
        most = FEW_ROUNDS
    team.run(budget.part(budget.left() * 0.66), HOT, None if most is None else most * 2 // 3)
    team.gather()
    rounds, rest = 0, budget
    if may_clash(model) and budget.left() > 0:
        state = _state(model, team.found())
        if not share_out(model, state).fair:
            again = Model(model.problem, model.travel, hold_shares(model, state), model)
            rounds, team = team.rounds, Team(again, effort.seed, members, _carried(model, state, again))
            model, rest = again, budget.part(budget.left() * (1 - KEPT_TO_SHARE))
    team.run(rest, WARM, None if most is None else most // 3)
    return model, _state(model, team.found()), rounds + team.rounds


def _state(model: Model, found: Found) -> State:
    return state_of(model, found.sequences, found.left, found.clips)


def _needs_own_search(model: Model) -> bool:
    """Whether the problem has what the engine cannot express, or expresses badly (calls at the yard)."""
    return bool(
        model.problem.links
        or model.problem.weights.unevenness
        or any(shift.breaks for shift in model.shifts)
        or (model.fetched & ~model.own).any()
        or (model.parts.any() and model.stocked.any())
    )


def _repair(old: Model, state: State, limits: Limits, budget: Budget, effort: Effort) -> tuple[Model, State, int]:
    """Go on within new limits: what they put out of its tour finds another place, or none."""
    model = Model(old.problem, old.travel, limits, old)
    search = Search(model, effort.seed + 1, _carried(old, state, model))
    most = min(effort.most_rounds or FEW_ROUNDS, FEW_ROUNDS)
    search.run(budget if effort.most_rounds else budget.part(budget.left() / 2), 0.1, most)
    return model, _state(model, search.found()), search.rounds


def _carried(old: Model, state: State, new: Model) -> list[tuple[int, ...]]:
    """The same sequences in the options of another model of the same problem."""
    sequences: list[tuple[int, ...]] = []
    for tour in state.tours:
        seq: list[int] = []
        for o in tour.seq:
            was = old.options[o]
            same = [
                k
                for k in new.options_of[was.visit]
                if new.options[k].cost == was.cost
                and new.options[k].earliest_s <= was.latest_s
                and new.options[k].latest_s >= was.earliest_s
            ]
            seq += same[:1]
        sequences.append(tuple(seq))
    return sequences


def _finished(
    model: Model, state: State, taken: Mapping[int, tuple[Kit, ...]], effort: Effort, budget: Budget, rounds: int
) -> Plan:
    tours: list[PlannedTour] = []
    for s, tour in enumerate(state.tours):
        way = way_of(model, tour)
        if way is not None:
            tours.append(timed_tour(model, s, way, taken.get(s, ())))
    unplanned = unplanned_reasons(model, state)
    complete = not any(int(model.penalty[v]) >= REQUIRED_COST for v in state.left)
    plan = Plan(
        tuple(tours),
        unplanned,
        _totals(tours, state),
        complete,
        seed=effort.seed,
        seconds=round(budget.used(), 3),
        rounds=rounds,
        notes=_notes(model, tours),
    )
    return Plan(
        plan.tours,
        plan.unplanned,
        plan.totals,
        plan.complete,
        violations=violations_of(model.problem, model.travel, plan),
        seed=plan.seed,
        seconds=plan.seconds,
        rounds=plan.rounds,
        notes=plan.notes,
    )


def _totals(tours: list[PlannedTour], state: State) -> Totals:
    stops = [stop for tour in tours for stop in tour.stops if stop.visit_id is not None]
    return Totals(
        cost=state.cost,
        planned=len(stops),
        unplanned=len(state.left),
        drive_s=sum(t.drive_s for t in tours),
        drive_m=sum(t.drive_m for t in tours),
        duration_s=sum(t.duration_s for t in tours),
        overtime_s=sum(t.overtime_s for t in tours),
        shifts_used=len(tours),
        missed_promises=sum(not stop.in_promised_window for stop in stops),
        renewals=sum(stop.needs_renewal for stop in stops),
    )


def _notes(model: Model, tours: list[PlannedTour]) -> tuple[str, ...]:
    """Where travel times come from, and which visits stand on answers that have not come yet."""
    planned = {visit_id for tour in tours for visit_id in tour.visit_ids}
    assumed = sorted(visit.id for visit in model.visits if visit.assumes_answers and visit.id in planned)
    notes = [f"Travel: {model.travel.note}."]
    if assumed:
        notes.append(f"Planned on the assumption that every operator answers in time: {', '.join(assumed)}.")
    return tuple(notes)
