"""Writes of plans: asked for, computed outside the request, accepted whole or visit by visit."""

from __future__ import annotations

import logging
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction

from crews.gather_plan import Gathered, changes_since, gather
from crews.models import OPEN_STATES, Person, Plan, PlanState, PlanStop, PlanWeights, StopKind
from crews.planning.budget import Progress
from crews.planning.errors import PlanningCancelled
from crews.planning.plan import Plan as Result
from crews.planning.planner import Effort, make_plan
from crews.planning.problem import Weights
from crews.services.guards import need_owner
from crews.services.plan_result import faults_of, store_result, tours_of_rows, travel_of, weights_used
from crews.services.visits import change_visit_note, is_double_booked, move_visit, schedule_visit
from locates.errors import FirstspadeError
from tickets.services.refusals import BadInput, Conflict, Faults, need_office

log = logging.getLogger(__name__)
WORKING_DAYS = (1, 2, 3, 5, 10)
SECONDS = (5, 10, 30, 60)
SILENT = timedelta(minutes=3)  # a worker that has told nothing for so long is taken to be gone
TELL_EVERY = timedelta(seconds=1)
LARGEST_WEIGHT = 10**12


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
        gathered, result = _solve(plan, tick)
    except PlanningCancelled:
        _end(plan_id, PlanState.CALLED_OFF)
    except FirstspadeError as refused:
        _end(plan_id, PlanState.FAILED, refused.message)
    except Exception:
        log.exception("plan %s could not be computed", plan_id)
        _end(plan_id, PlanState.FAILED, "The planner ended with a fault, which is in the log; nothing has changed.")
    else:
        _take_over(plan_id, gathered, result, tick())
    return True


def _end(plan_id: int, state: PlanState, failure: str = "") -> None:
    Plan.objects.filter(pk=plan_id).update(state=state, failure=failure[:400])


def _solve(plan: Plan, tick: Callable[[], datetime]) -> tuple[Gathered, Result]:
    gathered = gather(plan.asked_at, plan.working_days, Weights(**plan.weights))
    told = [plan.told_at]

    def listen(progress: Progress) -> None:
        now = tick()
        if told[0] is not None and now - told[0] < TELL_EVERY:
            return
        told[0] = now
        Plan.objects.filter(pk=plan.pk).update(
            told_at=now, phase=progress.phase[:80], best_cost=progress.cost, left_s=progress.left_s
        )

    def cancelled() -> bool:
        return Plan.objects.filter(pk=plan.pk, call_off=True).exists()

    travel = travel_of(gathered.problem)
    effort = Effort(seconds=plan.seconds, seed=plan.pk)
    return gathered, make_plan(gathered.problem, travel, effort, listener=listen, cancelled=cancelled)


@transaction.atomic
def _take_over(plan_id: int, gathered: Gathered, result: Result, now: datetime) -> None:
    plan = Plan.objects.select_for_update(of=("self",)).get(pk=plan_id)
    if plan.state != PlanState.COMPUTING:
        return  # given up in the meantime
    if result.violations:
        log.error("plan %s fails the independent check: %s", plan_id, "; ".join(result.violations[:5]))
        _end(plan_id, PlanState.FAILED, "The independent check found a fault in the plan, so it is not shown.")
        return
    plan.weights = weights_used(gathered.problem)
    store_result(plan, gathered, travel_of(gathered.problem), result, now)


@dataclass(frozen=True, slots=True)
class Accepted:
    """How many visits were accepted, and what stands in the way of each of the others."""

    done: int
    in_the_way: tuple[str, ...]


@transaction.atomic
def accept_plan(*, plan: Plan, actor: Person, now: datetime) -> Accepted:
    """Make the proposal the crews' days. Refused whole, with nothing saved, when a fact has changed since the
    plan was computed or the independent check fails. Two sorts of visit stay proposed: one that must wait for a
    renewal, and one in whose hours its crew still has a visit that the plan could not place."""
    need_office(actor)
    plan = locked_proposal(plan)
    gathered = regather(plan)
    refuse_changes(plan, gathered)
    refuse_faults(list(plan.stops.all()), gathered)
    pending = [s for s in _visit_stops(plan) if s.accepted_at is None and not s.needs_renewal]
    asked = len(pending)
    refusals: dict[int, Conflict] = {}
    while pending:
        refusals = {
            stop.pk: why for stop in pending if (why := _try(stop, pending, gathered, actor, now)) is not None
        }
        waiting = [stop for stop in pending if stop.pk in refusals]
        if len(waiting) == len(pending):
            pending = [] if _trade(pending, gathered, actor, now) else pending
            break
        pending = waiting
    if pending and len(pending) == asked:
        raise refusals[pending[0].pk]
    _close_if_done(plan)
    return Accepted(asked - len(pending), tuple(f"{s.key}: {refusals[s.pk].message}" for s in pending))


def _try(
    stop: PlanStop, pending: list[PlanStop], gathered: Gathered, actor: Person, now: datetime
) -> Conflict | None:
    """Why the visit must wait: the crew is still busy, perhaps with a visit that the same plan moves away, or
    the job's visit before it waits itself."""
    try:
        _refuse_order(stop, pending, gathered)
        _apply(stop, gathered, actor, now)
    except Conflict as refused:
        if refused.code not in {"crew_busy", "accept_in_order", "kit_unavailable"}:
            raise
        return refused
    return None


