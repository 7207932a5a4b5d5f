"""When a visit may begin: the lawful windows of its dig, and what the job's other visits leave."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from crews.gather_plan.span import Span
from crews.gather_plan.work import RANK, Work
from crews.models import Visit
from crews.planning.problem import Window
from tickets.verdict import dig_windows, verdict
from tickets.verdict.emergency import open_emergency
from tickets.verdict.words import instant_words

NEVER = (Window(-2, -1),)  # lies before every shift; an empty tuple would mean: at any time


def no_window_words(one: Work, span: Span) -> str:
    """Why its dig can be planned on none of the days."""
    found = verdict(one.facts, span.now)
    windows = dig_windows(one.facts, span.now)
    zone = one.facts.time_zone
    if not windows:
        return " ".join([found.sentence, *found.would_change[:1]])
    opens, closes = windows[0].opens_at, windows[-1].closes_at
    if opens >= span.ends:
        return f"Its window opens {instant_words(opens, zone)}, after the days planned."
    until = "" if closes is None else f" to {instant_words(closes, zone)}"
    return (
        f"Its window ({instant_words(opens, zone)}{until}) leaves no room for {one.minutes} minutes in the days "
        "planned, and it is too late to renew: give a new notice, or plan less."
    )


Starts = tuple[tuple[Window, ...], tuple[Window, ...], int | None]


def starts_of(work: Iterable[Work], span: Span) -> dict[str, Starts]:
    """`dig_starts` by key of all the work that is held to a window; an open emergency is not."""
    held = (one for one in work if one.breaks_ground and open_emergency(one.facts, span.now) is None)
    return {one.key: dig_starts(one, span) for one in held}


def dig_starts(one: Work, span: Span) -> Starts:
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
    if closes is not None and span.seconds(closes) < end_s and _may_be_renewed(one, span):
        renewed.append(Window(max(0, span.seconds(closes)), end_s))
    return tuple(lawful), tuple(renewed), None if closes is None else span.seconds(closes)


def _may_be_renewed(one: Work, span: Span) -> bool:
    """Asked last: a verdict is as dear as all the windows, and most tickets outlast the days planned."""
    by = verdict(one.facts, span.now).renew_by
    return by is not None and by > span.now


def fixed_visits(work: Iterable[Work], kept: Iterable[Visit], now: datetime) -> dict[int, list[Visit]]:
    """By job, the visits that no plan moves: over, begun, or keeping their hours."""
    keys = {visit.pk for visit in kept}
    jobs = {one.job.pk: one.job for one in work}
    return {
        pk: [
            visit
            for visit in job.visits.all()
            if visit.cancelled_at is None and (visit.starts_at < now or visit.pk in keys)
        ]
        for pk, job in jobs.items()
    }


def starts_left(one: Work, fixed: Sequence[Visit], span: Span) -> Window | None:
    """The starts that the job's fixed visits leave; None when they leave it free."""
    rank = RANK.get(one.kind)
    if rank is None:
        return None
    wanted = one.wanted
    least_s = wanted.gap_least_hours * 3600 if wanted else 0
    most_s = wanted.gap_most_hours * 3600 if wanted and wanted.gap_most_hours is not None else None
    low, high = 0, span.seconds(span.ends)
    free = (low, high)
    before = [visit for visit in fixed if RANK.get(visit.kind, rank) < rank]
    if before:
        nearest = max(RANK[visit.kind] for visit in before)
        end_s = span.seconds(max(visit.ends_at for visit in before if RANK[visit.kind] == nearest))
        low = max(low, end_s + least_s)
        high = high if most_s is None else min(high, end_s + most_s)
    after = [visit for visit in fixed if RANK.get(visit.kind, rank) > rank and visit.starts_at > span.now]
    if after:
        high = min(high, span.seconds(min(visit.starts_at for visit in after)) - one.minutes * 60)
    return None if (low, high) == free else Window(low, high)


def within(starts: tuple[Window, ...], bound: Window | None) -> tuple[Window, ...]:
    """The starts inside the bound."""
    if bound is None:
        return starts
    cut = (Window(max(w.earliest_s, bound.earliest_s), min(w.latest_s, bound.latest_s)) for w in starts)
    return tuple(window for window in cut if window.earliest_s <= window.latest_s)
