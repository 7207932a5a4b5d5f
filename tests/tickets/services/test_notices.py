"""Tickets: entered, corrected, cancelled, renewed; windows by the law in force; what is refused."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tests.factories import (
    ENTERED,
    NOW,
    OPENS,
    RECEIVED,
    answer_all,
    crew_member,
    dispatcher,
    make_clear_job,
    make_job,
    make_ticket,
    square,
)
from tickets import services
from tickets.models import Job, Ticket
from tickets.states import State, TicketKind, TransitionRefused

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def at(day: int, hour: int, minute: int = 0) -> datetime:
    """September 2026 by the clock in Virginia (EDT)."""
    return datetime(2026, 9, day, hour + 4, minute, tzinfo=UTC)


def state_of(job: Job) -> str:
    job.refresh_from_db()
    return job.verdict_state


def test_a_ticket_gets_its_window_from_the_law_in_force() -> None:
    """Va. Code § 56-265.17 and the centre's page on wait times: 48 hours from 07:00 of the next working day."""
    ticket = make_ticket(make_job())
    assert (ticket.opens_at, ticket.rule_version[:3]) == (OPENS, "VA@")
    assert len(ticket.rule_digest) == 64
    assert ticket.closes_at is not None
    assert ticket.renew_by < ticket.closes_at
    assert any(step["kind"] == "opens" for step in ticket.window_steps)


def test_answers_change_the_verdict_as_they_come() -> None:
    job = make_job()
    ticket = make_ticket(job)
    assert state_of(job) == State.WAITING
    gas, power = ticket.operators.all()
    services.record_answer(operator=gas, actor=dispatcher(), now=at(11, 8), outcome="marked")
    assert state_of(job) == State.WAITING
    assert "Ridge Power has not answered" in job.verdict_sentence
    services.record_answer(operator=power, actor=dispatcher(), now=at(11, 9), outcome="no_facilities")
    assert state_of(job) == State.CLEAR
    assert job.governing_ticket == ticket
    assert job.verdict_next_change_at is not None


def test_in_virginia_all_answers_open_the_window_early() -> None:
    job = make_job()
    answer_all(make_ticket(job), at=at(9, 11))
    assert state_of(job) == State.CLEAR
    assert job.verdict_at == at(9, 11)


def test_a_start_that_the_centre_printed_later_holds_back_the_early_start() -> None:
    job = make_job()
    answer_all(make_ticket(job, printed_start_at=at(14, 7)), at=at(9, 11))
    assert state_of(job) == State.WAITING
    assert job.verdict_next_change_at == at(14, 7)


def test_printed_and_computed_times_differ_the_stricter_rules_and_it_is_asked_about() -> None:
    job = make_job()
    ticket = make_ticket(job, printed_start_at=at(10, 7), printed_expiry_at=at(20, 7))
    assert ticket.opens_at == OPENS  # printed earlier: the computed one rules
    assert ticket.closes_at == at(20, 7)  # printed earlier: it rules
    assert sum("differs from the computed one" in words for words in ticket.window_warnings) == 2
    answer_all(ticket, at=OPENS)
    assert state_of(job) == State.CLEAR


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"number": " "}, "number"),
        ({"number": "n1"}, "number"),  # there already, in other letters
        ({"kind": "polite"}, "kind"),
        ({"received_at": NOW + HOUR, "now": NOW}, "received_at"),
        ({"received_at": datetime(2026, 9, 8, 10, 0)}, "received_at"),
        ({"printed_expiry_at": RECEIVED - HOUR}, "printed_expiry_at"),
        ({"printed_start_at": at(14, 7), "printed_expiry_at": at(13, 7)}, "printed_expiry_at"),
        ({"area": {"type": "Polygon"}}, "area"),
        ({"operators": ["Fernbank Gas", "FERNBANK  gas"]}, "operators.1.name"),
        ({"operators": [{"name": "Fernbank Gas", "utility": "steam"}]}, "operators.0.utility"),
        ({"operators": [""]}, "operators.0.name"),
        ({"kind": "renewal"}, "renews"),
        ({"kind": "re_mark"}, "follows"),
    ],
)
def test_bad_input_is_refused_whole(given: dict[str, Any], field: str) -> None:
    job = make_job()
    make_ticket(job)
    length = job.evidence.count()
    with pytest.raises(services.BadInput) as refused:
        make_ticket(job, **{"now": NOW, **given})
    assert field in refused.value.fields
    assert job.tickets.count() == 1
    assert job.evidence.count() == length


def test_relatives_must_fit() -> None:
    job, other = make_job(), make_job()
    ticket, stranger = make_ticket(job), make_ticket(other)
    again = make_ticket(job, kind="re_mark", follows=ticket, received_at=at(14, 9))
    assert again.area == ticket.area
    for given, words in (
        ({"kind": "renewal", "renews": stranger}, "another job's"),
        ({"kind": "renewal", "renews": again}, "name the ticket itself"),
        ({"kind": "normal", "renews": ticket}, "leave it empty"),
        ({"kind": "renewal", "renews": ticket, "received_at": RECEIVED - HOUR, "now": NOW}, "before ticket N1"),
    ):
        with pytest.raises(services.BadInput, match=words):
            make_ticket(job, **{"received_at": at(15, 9), **given})
    services.cancel_ticket(ticket=ticket, actor=dispatcher(), now=NOW, reason="Work given up")
    with pytest.raises(services.BadInput, match="give a new notice"):
        make_ticket(job, kind="renewal", renews=ticket, received_at=NOW)


