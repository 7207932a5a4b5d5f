"""Work as the planner's visits: lawful windows, promises, skills, kit, order."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from types import MappingProxyType

from crews.gather_plan.needs import kit_of, parts_of, skills_of
from crews.gather_plan.shifts import Team
from crews.gather_plan.sift import Left, stands_on
from crews.gather_plan.span import Span
from crews.gather_plan.windows import NEVER, Starts, fixed_visits, starts_left, within
from crews.gather_plan.work import RANK, Work
from crews.models import VisitKind
from crews.planning.problem import Kit, OrderLink, Pin, Place, Planned, Priority, Shift, Visit, Window
from crews.planning.problem import VisitKind as PlannedKind
from tickets.verdict.emergency import open_emergency

HOUR_S = 3600
DAYS_BY_THE_HOUR = 2  # working days on which an hour's wait counts; later ones count as a whole
_KINDS = {
    VisitKind.WHITE_LINE: PlannedKind.WHITE_LINE,
    VisitKind.PRIVATE_LOCATE: PlannedKind.LOCATE,
    VisitKind.CAMERA: PlannedKind.CAMERA,
    VisitKind.DIG: PlannedKind.DIG,
    VisitKind.RESTORE: PlannedKind.RESTORATION,
    VisitKind.RE_MARK_CHECK: PlannedKind.REMARK_CHECK,
}


@dataclass(slots=True)
class Laid:
    """What becomes of the work."""

    visits: list[Visit] = field(default_factory=list)
    links: list[OrderLink] = field(default_factory=list)
    previous: dict[str, Planned] = field(default_factory=dict)


def lay_visits(
    work: Sequence[Work],
    left: Sequence[Left],
    team: Team,
    kit: Sequence[Kit],
    starts: Mapping[str, Starts],
    span: Span,
) -> Laid:
    """The planner's visits of the work that is not left; `starts` from `starts_of`. Never a dig without a lawful
    window."""
    laid = Laid()
    sooner = sooner_marks(team)
    asked = frozenset(skill for crew in team.planned for skill in crew.skills)
    out = {one.work.key for one in left}
    fixed = fixed_visits(work, [one.work.visit for one in left if one.work.visit is not None], span.now)
    kept = [one for one in work if one.key not in out]
    for one in kept:
        bound = starts_left(one, fixed[one.job.pk], span)
        laid.visits.append(_visit(one, bound, starts.get(one.key), team, kit, asked, span, sooner))
        if one.visit is not None and (at := stands_on(one, team, span)) is not None:
            laid.previous[one.key] = at
    laid.links.extend(_links(kept))
    return laid


def _visit(
    one: Work,
    bound: Window | None,
    starts: Starts | None,
    team: Team,
    kit: Sequence[Kit],
    asked: frozenset[str],
    span: Span,
    sooner: tuple[int, ...],
) -> Visit:
    emergency = open_emergency(one.facts, span.now) is not None
    lawful: tuple[Window, ...] = () if bound is None else (bound,)
    renewed: tuple[Window, ...] = ()
    expires_s = None
    if starts is not None:
        lawful, renewed, expires_s = starts
        lawful, renewed = within(lawful, bound) or NEVER, within(renewed, bound)
    stands = stands_on(one, team, span) if one.visit is not None else None
    wanted = one.wanted
    return Visit(
        id=one.key,
        kind=_KINDS[VisitKind(one.kind)],
        duration_s=one.minutes * 60,
        place=Place.geographic(one.job.site.latitude, one.job.site.longitude),
        lawful=lawful,
        promised=_promised(one, span),
        sooner_s=sooner if emergency else (),
        renewed=renewed,
        expires_s=expires_s,
        priority=Priority.EMERGENCY if emergency else Priority(wanted.priority if wanted else "normal"),
        skills=skills_of(one, asked),
        kit=kit_of(one, kit),
        parts=MappingProxyType(parts_of(one)),
        pin=Pin(stands.shift_id, stands.start_s) if stands is not None and one.pinned else None,
    )


def _promised(one: Work, span: Span) -> tuple[Window, ...]:
    wanted = one.wanted
    if wanted is None or wanted.promised_from is None or wanted.promised_until is None:
        return ()
    windows = [(wanted.promised_from, wanted.promised_until)]
    windows += [(more.opens_at, more.closes_at) for more in wanted.more_promises.all()]
    return tuple(Window(span.seconds(start), span.seconds(end)) for start, end in sorted(windows))


def sooner_marks(team: Team) -> tuple[int, ...]:
    """Instants after which an emergency has waited once more: each hour of the first days that crews work, and the
    morning of every later one."""
    by_day: dict[int, list[Shift]] = {}
    for shift in team.shifts:
        by_day.setdefault(shift.day, []).append(shift)
    marks: set[int] = set()
    for number, day in enumerate(sorted(by_day)):
        first, last = min(s.start_s for s in by_day[day]), max(s.last_s for s in by_day[day])
        marks |= set(range(first + HOUR_S, last, HOUR_S)) if number < DAYS_BY_THE_HOUR else {first}
    return tuple(sorted(marks))


def _links(kept: Sequence[Work]) -> Iterable[OrderLink]:
    """Each visit of a job after all those of the rank before it."""
    by_job: dict[int, list[Work]] = {}
    for one in kept:
        if one.kind in RANK:
            by_job.setdefault(one.job.pk, []).append(one)
    for works in by_job.values():
        ranks = sorted({RANK[w.kind] for w in works})
        for low, high in pairwise(ranks):
            for before in (w for w in works if RANK[w.kind] == low):
                for after in (w for w in works if RANK[w.kind] == high):
                    yield _link(before, after)


def _link(before: Work, after: Work) -> OrderLink:
    wanted = after.wanted
    most = wanted.gap_most_hours if wanted else None
    return OrderLink(
        before.key,
        after.key,
        gap_min_s=wanted.gap_least_hours * 3600 if wanted else 0,
        gap_max_s=None if most is None else most * 3600,
    )
