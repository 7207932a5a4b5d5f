"""Writes of plans: asked for, computed outside the request, accepted whole or visit by visit."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass, fields
from datetime import datetime, timedelta

from django.db import transaction

from crews.gather_plan import Gathered, Held, gather
from crews.models import OPEN_STATES, Person, Plan, PlanState, PlanWeights
from crews.planning.budget import Progress
from crews.planning.errors import PlanningCancelled
from crews.planning.plan import Plan as Result
from crews.planning.planner import Effort, make_plan
from crews.planning.problem import Priority, Weights
from crews.planning.travel import Travel, places_of
from crews.services.guards import need_owner
from crews.services.plan_guards import locked_proposal
from crews.services.plan_result import store_result, weights_used
from crews.services.plan_travel import ask_travel, packed, travel_on
from locates.errors import FirstspadeError
from tickets.services.refusals import BadInput, Conflict, Faults, need_office

log = logging.getLogger(__name__)
WORKING_DAYS = (1, 2, 3, 5, 10)
SECONDS = (5, 10, 30, 60)
SILENT = timedelta(minutes=3)  # a worker that has told nothing for so long is taken to be gone
TELL_EVERY = timedelta(seconds=1)
LARGEST_WEIGHT = 10**12
MOST_SEARCHES = 3


@transaction.atomic
def ask_plan(*, actor: Person, now: datetime, working_days: int = 5, seconds: int = 10) -> Plan:
    """Ask for a plan; the worker takes it up. One at a time: a second asking would plan the same visits."""
    need_office(actor)
    faults = Faults()
    if working_days not in WORKING_DAYS:
        faults.add("working_days", f"{working_days} is not offered; use one of {_listed(WORKING_DAYS)}.")
    if seconds not in SECONDS:
        faults.add("seconds", f"{seconds} is not offered; use one of {_listed(SECONDS)}.")
    faults.refuse()
    _give_up_silent(now)
    if Plan.objects.select_for_update().filter(state__in=OPEN_STATES).exists():
        raise Conflict("A plan is being computed already; wait for it or call it off.", code="plan_under_way")
    weights = weights_used_now()
    stored = {field.name: getattr(weights, field.name) for field in fields(weights)}
    return Plan.objects.create(
        asked_by=actor, asked_at=now, working_days=working_days, seconds=seconds, weights=stored
    )


def _listed(numbers: tuple[int, ...]) -> str:
    return ", ".join(str(number) for number in numbers)


def _give_up_silent(now: datetime) -> None:
    """A plan whose worker has died is not waited for."""
    silent = Plan.objects.filter(state=PlanState.COMPUTING, told_at__lt=now - SILENT)
    silent.update(state=PlanState.FAILED, failure="The worker fell silent; ask again.")


@transaction.atomic
def call_off_plan(*, plan: Plan, actor: Person) -> Plan:
    """Stop the computing; nothing has changed on any crew's day."""
    need_office(actor)
    plan = Plan.objects.select_for_update(of=("self",)).get(pk=plan.pk)
    if plan.state == PlanState.WAITING:
        plan.state = PlanState.CALLED_OFF
    elif plan.state == PlanState.COMPUTING:
        plan.call_off = True
    else:
        raise Conflict("This plan is not being computed any more.", code="plan_not_under_way")
    plan.save(update_fields=["state", "call_off"])
    return plan


@transaction.atomic
def set_aside_plan(*, plan: Plan, actor: Person) -> Plan:
    """The proposal is not wanted; what was accepted of it stays."""
    need_office(actor)
    plan = locked_proposal(plan)
    plan.state = PlanState.SET_ASIDE
    plan.save(update_fields=["state"])
    return plan


def plans_waiting(now: datetime) -> list[int]:
    """Which plans the worker should take up; those of a silent worker are given up first."""
    _give_up_silent(now)
    return list(Plan.objects.filter(state=PlanState.WAITING).order_by("asked_at").values_list("pk", flat=True))


def compute_plan(*, plan_id: int, tick: Callable[[], datetime]) -> bool:
    """Compute one plan; False when another worker has it. A fault is told on the plan, and nothing else is
    touched: the result is a proposal."""
    began = tick()
    claimed = Plan.objects.filter(pk=plan_id, state=PlanState.WAITING).update(
        state=PlanState.COMPUTING, claimed_at=began, told_at=began, phase="reading the facts"
    )
    if claimed != 1:
        return False
    plan = Plan.objects.get(pk=plan_id)
    try:
        solved = _solve(plan, tick)
    except PlanningCancelled:
        _end(plan_id, PlanState.CALLED_OFF)
    except FirstspadeError as refused:
        _end(plan_id, PlanState.FAILED, refused.message)
    except Exception:
        log.exception("plan %s could not be computed", plan_id)
        _end(plan_id, PlanState.FAILED, "The planner ended with a fault, which is in the log; nothing has changed.")
    else:
        _take_over(plan_id, solved, tick())
    return True


