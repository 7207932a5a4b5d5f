"""Everything read once and handed to the planner."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from crews.gather_plan.kit import gather_kit, items_for
from crews.gather_plan.shifts import Team, active_crews, gather_team
from crews.gather_plan.sift import Held, Left, sift
from crews.gather_plan.snapshot import Snapshot, names_of, snapshot_of
from crews.gather_plan.span import Span, span_of
from crews.gather_plan.stock import PartsGone, parts_gone, visits_over
from crews.gather_plan.visits import lay_visits
from crews.gather_plan.windows import Starts, fixed_visits, starts_of
from crews.gather_plan.work import Work, gather_work, visits_ahead
from crews.models import Crew, Equipment, Visit, YardStock
from crews.planning.problem import Kit, Problem, Weights
from crews.planning.problem import Visit as PlannedVisit
from crews.selectors import company_today

NOBODY_HELD: Held = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Gathered:
    """The problem, its visits by id, and what stands behind its names. The visits of `left` that stand keep their
    hours: no shift of `team` covers them."""

    span: Span
    problem: Problem
    team: Team
    work: Mapping[str, Work]
    left: tuple[Left, ...]
    snapshot: Snapshot
    names: Mapping[str, str]

    visits: Mapping[str, PlannedVisit]

    def covered(self, visit: Visit) -> bool:
        """Whether a plan could send the visit's crew elsewhere in its hours."""
        start_s, end_s = self.span.seconds(visit.starts_at), self.span.seconds(visit.ends_at)
        return any(
            shift.crew_id == visit.crew.name and shift.start_s < end_s and start_s < shift.last_s
            for shift in self.team.shifts
        )


def gather(now: datetime, working_days: int, weights: Weights, held: Held = NOBODY_HELD) -> Gathered:
    """The facts in the database at this moment, seen from the instant `now`. `held` are visits (by primary key,
    with reason and words) for which an earlier search found no place: they keep their hours."""
    span = span_of(now, company_today(now), working_days)
    crews = list(active_crews())
    stock = list(YardStock.objects.select_related("part"))
    ahead = visits_ahead(now)
    work = gather_work(now, ahead, span.ends)
    items = items_for(work)
    starts = starts_of(work, span)
    team, kit, left, gone = _settle(crews, stock, items, ahead, work, held, starts, span)
    laid = lay_visits(work, left, team, kit, starts, span)
    problem = Problem(
        visits=tuple(laid.visits),
        crews=team.planned,
        shifts=team.shifts,
        yards=team.yards,
        kit=kit,
        links=tuple(laid.links),
        weights=weights,
        previous=MappingProxyType(laid.previous),
        parts_gone=gone,
    )
    return Gathered(
        span=span,
        problem=problem,
        team=team,
        work={one.key: one for one in work},
        left=tuple(left),
        snapshot=snapshot_of(crews, stock, kit, ahead, work),
        names=names_of(team, ahead, work, span),
        visits={visit.id: visit for visit in laid.visits},
    )


def _settle(
    crews: Sequence[Crew],
    stock: Sequence[YardStock],
    items: Sequence[Equipment],
    ahead: Sequence[Visit],
    work: Sequence[Work],
    held: Held,
    starts: Mapping[str, Starts],
    span: Span,
) -> tuple[Team, tuple[Kit, ...], list[Left], PartsGone]:
    """Shifts without the hours of the visits that stay, and trucks without their parts. A visit that stays may take
    away the shift on which another one stands, so it goes round until no more are found; each round finds at least
    one."""
    planned = {one.visit.pk for one in work if one.visit is not None}
    not_ours = [visit for visit in ahead if visit.pk not in planned]  # under way, or of a job that was closed
    kit: tuple[Kit, ...] | None = None
    keeping: dict[int, Visit] = {}
    while True:
        team = gather_team(crews, [*not_ours, *keeping.values()], stock, span)
        kit = gather_kit(items, crews, team.yards, span) if kit is None else kit
        fixed = fixed_visits(work, keeping.values(), span.now)
        left = sift(work, team, kit, held, fixed, starts, span)
        more = {v.pk: v for one in left if (v := one.work.visit) is not None and v.pk not in keeping}
        if not more:
            gone = parts_gone([*visits_over(span.now), *not_ours, *keeping.values()], span)
            return team, kit, left, gone
        keeping |= more