def test_a_renewal_takes_over_without_a_stop() -> None:
    job = make_clear_job()
    old = job.tickets.get()
    renewal = make_ticket(job, kind="renewal", renews=old, received_at=NOW)
    answer_all(renewal, at=at(21, 9))
    assert renewal.opens_at < old.closes_at
    assert state_of(job) == State.CLEAR
    assert job.governing_ticket == renewal


def test_a_second_notice_waits_as_long_as_the_law_says() -> None:
    """In Virginia the length of the further wait was not read, so nothing ends by itself."""
    job = make_job()
    ticket = make_ticket(job)
    second = make_ticket(job, kind="second_notice", follows=ticket, received_at=at(14, 9), operators=["Ridge Power"])
    assert (second.opens_at, second.closes_at) == (None, None)
    assert state_of(job) == State.WAITING


def test_a_correction_moves_the_window_and_a_reason_is_needed() -> None:
    job = make_clear_job()
    ticket = job.tickets.get()
    with pytest.raises(services.BadInput, match="Reason"):
        services.correct_ticket(ticket=ticket, actor=dispatcher(), now=NOW, reason=" ", received_at=at(9, 10))
    corrected = services.correct_ticket(
        ticket=ticket, actor=dispatcher(), now=NOW, reason="Misread", received_at=at(9, 10)
    )
    assert corrected.opens_at == OPENS + 3 * DAY  # Wed 9 Sep: Thursday and Friday are counted, opens Monday
    with pytest.raises(TypeError, match="not a field"):
        services.correct_ticket(ticket=ticket, actor=dispatcher(), now=NOW, reason="No", opens_at=NOW)


def test_an_answer_older_than_the_corrected_notice_no_longer_counts() -> None:
    job = make_job()
    ticket = make_ticket(job)
    answer_all(ticket, at=at(9, 11))
    services.correct_ticket(ticket=ticket, actor=dispatcher(), now=NOW, reason="Misread", received_at=at(10, 10))
    assert state_of(job) == State.WAITING


def test_a_cancelled_ticket_stops_the_job_and_takes_no_more_answers() -> None:
    job = make_clear_job()
    ticket = job.tickets.get()
    with pytest.raises(services.BadInput, match="Reason"):
        services.cancel_ticket(ticket=ticket, actor=dispatcher(), now=NOW, reason="")
    services.cancel_ticket(ticket=ticket, actor=dispatcher(), now=NOW, reason="Customer called off")
    assert state_of(job) == State.STOP
    with pytest.raises(TransitionRefused, match="is cancelled"):
        answer_all(ticket, at=NOW)
    with pytest.raises(TransitionRefused, match="is cancelled"):
        services.cancel_ticket(ticket=ticket, actor=dispatcher(), now=NOW, reason="Again")


def test_operators_may_be_added_later_and_mistakes_taken_away() -> None:
    job = make_clear_job()
    ticket = job.tickets.get()
    added = services.add_operator(ticket=ticket, actor=dispatcher(), now=NOW, name="Hill Water", utility="water")
    assert state_of(job) == State.WAITING
    with pytest.raises(services.BadInput, match="already") as refused:
        services.add_operator(ticket=ticket, actor=dispatcher(), now=NOW, name="hill water")
    assert "name" in refused.value.fields
    services.remove_operator(operator=added, actor=dispatcher(), now=NOW, reason="Not on the centre's list")
    assert state_of(job) == State.CLEAR
    assert job.evidence.get(kind="operator_removed").payload["operator"] == "Hill Water"
    with pytest.raises(services.Conflict, match="stays on the ticket"):
        services.remove_operator(
            operator=ticket.operators.first(), actor=dispatcher(), now=NOW, reason="Does not suit"
        )


def test_a_place_the_law_has_no_answer_for_leaves_the_window_open_and_says_why() -> None:
    job = make_job()
    ticket = make_ticket(job, received_at=datetime(1950, 9, 8, 14, 0, tzinfo=UTC))
    assert ticket.opens_at is None
    assert "no rule is on file" in ticket.window_warnings[0]
    assert state_of(job) == State.UNKNOWN


def test_only_the_office_enters_tickets() -> None:
    job = make_job()
    with pytest.raises(services.Forbidden):
        make_ticket(job, actor=crew_member())


def test_an_emergency_ticket_opens_no_window() -> None:
    job = make_job()
    ticket = make_ticket(job, kind=TicketKind.EMERGENCY, operators=())
    assert (ticket.opens_at, ticket.window_warnings) == (None, [])
    assert state_of(job) == State.UNKNOWN


def test_the_database_itself_refuses_a_renewal_of_nothing() -> None:
    from django.db import IntegrityError, transaction

    job = make_job()
    with pytest.raises(IntegrityError), transaction.atomic():
        Ticket.objects.create(job=job, number="X", kind="renewal", received_at=ENTERED, area=square())
