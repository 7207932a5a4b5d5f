"""Everything read once and handed to the planner."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from crews.gather_plan.kit import gather_kit, items_for
from crews.gather_plan.shifts import Team, gather_team
from crews.gather_plan.snapshot import Snapshot, names_of, snapshot_of
from crews.gather_plan.span import Span, span_of
from crews.gather_plan.visits import Left, lay_visits
from crews.gather_plan.work import Work, gather_work, visits_ahead
from crews.models import Crew
from crews.planning.problem import Problem, Weights
from crews.selectors import company_today


@dataclass(frozen=True, slots=True)
class Gathered:
    """The problem and what stands behind its names."""

    span: Span
    problem: Problem
    team: Team
    work: Mapping[str, Work]
    left: tuple[Left, ...]
    notes: tuple[str, ...]
    snapshot: Snapshot
    names: Mapping[str, str]


def gather(now: datetime, working_days: int, weights: Weights) -> Gathered:
    """The facts in the database at this moment, seen from the instant `now`."""
    span = span_of(now, company_today(now), working_days)
    crews = list(Crew.objects.filter(active=True).prefetch_related("shifts", "days_off").order_by("pk"))
    ahead = visits_ahead(now)
    work = gather_work(now, ahead, span.ends)
    team = gather_team(crews, [v for v in ahead if v.starts_at < now], span)
    kit = gather_kit(items_for(work), crews, team.yards, span)
    laid = lay_visits(work, team, kit, span)
    problem = Problem(
        visits=tuple(laid.visits),
        crews=team.planned,
        shifts=team.shifts,
        yards=team.yards,
        kit=kit,
        links=tuple(laid.links),
        weights=weights,
        previous=MappingProxyType(laid.previous),
    )
    return Gathered(
        span=span,
        problem=problem,
        team=team,
        work={one.key: one for one in work},
        left=tuple(laid.left),
        notes=tuple(laid.notes),
        snapshot=snapshot_of(crews, kit, ahead, work),
        names=names_of(team, ahead, work, span),
    )
