"""What every change to a proposal sees to first: it is still one, its facts still hold, the checker agrees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from crews.gather_plan import Gathered, changes_since, gather
from crews.models import Plan, PlanState, PlanStop, StopKind
from crews.planning.problem import Weights
from crews.services.plan_result import faults_of, tours_of_rows
from crews.services.plan_travel import travel_of
from tickets.services.refusals import Conflict


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
    return gather(plan.asked_at, plan.working_days, Weights(**plan.weights), plan.held)


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


def refuse_faults(plan: Plan, stops: Sequence[PlanStop], gathered: Gathered) -> None:
    """Raises Conflict when the independent checker finds anything against the stops."""
    _refuse(_faults(plan, stops, gathered))


def refuse_faults_of_one(plan: Plan, stop: PlanStop, gathered: Gathered) -> None:
    """Raises Conflict when the independent checker finds anything against the days that bear on the visit, or against
    the days accepted so far once the visit joins them. A fault on other days is no reason to refuse it."""
    stops = list(plan.stops.select_related("visit"))
    bearing = {row.shift for row in stops if row.shift == stop.shift or row.job_id == stop.job_id}
    faults = _faults(plan, [row for row in stops if row.shift in bearing], gathered)
    settled = [row for row in stops if row.stop == StopKind.VISIT and row.pk != stop.pk and _stands_so(row)]
    if not faults and settled:
        # a forerunner that is not accepted yet is refused by itself, with better words
        free = replace(gathered, problem=replace(gathered.problem, links=()))
        before = set(_faults(plan, _with_their_calls(settled, stops), free))
        after = _faults(plan, _with_their_calls([*settled, stop], stops), free)
        faults = [words for words in after if words not in before]
    _refuse(faults)


def _stands_so(row: PlanStop) -> bool:
    """Whether a crew's day has the visit as the proposal does: accepted, or not moved by it."""
    visit = row.visit
    unmoved = visit is not None and (visit.crew_id, visit.starts_at) == (row.crew_id, row.starts_at)
    return row.accepted_at is not None or unmoved


def _with_their_calls(visits: Sequence[PlanStop], stops: Sequence[PlanStop]) -> list[PlanStop]:
    """The visits with the calls at the yard and the breaks of their tours."""
    shifts = {row.shift for row in visits}
    return [*visits, *(row for row in stops if row.stop != StopKind.VISIT and row.shift in shifts)]


def _faults(plan: Plan, stops: Sequence[PlanStop], gathered: Gathered) -> list[str]:
    travel = travel_of(plan, gathered.problem)
    tours = tours_of_rows(stops, gathered, travel)
    return ["A shift of the plan is no more."] if tours is None else faults_of(tours, gathered, travel)


def _refuse(faults: Sequence[str]) -> None:
    if faults:
        words = " ".join(faults[:3])
        raise Conflict(f"The independent check does not pass: {words}", code="plan_unsound", fields={"plan": words})