def _end(plan_id: int, state: PlanState, failure: str = "") -> None:
    Plan.objects.filter(pk=plan_id).update(state=state, failure=failure[:400])


@dataclass(frozen=True, slots=True)
class Solved:
    """What the search rests on and what came of it; `held` are visits that keep their hours because it found no
    place for them."""

    gathered: Gathered
    travel: Travel
    result: Result
    held: Held


def _solve(plan: Plan, tick: Callable[[], datetime]) -> Solved:
    """A visit that stands and finds no place stays where it stands, so the search is made again round its hours:
    what is proposed never collides with it."""
    weights = Weights(**plan.weights)
    gathered = gather(plan.asked_at, plan.working_days, weights)
    travel = ask_travel(gathered.problem)
    best = Solved(gathered, travel, _search(plan, gathered, travel, plan.seconds, tick), {})
    held: dict[str, tuple[str, str]] = {}
    for _ in range(MOST_SEARCHES - 1):
        homeless = _homeless(best)
        if not homeless:
            break
        held |= homeless
        gathered = gather(plan.asked_at, plan.working_days, weights, held)
        known = travel_on(places_of(gathered.problem), travel)
        result = _search(plan, gathered, known, plan.seconds / 2, tick, "round the visits that stay: ")
        tried = Solved(gathered, known, result, dict(held))
        if _emergencies(tried) < _emergencies(best):
            break  # an emergency comes first: a person must move or cancel what stands in its hours
        best = tried
    return best


def _homeless(solved: Solved) -> dict[str, tuple[str, str]]:
    """Visits that stand, found no place, and whose crews the plan could send elsewhere in their hours."""
    found = {}
    for gone in solved.result.unplanned:
        visit = solved.gathered.work[gone.visit_id].visit
        if visit is not None and solved.gathered.covered(visit):
            found[str(visit.pk)] = (gone.reason, gone.words)
    return found


def _emergencies(solved: Solved) -> int:
    urgent = {v.id for v in solved.gathered.problem.visits if v.priority is Priority.EMERGENCY}
    return len(urgent & {key for tour in solved.result.tours for key in tour.visit_ids})


def _search(
    plan: Plan, gathered: Gathered, travel: Travel, seconds: float, tick: Callable[[], datetime], which: str = ""
) -> Result:
    told = [plan.told_at]

    def listen(progress: Progress) -> None:
        now = tick()
        if told[0] is not None and now - told[0] < TELL_EVERY:
            return
        told[0] = now
        Plan.objects.filter(pk=plan.pk).update(
            told_at=now, phase=f"{which}{progress.phase}"[:80], best_cost=progress.cost, left_s=progress.left_s
        )

    def cancelled() -> bool:
        return Plan.objects.filter(pk=plan.pk, call_off=True).exists()

    effort = Effort(seconds=seconds, seed=plan.pk)
    return make_plan(gathered.problem, travel, effort, listener=listen, cancelled=cancelled)


@transaction.atomic
def _take_over(plan_id: int, solved: Solved, now: datetime) -> None:
    plan = Plan.objects.select_for_update(of=("self",)).get(pk=plan_id)
    if plan.state != PlanState.COMPUTING:
        return  # given up in the meantime
    violations = solved.result.violations
    if violations:
        log.error("plan %s fails the independent check: %s", plan_id, "; ".join(violations[:5]))
        _end(plan_id, PlanState.FAILED, "The independent check found a fault in the plan, so it is not shown.")
        return
    plan.weights = weights_used(solved.gathered.problem)
    plan.held = {pk: list(why) for pk, why in solved.held.items()}
    plan.travel = packed(solved.travel)
    store_result(plan, solved.gathered, solved.travel, solved.result, now)


def weights_used_now() -> Weights:
    """The owner's weights, the default where none was set."""
    row = PlanWeights.objects.order_by("pk").first()
    known = {field.name for field in fields(Weights)}
    return Weights(**{k: v for k, v in (row.values if row else {}).items() if k in known})


@transaction.atomic
def set_weights(*, actor: Person, now: datetime, **values: int) -> PlanWeights:
    """The owner's weights for the plans to come; a plan keeps those that it was computed with."""
    need_owner(actor)
    known = {field.name for field in fields(Weights)}
    faults = Faults()
    for name, value in values.items():
        if name not in known:
            raise BadInput(f"{name!r} is not a weight.", fields={name: "unknown"})
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= LARGEST_WEIGHT:
            faults.add(name, f"Give a whole number from 0 to {LARGEST_WEIGHT}.")
    faults.refuse()
    row = PlanWeights.objects.select_for_update().order_by("pk").first() or PlanWeights()
    row.values, row.set_by, row.set_at = {**row.values, **values}, actor, now
    row.save()
    return row
