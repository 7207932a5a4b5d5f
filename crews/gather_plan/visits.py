"""Work as the planner's visits: lawful windows, promises, skills, kit, order; and what cannot be planned at all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise

from crews.gather_plan.kit import kinds_needed, needs_of
from crews.gather_plan.shifts import Team
from crews.gather_plan.span import Span
from crews.gather_plan.work import RANK, Work
from crews.models import VisitKind
from crews.planning.problem import (
    Kit,
    KitNeed,
    OrderLink,
    Pin,
    Place,
    Planned,
    Priority,
    Visit,
    Window,
)
from crews.planning.problem import VisitKind as PlannedKind
from tickets.verdict import Verdict, dig_windows, verdict
from tickets.verdict.emergency import open_emergency
from tickets.verdict.words import instant_words

SOON_S = 12 * 3600  # an emergency is wanted within half a day; common practice, no source
NEVER = (Window(-2, -1),)  # lies before every shift; an empty tuple would mean: at any time
_KINDS = {
    VisitKind.WHITE_LINE: PlannedKind.WHITE_LINE,
    VisitKind.PRIVATE_LOCATE: PlannedKind.LOCATE,
    VisitKind.CAMERA: PlannedKind.CAMERA,
    VisitKind.DIG: PlannedKind.DIG,
    VisitKind.RESTORE: PlannedKind.RESTORATION,
    VisitKind.RE_MARK_CHECK: PlannedKind.REMARK_CHECK,
}
# A crew must say that it can do these; the others are asked for only where some crew names them.
ALWAYS_A_SKILL = frozenset({VisitKind.DIG, VisitKind.PRIVATE_LOCATE, VisitKind.CAMERA})


@dataclass(frozen=True, slots=True)
class Left:
    """Work that no plan can hold, with the reason in words."""

    work: Work
    reason: str
    words: str


@dataclass(slots=True)
class Laid:
    """What becomes of the work."""

    visits: list[Visit] = field(default_factory=list)
    links: list[OrderLink] = field(default_factory=list)
    previous: dict[str, Planned] = field(default_factory=dict)
    left: list[Left] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def lay_visits(work: Sequence[Work], team: Team, kit: Sequence[Kit], span: Span) -> Laid:
    """The planner's visits. Never a dig without a lawful window: such work is left, with its reason."""
    laid = Laid()
    asked = frozenset(skill for crew in team.planned for skill in crew.skills)
    kept: list[Work] = []
    for one in work:
        why = _why_left(one, laid.left, team, span, laid.notes)
        if why is None:
            laid.visits.append(_visit(one, team, kit, asked, span))
            kept.append(one)
        elif why[0]:
            laid.left.append(Left(one, *why))
    for one in kept:
        if one.visit is not None and (at := _stands_on(one, team, span)) is not None:
            laid.previous[one.key] = at
    laid.links.extend(_links(kept))
    return laid


def _why_left(one: Work, left: Sequence[Left], team: Team, span: Span, notes: list[str]) -> tuple[str, str] | None:
    """Why the work is not handed to the planner; ('', '') when its visit simply stays as it stands."""
    if one.visit is not None and _stands_on(one, team, span) is None and one.pinned:
        notes.append(f"{one.key} is pinned outside its crew's shifts and stays as it is.")
        return ("", "")
    rank = RANK.get(one.kind)
    before = [w.work for w in left if w.work.job.pk == one.job.pk and RANK.get(w.work.kind, 9) < (rank or 0)]
    if before:
        return "earlier_left_out", f"{before[0].key}, which must come before it, cannot be planned."
    if one.kind == VisitKind.DIG and open_emergency(one.facts, span.now) is None:
        lawful, renewed, _ = dig_starts(one, span)
        if not lawful and not renewed:
            return "no_window", _no_window_words(one, span)
    return None