def _trade(stops: list[PlanStop], gathered: Gathered, actor: Person, now: datetime) -> bool:
    """Visits that each stand in the other's new hours, moved together; False, with nothing moved, when two of
    one crew would still overlap in the end."""
    trading = [stop.visit_id for stop in stops if stop.visit_id is not None]
    try:
        with transaction.atomic():
            for stop in sorted(stops, key=lambda s: s.visit_id is None):
                _apply(stop, gathered, actor, now, trading)
            if any(stop.visit is not None and is_double_booked(stop.visit) for stop in stops):
                raise Conflict("Two visits of one crew would overlap.", code="crew_busy")
    except Conflict:
        return False
    return True


def _refuse_order(stop: PlanStop, others: Iterable[PlanStop], gathered: Gathered) -> None:
    """Raises Conflict while a visit that must come before has no place on any crew's day."""
    by_key = {other.key: other for other in others}
    for link in gathered.problem.links:
        before = by_key.get(link.before_id)
        if link.after_id == stop.key and before is not None and before.visit is None:
            raise Conflict(f"{before.key} must come before it: accept that first.", code="accept_in_order")


@transaction.atomic
def accept_stop(*, stop: PlanStop, actor: Person, now: datetime) -> PlanStop:
    """Accept one visit of a proposal. Only what bears on its crew or its job may not have changed."""
    need_office(actor)
    plan = locked_proposal(stop.plan)
    stop = locked_stop(stop)
    gathered = regather(plan)
    refuse_changes(plan, gathered, stop)
    refuse_faults(list(plan.stops.all()), gathered)
    _refuse_order(stop, _visit_stops(plan), gathered)
    _apply(stop, gathered, actor, now)
    _close_if_done(plan)
    return stop


def _apply(stop: PlanStop, gathered: Gathered, actor: Person, now: datetime, trading: Collection[int] = ()) -> None:
    """Through the same writes as by hand, so that no unlawful dig can be stored."""
    work = gathered.work[stop.key]
    visit = stop.visit
    if visit is None:
        assert stop.job is not None
        visit = schedule_visit(
            job=stop.job,
            crew=stop.crew,
            kind=stop.kind,
            starts_at=stop.starts_at,
            ends_at=stop.ends_at,
            actor=actor,
            now=now,
            pinned=stop.pinned,
            kit=work.wanted.kit if work.wanted is not None else (),
        )
        if work.wanted is not None:
            work.wanted.visit = visit
            work.wanted.save(update_fields=["visit"])
    else:
        if visit.crew_id != stop.crew_id or visit.starts_at != stop.starts_at:
            at = stop.starts_at
            visit = move_visit(visit=visit, crew=stop.crew, starts_at=at, actor=actor, now=now, trading_with=trading)
        if visit.pinned != stop.pinned:
            visit = change_visit_note(visit=visit, pinned=stop.pinned, actor=actor)
    stop.visit, stop.accepted_at, stop.accepted_by = visit, now, actor
    stop.save(update_fields=["visit", "accepted_at", "accepted_by"])


def _close_if_done(plan: Plan) -> None:
    if not _visit_stops(plan).filter(accepted_at=None).exists():
        plan.state = PlanState.ACCEPTED
        plan.save(update_fields=["state"])


def _visit_stops(plan: Plan) -> Any:
    stops = PlanStop.objects.filter(plan=plan, stop=StopKind.VISIT)
    return stops.select_related("job", "crew", "visit").order_by("starts_at", "pk")


def locked_proposal(plan: Plan) -> Plan:
    """The plan held to the end of the transaction; refused unless it is a proposal."""
    plan = Plan.objects.select_for_update(of=("self",)).get(pk=plan.pk)
    if plan.state != PlanState.PROPOSED:
        raise Conflict(
            f"This plan is not a proposal ({plan.get_state_display().lower()}); compute a new one.",
            code="plan_not_proposed",
        )
    return plan


def locked_stop(stop: PlanStop) -> PlanStop:
    """A visit of a proposal that is not accepted yet."""
    stop = PlanStop.objects.select_related("job__site", "crew", "visit", "plan").get(pk=stop.pk)
    if stop.stop != StopKind.VISIT or stop.accepted_at is not None:
        raise Conflict("This visit was accepted already; change it on the chart of dig windows.", code="stop_done")
    return stop


def regather(plan: Plan) -> Gathered:
    """The facts as they are now, seen from the instant at which the plan was asked for."""
    return gather(plan.asked_at, plan.working_days, Weights(**plan.weights))


def refuse_changes(plan: Plan, gathered: Gathered, stop: PlanStop | None = None) -> None:
    """Raises Conflict with what has changed since the plan was computed."""
    own = plan.stops.exclude(accepted_at=None).values_list("visit_id", flat=True)
    said = changes_since(
        plan.facts,
        gathered.snapshot,
        gathered.names,
        own_visits=[pk for pk in own if pk is not None],
        crew_id=None if stop is None else stop.crew_id,
        job_id=None if stop is None else stop.job_id,
    )
    if said:
        more = f" And {len(said) - 4} more." if len(said) > 4 else ""
        words = f"Since this plan was computed: {' '.join(said[:4])}{more} Compute a new plan."
        raise Conflict(words, code="plan_out_of_date", fields={"plan": words})


def refuse_faults(stops: list[PlanStop], gathered: Gathered) -> None:
    """Raises Conflict when the independent checker finds anything against the stops."""
    travel = travel_of(gathered.problem)
    tours = tours_of_rows(stops, gathered, travel)
    faults = ["A shift of the plan is no more."] if tours is None else faults_of(tours, gathered, travel)
    if faults:
        words = " ".join(faults[:3])
        raise Conflict(f"The independent check does not pass: {words}", code="plan_unsound", fields={"plan": words})


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
