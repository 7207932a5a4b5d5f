"""What one ticket says at one instant: its blockers, its window, what there is to know besides. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from tickets.states import State, TicketKind
from tickets.verdict.blocker import Blocker, blocker
from tickets.verdict.facts import TicketFacts
from tickets.verdict.hearing import early_opening, hear, operators_of
from tickets.verdict.result import Kind, Reason
from tickets.verdict.words import feet_words, instant_words

CLOSING_LEAD = timedelta(hours=48)  # before the last call to renew; common practice, no source
STANDS_ALONE = frozenset({TicketKind.NORMAL, TicketKind.RENEWAL})


@dataclass(frozen=True, slots=True)
class Reading:
    """`blockers` without those of the area, which other tickets may help to cover: `area_blockers`."""

    ticket: TicketFacts
    blockers: tuple[Blocker, ...]
    area_blockers: tuple[Blocker, ...]
    notes: tuple[Reason, ...]
    opens_at: datetime | None
    closes_at: datetime | None

    @property
    def all_blockers(self) -> tuple[Blocker, ...]:
        return self.blockers + self.area_blockers


def read_ticket(
    ticket: TicketFacts,
    followers: Sequence[TicketFacts],
    overhang_m: float | None,
    at: datetime,
    time_zone: str,
) -> Reading:
    """Judge one ticket of its own standing. `overhang_m` is how far the job's dig areas stick out of its
    area, None when that cannot be known."""
    known = [f for f in followers if f.received_at <= at]
    heard = operators_of(ticket, known)
    early = early_opening(ticket, heard, at)
    opens_at = ticket.opens_at if ticket.opens_at is None or early is None else min(early, ticket.opens_at)
    closes_at = min((e for e in (ticket.closes_at, ticket.lapses_at) if e is not None), default=None)
    dead = _cancelled(ticket, at, time_zone)
    if dead is not None:
        return Reading(ticket, (dead,), (), (), opens_at, closes_at)
    blockers = [*_future(ticket, at, time_zone), *_window(ticket, opens_at, at, time_zone)]
    unheard, notes = hear(ticket, known, heard, at, time_zone)
    if early is not None and opens_at is not None and opens_at < (ticket.opens_at or opens_at):
        notes.append(_early_note(ticket, opens_at, time_zone))
    notes += [Reason(words, "", Kind.ASK_CENTRE, blocks=False) for words in ticket.warnings]
    return Reading(
        ticket,
        tuple(blockers + unheard),
        tuple(_area(ticket, overhang_m)),
        tuple(notes),
        opens_at,
        closes_at,
    )


def _cancelled(ticket: TicketFacts, at: datetime, time_zone: str) -> Blocker | None:
    """A cancelled ticket has nothing more to say than that."""
    if ticket.cancelled_at is None or ticket.cancelled_at > at:
        return None
    words = f"Ticket {ticket.number} was cancelled {instant_words(ticket.cancelled_at, time_zone)}."
    return blocker(State.STOP, Kind.TICKET, words, "Give a new notice to the notification centre.")


def _future(ticket: TicketFacts, at: datetime, time_zone: str) -> list[Blocker]:
    if at >= ticket.received_at:
        return []
    words = f"Ticket {ticket.number} is dated {instant_words(ticket.received_at, time_zone)}, in the future."
    return [blocker(State.UNKNOWN, Kind.TICKET, words, "Correct when the notice was received.")]


def _window(ticket: TicketFacts, opens_at: datetime | None, at: datetime, time_zone: str) -> list[Blocker]:
    rule = ticket.rule
    if rule is None or opens_at is None:
        words = f"The window of ticket {ticket.number} could not be computed."
        remedy = "Ask the notification centre when digging may begin, and correct the ticket."
        return [blocker(State.UNKNOWN, Kind.WAIT, words, remedy)]
    if at < opens_at:
        words = f"The wait of ticket {ticket.number} runs until {instant_words(opens_at, time_zone)}."
        return [blocker(State.WAITING, Kind.WAIT, words, "The end of the wait.", rule.cite("wait"))]
    return _end(ticket, at, time_zone)


def _end(ticket: TicketFacts, at: datetime, time_zone: str) -> list[Blocker]:
    rule, number = ticket.rule, ticket.number
    assert rule is not None
    again = "Give a new notice to the notification centre and wait again."
    if ticket.start_by is not None and ticket.work_begun_at is None and at >= ticket.start_by:
        limit = instant_words(ticket.start_by, time_zone)
        words = f"Work under ticket {number} had to begin by {limit} and did not."
        return [blocker(State.EXPIRED, Kind.EXPIRY, words, again, rule.cite("begin_work"))]
    if ticket.lapses_at is not None and at >= ticket.lapses_at:
        since = instant_words(ticket.lapses_at, time_zone)
        words = f"Ticket {number} lapsed {since} because work stood still."
        return [blocker(State.EXPIRED, Kind.EXPIRY, words, again, rule.cite("lapse"))]
    if ticket.closes_at is not None and at >= ticket.closes_at:
        words = f"Ticket {number} ended {instant_words(ticket.closes_at, time_zone)}."
        return [blocker(State.EXPIRED, Kind.EXPIRY, words, again, rule.cite("validity"))]
    if ticket.closes_at is None and rule.fixed_life:
        words = f"The expiry of ticket {number} is not known."
        remedy = "Ask the notification centre until when the ticket is good, and correct it."
        return [blocker(State.UNKNOWN, Kind.EXPIRY, words, remedy, rule.cite("validity"))]
    return []


def _area(ticket: TicketFacts, overhang_m: float | None) -> list[Blocker]:
    if overhang_m == 0.0:
        return []
    if ticket.area is None:
        words = f"The area of ticket {ticket.number} is not drawn, so it is not known what it covers."
        return [blocker(State.UNKNOWN, Kind.AREA, words, "Draw the area that the ticket covers.")]
    if overhang_m is None:
        words = f"It is not known whether ticket {ticket.number} covers the dig area."
        return [blocker(State.UNKNOWN, Kind.AREA, words, "Draw the dig area and the ticket's area again.")]
    words = f"The dig area reaches {feet_words(overhang_m)} outside the area of ticket {ticket.number}."
    remedy = "Keep the dig inside the ticket's area, or give notice for the rest."
    return [blocker(State.STOP, Kind.AREA, words, remedy)]


def _early_note(ticket: TicketFacts, opens_at: datetime, time_zone: str) -> Reason:
    words = f"All operators answered: the law lets work begin early, from {instant_words(opens_at, time_zone)}."
    return Reason(words, ticket.rule.cite("answers") if ticket.rule else "", Kind.WAIT, blocks=False)


def closing_from(ticket: TicketFacts, closes_at: datetime | None) -> datetime | None:
    """From when a clear ticket counts as closing soon; None: it has no end."""
    if closes_at is None:
        return None
    last_call = closes_at if ticket.renew_by is None else min(ticket.renew_by, closes_at)
    return last_call - CLOSING_LEAD