def _no_window_words(one: Work, span: Span) -> str:
    found = verdict(one.facts, span.now)
    windows = dig_windows(one.facts, span.now)
    if windows:
        opens = instant_words(windows[0].opens_at, one.facts.time_zone)
        return (
            f"Its window (from {opens}) leaves no room for {one.minutes} minutes in the days planned: renew, "
            "give a new notice, or plan less."
        )
    return " ".join([found.sentence, *found.would_change[:1]])


def dig_starts(one: Work, span: Span) -> tuple[tuple[Window, ...], tuple[Window, ...], int | None]:
    """Lawful starts, starts that a renewal would make lawful, and the end of the last ticket, in seconds."""
    length_s, end_s = one.minutes * 60, span.seconds(span.ends)
    windows = dig_windows(one.facts, span.now)
    lawful = []
    for window in windows:
        closes_s = end_s if window.closes_at is None else min(end_s, span.seconds(window.closes_at))
        start = Window.finishing_by(max(0, span.seconds(window.opens_at)), closes_s, length_s)
        if start.latest_s >= start.earliest_s:
            lawful.append(start)
    closes = windows[-1].closes_at if windows else None
    renewed: list[Window] = []
    by = _renewable_by(verdict(one.facts, span.now), span.now)
    if closes is not None and by is not None and (closes_s := span.seconds(closes)) < end_s:
        renewed.append(Window(max(0, closes_s), end_s))
    return tuple(lawful), tuple(renewed), None if closes is None else span.seconds(closes)


def _renewable_by(found: Verdict, now: datetime) -> datetime | None:
    return found.renew_by if found.renew_by is not None and found.renew_by > now else None


def _stands_on(one: Work, team: Team, span: Span) -> Planned | None:
    visit = one.visit
    assert visit is not None
    start_s = span.seconds(visit.starts_at)
    shift = team.shift_at(visit.crew, start_s, span.seconds(visit.ends_at))
    return None if shift is None else Planned(shift.id, start_s)


def _visit(one: Work, team: Team, kit: Sequence[Kit], asked: frozenset[str], span: Span) -> Visit:
    emergency = open_emergency(one.facts, span.now) is not None
    lawful: tuple[Window, ...] = ()
    renewed: tuple[Window, ...] = ()
    expires_s = None
    if one.kind == VisitKind.DIG and not emergency:
        lawful, renewed, expires_s = dig_starts(one, span)
        lawful = lawful or NEVER
    stands = _stands_on(one, team, span) if one.visit is not None else None
    wanted = one.wanted
    return Visit(
        id=one.key,
        kind=_KINDS[VisitKind(one.kind)],
        duration_s=one.minutes * 60,
        place=Place.geographic(one.job.site.latitude, one.job.site.longitude),
        lawful=lawful,
        promised=_promised(one, span),
        renewed=renewed,
        expires_s=expires_s,
        priority=Priority.EMERGENCY if emergency else Priority(wanted.priority if wanted else "normal"),
        skills=_skills(one, asked),
        kit=_kit(one, kit),
        pin=Pin(stands.shift_id, stands.start_s) if stands is not None and one.pinned else None,
    )


def _promised(one: Work, span: Span) -> tuple[Window, ...]:
    wanted = one.wanted
    if wanted is None or wanted.promised_from is None or wanted.promised_until is None:
        return (Window(0, SOON_S),) if open_emergency(one.facts, span.now) is not None else ()
    return (Window(span.seconds(wanted.promised_from), span.seconds(wanted.promised_until)),)


def _skills(one: Work, asked: frozenset[str]) -> frozenset[str]:
    own = {one.kind} if one.kind in ALWAYS_A_SKILL or one.kind in asked else set()
    return frozenset(own | set(one.wanted.skills if one.wanted else ()))


def _kit(one: Work, kit: Sequence[Kit]) -> tuple[KitNeed, ...]:
    return needs_of(kinds_needed(one), one.wanted.frequency_hz if one.wanted else None, kit)


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
