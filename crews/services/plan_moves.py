"""Why a plan moves a visit that stood: what forbids its old hours, else what takes them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from crews.gather_plan import Gathered, Work
from crews.gather_plan.needs import skills_of
from crews.gather_plan.shifts import site_place
from crews.models import PlanStop, StopKind, Visit
from crews.planning.kit import choose_items, kit_at_shift
from crews.planning.travel import Travel
from crews.words import span_words, zone_of
from tickets.verdict import dig_windows, first_lawful_start
from tickets.verdict.emergency import open_emergency
from tickets.verdict.words import instant_words


def tell_moves(gathered: Gathered, travel: Travel, stops: Sequence[PlanStop]) -> None:
    """Sets `moved` on every stop whose visit stood elsewhere: from where, and why."""
    visits = [stop for stop in stops if stop.stop == StopKind.VISIT]
    for stop in visits:
        visit = gathered.work[stop.key].visit
        if visit is None or (visit.crew_id == stop.crew_id and visit.starts_at == stop.starts_at):
            continue
        was = f"{visit.crew.name}, {span_words(visit.starts_at, visit.ends_at, visit.job.site.time_zone)}"
        why = _forbids(gathered, travel, gathered.work[stop.key], visit) or _takes(gathered, visit, stop, visits)
        stop.moved = f"Moved from {was}: {why}"[:300]


def _forbids(gathered: Gathered, travel: Travel, work: Work, visit: Visit) -> str:
    """Why it cannot stay; empty when it could."""
    crew = gathered.team.crews.get(visit.crew.name)
    if crew is None:
        return f"{visit.crew.name} is not active any more."
    day = visit.starts_at.astimezone(zone_of(crew.time_zone)).date()
    off = next((off for off in crew.days_off.all() if off.on == day), None)
    if off is not None:
        return f"{crew.name} has that day off{f' ({off.reason})' if off.reason else ''}."
    if work.key not in gathered.problem.previous:
        return f"{crew.name} has no shift then."
    if work.breaks_ground and open_emergency(work.facts, gathered.span.now) is None:
        unlawful = _unlawful(gathered, work, visit)
        if unlawful:
            return unlawful
    asked = frozenset(skill for one in gathered.team.planned for skill in one.skills)
    lacking = skills_of(work, asked) - frozenset(crew.skills)
    if lacking:
        return f"{crew.name} lacks {', '.join(sorted(lacking))}."
    return _no_kit(gathered, work, crew.name) or _too_early(gathered, travel, work, visit)


def _too_early(gathered: Gathered, travel: Travel, work: Work, visit: Visit) -> str:
    was = gathered.problem.previous[work.key]
    shift = next(shift for shift in gathered.problem.shifts if shift.id == was.shift_id)
    drive_s = travel.seconds(shift.start_place, site_place(visit))
    if shift.start_s + drive_s <= was.start_s:
        return ""
    leaves = instant_words(gathered.span.instant(shift.start_s), visit.crew.time_zone)
    return f"{visit.crew.name} sets out {leaves} and needs {round(drive_s / 60)} min to drive there."


def _unlawful(gathered: Gathered, work: Work, visit: Visit) -> str:
    windows = dig_windows(work.facts, gathered.span.now)
    if any(window.holds(visit.starts_at, visit.ends_at) for window in windows):
        return ""
    first = first_lawful_start(windows, gathered.span.now, visit.ends_at - visit.starts_at)
    since = (
        ""
        if first is None
        else f" As it stands now the first lawful start is {instant_words(first, work.facts.time_zone)}."
    )
    return f"the dig is not lawful there any more.{since}"


def _no_kit(gathered: Gathered, work: Work, crew_name: str) -> str:
    needs = gathered.visits[work.key].kit if work.key in gathered.visits else ()
    was = gathered.problem.previous[work.key]
    shift = next(shift for shift in gathered.problem.shifts if shift.id == was.shift_id)
    here = kit_at_shift(gathered.problem, shift)
    if not needs or choose_items(needs, (*here.truck, *here.yard)) is not None:
        return ""
    kinds = ", ".join(need.kind.replace("_", " ") for need in needs)
    return f"what it needs ({kinds}) may not go out with {crew_name} that day."


def _takes(gathered: Gathered, visit: Visit, moved: PlanStop, stops: Iterable[PlanStop]) -> str:
    """The visits that now stand in its old hours, an emergency first."""
    there = [
        stop
        for stop in stops
        if stop.crew_id == visit.crew_id
        and stop.key != moved.key
        and stop.starts_at < visit.ends_at
        and visit.starts_at < stop.ends_at
    ]
    urgent = [s for s in there if open_emergency(gathered.work[s.key].facts, gathered.span.now) is not None]
    if urgent:
        return f"it makes room for the emergency, {urgent[0].key}."
    if there:
        return f"it makes room for {' and '.join(stop.key for stop in there[:2])}."
    if visit.crew_id == moved.crew_id and _same_day(visit, moved):
        return "the day around it has changed, and so its hour."
    beside = sorted(
        (stop for stop in stops if stop.shift == moved.shift and stop.key != moved.key),
        key=lambda stop: abs(stop.starts_at - moved.starts_at),
    )
    return f"it saves driving, beside {beside[0].key} that day." if beside else "it saves driving."


def _same_day(visit: Visit, moved: PlanStop) -> bool:
    zone = zone_of(moved.crew.time_zone)
    return visit.starts_at.astimezone(zone).date() == moved.starts_at.astimezone(zone).date()
