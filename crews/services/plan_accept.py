"""A proposal becomes the crews' days: whole, or visit by visit, through the same writes as by hand."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from crews.gather_plan import Gathered
from crews.models import Person, Plan, PlanState, PlanStop, StopKind
from crews.services.plan_guards import (
    locked_proposal,
    locked_stop,
    refuse_changes,
    refuse_faults,
    refuse_faults_of_one,
    regather,
)
from crews.services.visits import change_visit_note, is_double_booked, move_visit, schedule_visit
from tickets.services.refusals import Conflict, need_office

# What the order of acceptance can mend: a crew still busy with a visit that moves away, a visit before its
# forerunner, an item that another visit of the plan gives up.
_MAY_PASS = frozenset({"crew_busy", "accept_in_order", "kit_unavailable"})


@dataclass(frozen=True, slots=True)
class Accepted:
    """How many visits were accepted, and which stay proposed until a ticket is renewed."""

    done: int
    waiting: tuple[str, ...]


@transaction.atomic
def accept_plan(*, plan: Plan, actor: Person, now: datetime) -> Accepted:
    """Make the whole proposal the crews' days, or nothing of it.

    Refused with nothing saved: a fact has changed since the plan was computed, the independent check fails, or a
    visit cannot be placed (the refusal names it and what stands in the way). A visit that needs a renewal, and
    one that must come after such a visit, are no part of the whole: they stay proposed until it is entered.
    """
    need_office(actor)
    plan = locked_proposal(plan)
    gathered = regather(plan)
    refuse_changes(plan, gathered)
    refuse_faults(plan, list(plan.stops.all()), gathered)
    stops = [stop for stop in _visit_stops(plan) if stop.accepted_at is None]
    waiting = _waiting_for_renewal(stops, gathered)
    ready = [stop for stop in stops if stop.key not in waiting]
    if not ready:
        why = "Every visit left waits for a renewal: enter it, then" if waiting else "This plan moves no visit:"
        raise Conflict(f"{why} compute a new plan.", code="plan_waits")
    _accept_all(ready, gathered, actor, now)
    _close_if_done(plan)
    return Accepted(len(ready), tuple(sorted(waiting)))


def ready_stops(stops: Sequence[PlanStop]) -> list[PlanStop]:
    """Those that accepting the whole may take, as far as the rows themselves say."""
    return [stop for stop in stops if stop.accepted_at is None and not stop.needs_renewal]


def _waiting_for_renewal(stops: Sequence[PlanStop], gathered: Gathered) -> set[str]:
    waiting = {stop.key for stop in stops if stop.needs_renewal}
    after: dict[str, list[str]] = {}
    for link in gathered.problem.links:
        after.setdefault(link.before_id, []).append(link.after_id)
    found = list(waiting)
    while found:
        more = [key for key in after.get(found.pop(), ()) if key not in waiting]
        waiting.update(more)
        found += more
    return waiting & {stop.key for stop in stops}


def _accept_all(ready: Sequence[PlanStop], gathered: Gathered, actor: Person, now: datetime) -> None:
    """In whatever order lets each pass; visits that stand in each other's new hours are moved together."""
    pending = list(ready)
    while pending:
        refusals: dict[int, Conflict] = {}
        for stop in pending:
            if (why := _try(stop, pending, gathered, actor, now)) is not None:
                refusals[stop.pk] = why
        again = [stop for stop in pending if stop.pk in refusals]
        if len(again) == len(pending):
            if _trade(pending, gathered, actor, now):
                return
            said = " ".join(f"{stop.key}: {refusals[stop.pk].message}" for stop in pending[:3])
            raise Conflict(
                f"Nothing was accepted. {said}", code="plan_in_the_way", fields={"plan": "a visit cannot be placed"}
            )
        pending = again


def _try(
    stop: PlanStop, pending: list[PlanStop], gathered: Gathered, actor: Person, now: datetime
) -> Conflict | None:
    """Why the visit must wait for another one of the plan."""
    try:
        _refuse_order(stop, pending, gathered)
        _apply(stop, gathered, actor, now)
    except Conflict as refused:
        if refused.code not in _MAY_PASS:
            raise Conflict(
                f"Nothing was accepted. {stop.key}: {refused.message}", code=refused.code, fields=refused.fields
            ) from refused
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
    """Accept one visit of a proposal. Only what bears on its crew or its job may not have changed; refused when the
    days accepted so far, with this visit, would not pass the independent check."""
    need_office(actor)
    plan = locked_proposal(stop.plan)
    stop = locked_stop(stop)
    gathered = regather(plan)
    refuse_changes(plan, gathered, stop)
    refuse_faults_of_one(plan, stop, gathered)
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
            surface_only=work.surface_only,
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
