"""A dig is planned inside a window or refused with the reasons and the first lawful instant."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from tests.factories import (
    ENTERED,
    NOW,
    OPENS,
    RECEIVED,
    crew_member,
    dispatcher,
    make_clear_job,
    make_job,
    make_ticket,
    square,
)
from tickets import services
from tickets.models import Job
from tickets.services import WindowRefused, check_dig_visit
from tickets.states import State

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def refusal(job: Job, start: datetime, length: timedelta = 4 * HOUR, now: datetime = RECEIVED) -> WindowRefused:
    with pytest.raises(WindowRefused) as refused:
        check_dig_visit(job=job, starts_at=start, ends_at=start + length, now=now)
    return refused.value


def test_inside_the_window_it_passes_though_answers_are_still_to_come() -> None:
    job = make_job()
    make_ticket(job)
    found = check_dig_visit(job=job, starts_at=OPENS, ends_at=OPENS + 4 * HOUR, now=RECEIVED)
    assert found.state is State.WAITING  # what would stand then if nobody answered
    assert check_dig_visit(job=make_clear_job(), starts_at=NOW, ends_at=NOW + HOUR, now=NOW).may_dig


def test_before_the_opening_the_first_lawful_instant_is_offered() -> None:
    job = make_job()
    ticket = make_ticket(job)
    found = refusal(job, OPENS - HOUR)
    assert found.first_lawful_at == OPENS
    assert found.members["first_lawful_at"] == OPENS.isoformat()
    assert f"Under ticket {ticket.number} digging may begin Fri 11 Sep, 7:00 AM EDT, not before." in found.reasons
    assert "The first lawful start for a visit of this length is Fri 11 Sep, 7:00 AM EDT." in found.message


def test_over_the_end_an_earlier_start_is_offered() -> None:
    job = make_job()
    ticket = make_ticket(job)
    found = refusal(job, ticket.closes_at - HOUR)
    assert found.first_lawful_at == OPENS
    assert f"Ticket {ticket.number} ends" in found.reasons[0]
    late = refusal(job, ticket.closes_at - HOUR, now=ticket.closes_at - 2 * HOUR)
    assert late.first_lawful_at is None
    assert "renew, give a new notice, or plan less" in late.message


def test_a_visit_may_cross_from_a_ticket_into_its_renewal() -> None:
    job = make_clear_job()
    old = job.tickets.get()
    renewal = make_ticket(job, kind="renewal", renews=old, received_at=NOW)
    start = old.closes_at - HOUR
    check_dig_visit(job=job, starts_at=start, ends_at=start + 4 * HOUR, now=NOW)
    services.cancel_ticket(ticket=renewal, actor=dispatcher(), now=NOW, reason="Not needed")
    refusal(job, start, now=NOW)


def test_asked_for_time_moves_the_first_lawful_instant() -> None:
    job = make_job()
    gas = make_ticket(job).operators.first()
    until = OPENS + 2 * DAY
    services.record_answer(
        operator=gas, actor=dispatcher(), now=RECEIVED + HOUR, outcome="asked_more_time", holds_until=until
    )
    assert refusal(job, OPENS, now=RECEIVED + HOUR).first_lawful_at == until


@pytest.mark.parametrize("case", ["no ticket", "no dig area", "another area", "cancelled", "closed"])
def test_without_a_window_nothing_is_offered_but_the_reason(case: str) -> None:
    job = make_job(dig_areas=()) if case == "no dig area" else make_job()
    if case != "no ticket":
        ticket = make_ticket(job, area=square(500, 0) if case == "another area" else square())
    if case == "cancelled":
        services.cancel_ticket(ticket=ticket, actor=dispatcher(), now=NOW, reason="Called off")
    if case == "closed":
        services.close_job(job=job, actor=dispatcher(), now=NOW)
    found = refusal(job, NOW + DAY, now=NOW)
    assert found.first_lawful_at is None
    assert found.reasons
    assert "No lawful start is known" in found.message


def test_two_tickets_that_only_together_cover_the_ground_make_one_window() -> None:
    job = make_job(dig_areas=[{"polygon": square(6, 2, 7), "method": "machine"}])
    make_ticket(job, area=square(0, 0, 10))
    refusal(job, OPENS)
    make_ticket(job, area=square(10, 0, 10), received_at=RECEIVED + DAY)
    found = refusal(job, OPENS, now=RECEIVED + DAY)
    assert found.first_lawful_at == datetime(2026, 9, 14, 11, 0, tzinfo=UTC)  # the later ticket's opening


def test_under_an_open_emergency_any_time_is_let_through() -> None:
    job = make_job()
    services.declare_emergency(job=job, actor=crew_member(), now=NOW, reason="Water in a cellar")
    found = check_dig_visit(job=job, starts_at=NOW, ends_at=NOW + HOUR, now=NOW)
    assert (found.state, found.may_dig) == (State.EMERGENCY, False)


def test_the_next_dig_brings_a_re_check_before_it() -> None:
    job = make_clear_job()
    services.plan_next_dig(job=job, starts_at=NOW + 2 * DAY, actor=dispatcher(), now=NOW)
    row = job.follow_ups.get(kind="recheck_before_dig")
    assert row.due_at == NOW + 2 * DAY - 12 * HOUR
    length = job.evidence.count()
    services.plan_next_dig(job=job, starts_at=NOW + 2 * DAY, actor=dispatcher(), now=NOW)
    assert job.evidence.count() == length  # nothing new
    services.plan_next_dig(job=job, starts_at=None, actor=dispatcher(), now=NOW)
    row.refresh_from_db()
    assert row.superseded_at == NOW


def test_seeing_the_verdict_is_logged_with_the_person() -> None:
    job, reader = make_clear_job(), crew_member()
    found = services.acknowledge_verdict(job=job, actor=reader, now=NOW)
    entry = job.evidence.last()
    assert (entry.kind, entry.actor, entry.payload["sentence"]) == ("verdict_seen", reader, found.sentence)
    assert entry.at > ENTERED
