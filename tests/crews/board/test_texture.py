"""A stretch is solid only where digging is lawful, or where a wait ahead is all that stands in the way."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from crews.board.texture import TicketRow, emergency_span, span_of
from tickets.states import State
from tickets.verdict import Verdict, Window

NOW = datetime(2026, 9, 16, 14, tzinfo=UTC)
DAY = timedelta(days=1)
PAST = TicketRow("D-1", "normal", NOW - 5 * DAY, NOW - 2 * DAY, NOW + 10 * DAY)
AHEAD = TicketRow("D-1", "normal", NOW - DAY, NOW + DAY, NOW + 10 * DAY)
RENEWAL = TicketRow("D-2", "renewal", NOW - DAY, NOW + 2 * DAY, NOW + 20 * DAY, renews="D-1")


def a_verdict(state: State, ticket: TicketRow | None = PAST) -> Verdict:
    return Verdict(
        state=state,
        sentence="",
        reasons=(),
        would_change=(),
        opens_at=ticket.opens_at if ticket else None,
        closes_at=ticket.closes_at if ticket else None,
        renew_from=None,
        renew_by=None,
        tickets=(ticket.number,) if ticket else (),
        unverified=False,
        cautions=(),
    )


def window(*tickets: TicketRow) -> tuple[Window, ...]:
    opens = [t.opens_at for t in tickets if t.opens_at]
    return (Window(min(opens), tickets[-1].closes_at, tuple(t.number for t in tickets)),)


@pytest.mark.parametrize(
    ("state", "texture"),
    [
        (State.CLEAR, "open"),
        (State.CLOSING, "closing"),
        (State.WAITING, "waiting"),  # the wait is over, an answer is missing
        (State.STOP, "stop"),
        (State.EXPIRED, "closed"),
        (State.UNKNOWN, "unknown"),
        (State.EMERGENCY, "emergency"),
    ],
)
def test_the_governing_ticket_wears_the_verdict(state: State, texture: str) -> None:
    assert span_of(PAST, a_verdict(state), window(PAST), NOW).texture == texture


@pytest.mark.parametrize("state", [s for s in State if s not in {State.CLEAR, State.CLOSING}])
@pytest.mark.parametrize("governs", [True, False])
def test_nothing_is_solid_now_unless_digging_is_lawful(state: State, governs: bool) -> None:
    verdict = a_verdict(state, PAST if governs else None)
    assert span_of(PAST, verdict, window(PAST), NOW).texture not in {"open", "closing"}


def test_a_window_ahead_is_solid_when_only_the_wait_is_missing() -> None:
    assert span_of(AHEAD, a_verdict(State.WAITING, AHEAD), window(AHEAD), NOW).texture == "open"
    assert span_of(AHEAD, a_verdict(State.STOP, AHEAD), window(AHEAD), NOW).texture == "stop"
    assert span_of(AHEAD, a_verdict(State.WAITING, AHEAD), (), NOW).texture == "waiting"


def test_a_renewal_on_file_is_solid_beside_a_clear_ticket() -> None:
    clear = a_verdict(State.CLEAR, PAST)
    span = span_of(RENEWAL, clear, window(PAST, RENEWAL), NOW)
    assert (span.texture, span.renews) == ("open", "D-1")
    assert span_of(RENEWAL, a_verdict(State.UNKNOWN, PAST), window(PAST, RENEWAL), NOW).texture == "unknown"


def test_a_ticket_that_opens_no_window_is_not_known() -> None:
    assert span_of(RENEWAL, a_verdict(State.CLEAR, PAST), window(PAST), NOW).texture == "unknown"


def test_over_and_cancelled_are_outlines() -> None:
    over = replace(PAST, closes_at=NOW)
    assert span_of(over, a_verdict(State.EXPIRED, over), (), NOW).texture == "closed"
    assert span_of(replace(PAST, cancelled=True), a_verdict(State.CLEAR, RENEWAL), (), NOW).texture == "closed"


def test_a_second_notice_opens_nothing_of_its_own() -> None:
    follower = TicketRow("D-3", "second_notice", NOW - DAY, NOW + DAY, None)
    assert span_of(follower, a_verdict(State.WAITING, PAST), window(PAST), NOW).texture == ""


def test_time_that_an_operator_asked_for_lengthens_the_wait() -> None:
    later = (Window(NOW + 3 * DAY, PAST.closes_at, ("D-1",)),)
    span = span_of(PAST, a_verdict(State.WAITING, PAST), later, NOW)
    assert (span.opens_at, span.texture) == (NOW + 3 * DAY, "open")


def test_an_emergency_is_never_drawn_past_now() -> None:
    assert emergency_span("e", NOW - DAY, None, NOW).closes_at == NOW
    assert emergency_span("e", NOW - DAY, NOW - DAY / 2, NOW).closes_at == NOW - DAY / 2
