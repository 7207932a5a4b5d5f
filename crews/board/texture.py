"""Which of the five textures a state and a stretch of a ticket wear. Pure.

A stretch is drawn solid only where digging is lawful, or where a wait still ahead is all that stands in
the way; anything not known is dotted, never solid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from tickets.pages.words import texture_of
from tickets.states import State, TicketKind
from tickets.verdict import Verdict, Window

STANDS_ALONE = frozenset({TicketKind.NORMAL, TicketKind.RENEWAL})


@dataclass(frozen=True, slots=True)
class TicketSpan:
    """A ticket in time. The wait runs from `received_at` to `opens_at`, the window to `closes_at` (None: no
    fixed end). An empty `texture`: the ticket opens nothing of its own."""

    number: str
    received_at: datetime
    opens_at: datetime | None
    closes_at: datetime | None
    texture: str
    renews: str | None = None


@dataclass(frozen=True, slots=True)
class TicketRow:
    """What the chart needs of a ticket on file."""

    number: str
    kind: str
    received_at: datetime
    opens_at: datetime | None
    closes_at: datetime | None
    renews: str | None = None
    cancelled: bool = False


def emergency_span(number: str, declared_at: datetime, closed_at: datetime | None, now: datetime) -> TicketSpan:
    """An emergency dig: from its declaration to its closing, or to `now` while it is open; nothing about it
    says that more digging is lawful later."""
    return TicketSpan(number, declared_at, declared_at, closed_at or now, "emergency")


def span_of(ticket: TicketRow, verdict: Verdict, windows: Sequence[Window], now: datetime) -> TicketSpan:
    """The stretch that a ticket takes, as the verdict and the windows for planning have it at `now`."""
    opens_at, closes_at = ticket.opens_at, ticket.closes_at
    own = next((w for w in windows if ticket.number in w.tickets), None)
    if verdict.tickets == (ticket.number,):
        opens_at = verdict.opens_at or opens_at
        closes_at = verdict.closes_at or closes_at
    if own is not None and own.tickets == (ticket.number,):
        opens_at = max(filter(None, (opens_at, own.opens_at)), default=None)
    texture = _texture(ticket, verdict, own is not None, opens_at, closes_at, now)
    return TicketSpan(ticket.number, ticket.received_at, opens_at, closes_at, texture, ticket.renews)


def _texture(
    ticket: TicketRow,
    verdict: Verdict,
    plannable: bool,
    opens_at: datetime | None,
    closes_at: datetime | None,
    now: datetime,
) -> str:
    if ticket.kind not in STANDS_ALONE:
        return ""
    if ticket.cancelled or (closes_at is not None and closes_at <= now):
        return "closed"
    own = texture_of(verdict.state)
    ahead = opens_at is not None and opens_at > now
    if ticket.number in verdict.tickets:
        return "open" if verdict.state == State.WAITING and ahead and plannable else own
    if not plannable:
        return "unknown"
    if verdict.may_dig or (ahead and verdict.state in {State.WAITING, State.EXPIRED}):
        return "open"
    return own if own != "closed" else "unknown"
