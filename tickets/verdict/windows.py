"""When a dig may be planned: the windows of a job's tickets, for visits still ahead. Pure.

A plan asks less than a verdict: answers may still come before the day. It asks that the wait is over
by then, that the ticket lives as long as the visit, and that it covers the ground.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from tickets.verdict.facts import Facts
from tickets.verdict.hearing import ASKED_TIME, operators_of
from tickets.verdict.judge import Case
from tickets.verdict.reading import Reading


@dataclass(frozen=True, slots=True)
class Window:
    """From `opens_at` to just before `closes_at` (None: no fixed end)."""

    opens_at: datetime
    closes_at: datetime | None
    tickets: tuple[str, ...]

    def holds(self, starts_at: datetime, ends_at: datetime) -> bool:
        """Whether a visit lies inside."""
        return self.opens_at <= starts_at and (self.closes_at is None or ends_at <= self.closes_at)


def dig_windows(facts: Facts, now: datetime) -> tuple[Window, ...]:
    """The windows in which a dig may be planned as the facts stand at `now`, in order; those that touch
    or overlap (a ticket and its renewal) are one."""
    case = Case(facts)
    if not case.digs or (facts.closed_at is not None and facts.closed_at <= now):
        return ()
    readings = case.read(now)
    found = [w for r in readings if not r.area_blockers and (w := _window(case, r, now)) is not None]
    return _joined(sorted(found or _together(case, readings, now), key=lambda w: w.opens_at))


def _together(case: Case, readings: Sequence[Reading], now: datetime) -> list[Window]:
    """The window that tickets share when only together they cover the ground."""
    shared = [w for r in readings if r.ticket.area and (w := _window(case, r, now)) is not None]
    numbers = tuple(n for w in shared for n in w.tickets)
    if len(shared) < 2 or case.overhang(numbers) != 0.0:
        return []
    opens_at = max(w.opens_at for w in shared)
    closes_at = min((w.closes_at for w in shared if w.closes_at is not None), default=None)
    return [] if closes_at is not None and closes_at <= opens_at else [Window(opens_at, closes_at, numbers)]


def _window(case: Case, reading: Reading, now: datetime) -> Window | None:
    ticket = reading.ticket
    dead = ticket.cancelled_at is not None and ticket.cancelled_at <= now
    rule = ticket.rule
    if dead or rule is None or reading.opens_at is None or ticket.received_at > now:
        return None
    if reading.closes_at is None and rule.fixed_life:
        return None
    opens_at = max([reading.opens_at, *_asked_until(case, reading, now)])
    if reading.closes_at is not None and opens_at >= reading.closes_at:
        return None
    return Window(opens_at, reading.closes_at, (ticket.number,))


def _asked_until(case: Case, reading: Reading, now: datetime) -> list[datetime]:
    """Until when operators have asked for time: no dig is planned before."""
    ticket = reading.ticket
    heard = operators_of(ticket, case.followers[ticket.number])
    latest = [operator.latest(now, ticket.received_at) for operator in heard]
    return [a.holds_until for a in latest if a and a.outcome in ASKED_TIME and a.holds_until is not None]


def _joined(windows: Sequence[Window]) -> tuple[Window, ...]:
    joined: list[Window] = []
    for window in windows:
        last = joined[-1] if joined else None
        if last is not None and (last.closes_at is None or window.opens_at <= last.closes_at):
            ends = (last.closes_at, window.closes_at)
            closes = None if None in ends else max(e for e in ends if e is not None)
            joined[-1] = Window(last.opens_at, closes, (*last.tickets, *window.tickets))
        else:
            joined.append(window)
    return tuple(joined)


def first_lawful_start(windows: Sequence[Window], not_before: datetime, duration: timedelta) -> datetime | None:
    """The first instant from `not_before` on at which a visit of `duration` fits; None: none does."""
    for window in windows:
        start = max(window.opens_at, not_before)
        if window.holds(start, start + duration):
            return start
    return None
