"""Answers, sightings, private locates, local rules, emergencies: what counts, what is refused."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.factories import (
    NOW,
    OPENS,
    RECEIVED,
    answer_all,
    crew_member,
    dispatcher,
    make_clear_job,
    make_job,
    make_ticket,
)
from tickets import services
from tickets.models import Answer, Job, LocalRule
from tickets.selectors import verdict_of
from tickets.states import State, TransitionRefused

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def state_of(job: Job) -> str:
    job.refresh_from_db()
    return job.verdict_state


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"outcome": "maybe"}, "outcome"),
        ({"outcome": "marked", "answered_at": RECEIVED - HOUR}, "answered_at"),
        ({"outcome": "marked", "answered_at": NOW + HOUR}, "answered_at"),
        ({"outcome": "marked", "holds_until": NOW + DAY}, "holds_until"),
        ({"outcome": "asked_more_time", "holds_until": NOW - DAY}, "holds_until"),
    ],
)
def test_a_bad_answer_is_refused_whole(given: dict[str, Any], field: str) -> None:
    ticket = make_ticket(make_job())
    with pytest.raises(services.BadInput) as refused:
        services.record_answer(operator=ticket.operators.first(), actor=dispatcher(), now=NOW, **given)
    assert field in refused.value.fields
    assert not Answer.objects.exists()


def test_the_latest_answer_governs_and_all_stay_on_file() -> None:
    job = make_clear_job()
    gas = job.tickets.get().operators.first()
    services.record_answer(
        operator=gas, actor=dispatcher(), now=NOW, outcome="asked_more_time", holds_until=NOW + DAY
    )
    assert state_of(job) == State.WAITING
    assert job.verdict_next_change_at == NOW + DAY
    services.record_answer(
        operator=gas, actor=dispatcher(), now=NOW + HOUR, outcome="marked", answered_at=OPENS + HOUR
    )
    assert state_of(job) == State.WAITING  # recorded later, but given earlier
    services.record_answer(operator=gas, actor=dispatcher(), now=NOW + HOUR, outcome="marked")
    assert state_of(job) == State.CLEAR
    assert gas.answers.count() == 4


def test_the_crew_records_what_it_sees() -> None:
    job = make_clear_job()
    gas = job.tickets.get().operators.first()
    services.record_sighting(job=job, actor=crew_member(), now=NOW, kind="no_marks_seen", operator=gas)
    assert state_of(job) == State.STOP
    assert "Fernbank Gas: on site no marks were seen" in job.verdict_sentence
    services.record_sighting(job=job, actor=crew_member(), now=NOW + HOUR, kind="marks_seen", operator=gas)
    assert state_of(job) == State.CLEAR


def test_a_sighting_of_another_jobs_operator_or_in_the_future_is_refused() -> None:
    job, other = make_job(), make_clear_job()
    stranger = other.tickets.get().operators.first()
    with pytest.raises(services.BadInput, match="another job's ticket"):
        services.record_sighting(job=job, actor=crew_member(), now=NOW, kind="marks_seen", operator=stranger)
    with pytest.raises(services.BadInput, match="after now"):
        services.record_sighting(job=job, actor=crew_member(), now=NOW, kind="marks_seen", seen_at=NOW + HOUR)


def test_private_lines_are_located_or_waived_with_words() -> None:
    job = make_clear_job(private_lines_likely=True)
    assert verdict_of(job, NOW).state is State.UNKNOWN
    with pytest.raises(services.BadInput, match="Result words"):
        services.record_private_locate(job=job, actor=crew_member(), now=NOW, result_words=" ")
    services.record_private_locate(job=job, actor=crew_member(), now=NOW, result_words="Yard light cable found")
    assert state_of(job) == State.CLEAR
    with pytest.raises(services.Forbidden):
        services.waive_private_locate(job=job, actor=crew_member(), now=NOW, reason="Nothing there")
    other = make_clear_job(private_lines_likely=True)
    services.waive_private_locate(job=other, actor=dispatcher(), now=NOW, reason="Open field, owner confirms")
    assert state_of(other) == State.CLEAR


def make_rule(**given: Any) -> LocalRule:
    fields: dict[str, Any] = {
        "name": "Street permit",
        "state": "VA",
        "source": "Town code 12-3",
        "requirement": "A permit is in hand.",
    }
    return services.create_local_rule(actor=dispatcher(), now=NOW, **{**fields, **given})


def test_a_local_requirement_holds_open_jobs_until_it_is_confirmed() -> None:
    job = make_clear_job()
    elsewhere = make_clear_job(town="Otherfield")
    rule = make_rule(town="larkmoor")
    assert (state_of(job), state_of(elsewhere)) == (State.UNKNOWN, State.CLEAR)
    services.confirm_local_rule(job=job, rule=rule, actor=dispatcher(), now=NOW, note="Permit 14 seen")
    assert state_of(job) == State.CLEAR
    assert job.evidence.get(kind="local_rule_confirmed").payload["note"] == "Permit 14 seen"
    with pytest.raises(services.Conflict, match="confirmed before"):
        services.confirm_local_rule(job=job, rule=rule, actor=dispatcher(), now=NOW)
    with pytest.raises(services.Conflict, match="does not hold"):
        services.confirm_local_rule(job=elsewhere, rule=rule, actor=dispatcher(), now=NOW)


def test_a_local_wait_moves_the_opening_and_only_ever_later() -> None:
    job = make_job()
    ticket = make_ticket(job)
    longer = {"wait_unit": "working_days", "wait_begins": "next_day", "wait_ends": "day_after"}
    make_rule(name="Short", requirement="", wait_amount=1, **longer)
    ticket.refresh_from_db()
    assert ticket.opens_at == OPENS
    rule = make_rule(name="Long", requirement="", wait_amount=5, **longer)
    ticket.refresh_from_db()
    assert ticket.opens_at > OPENS + DAY
    services.end_local_rule(rule=rule, actor=dispatcher(), now=NOW, reason="Repealed")
    ticket.refresh_from_db()
    assert ticket.opens_at == OPENS


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"requirement": ""}, "requirement"),
        ({"state": "QQ"}, "state"),
        ({"source": ""}, "source"),
        ({"wait_amount": 0}, "wait_amount"),
        ({"wait_amount": 2}, "wait_unit"),
    ],
)
def test_a_local_rule_is_checked(given: dict[str, Any], field: str) -> None:
    with pytest.raises(services.BadInput) as refused:
        make_rule(**given)
    assert field in refused.value.fields


def test_an_emergency_runs_its_course() -> None:
    job = make_job()
    digger = crew_member()
    dig = services.declare_emergency(job=job, actor=digger, now=NOW, reason="Sewage rising into a cellar")
    assert state_of(job) == State.EMERGENCY
    assert str(digger) in job.verdict_sentence
    with pytest.raises(services.Conflict, match="open on this job already"):
        services.declare_emergency(job=job, actor=digger, now=NOW, reason="Again")
    with pytest.raises(TransitionRefused, match="tell the notification centre"):
        services.close_emergency(emergency=dig, actor=digger, now=NOW)
    with pytest.raises(services.BadInput, match="say when"):
        services.note_emergency_told(emergency=dig, actor=digger, now=NOW)
    services.note_emergency_told(emergency=dig, actor=digger, now=NOW + HOUR, centre_told_at=NOW + HOUR)
    duties = verdict_of(job, NOW + HOUR).would_change
    assert not any("notification centre" in duty for duty in duties)
    assert any("operators" in duty for duty in duties)
    services.close_emergency(emergency=dig, actor=digger, now=NOW + 2 * HOUR)
    assert state_of(job) == State.UNKNOWN
    kinds = list(job.evidence.values_list("kind", flat=True))
    assert [k for k in kinds if k.startswith("emergency")] == [
        "emergency_declared",
        "emergency_told",
        "emergency_closed",
    ]


def test_an_emergency_needs_a_reason() -> None:
    with pytest.raises(services.BadInput, match="Reason"):
        services.declare_emergency(job=make_job(), actor=crew_member(), now=NOW, reason=" ")


def test_the_same_verdict_again_is_not_logged_again() -> None:
    job = make_clear_job()
    length = job.evidence.count()
    services.refresh_job(job=job, now=NOW)
    services.refresh_job(job=job, now=NOW + HOUR)
    assert job.evidence.count() == length
    answer_all(job.tickets.get(), at=NOW + HOUR)
    assert job.evidence.filter(kind="answer_recorded").count() == 4
