"""Windows and follow-ups follow the facts: derived anew after each change, deriving again changes nothing."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from locates.law.load import codes, jurisdiction
from locates.law.rule import Tier
from locates.law.window import window_for
from tests.factories import (
    NOW,
    OPENS,
    RECEIVED,
    SiteFactory,
    answer_all,
    dispatcher,
    make_clear_job,
    make_job,
    make_ticket,
)
from tickets import services
from tickets.deadlines import RECHECK_LEAD, RENEW_LEAD, derive_follow_ups, derive_windows
from tickets.models import FollowUp, Job
from tickets.selectors import verdict_of
from tickets.states import FollowUpKind, State

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def open_rows(job: Job) -> dict[str, datetime]:
    rows = FollowUp.objects.filter(job=job, done_at=None, superseded_at=None)
    return {row.kind: row.due_at for row in rows}


def test_the_stored_window_is_the_laws_own() -> None:
    ticket = make_ticket(make_job())
    law = window_for("VA", RECEIVED, "America/New_York")
    assert (ticket.opens_at, ticket.closes_at) == (law.opens_at, law.closes_at)
    assert (ticket.renew_from, ticket.renew_by) == (law.renew_from, law.renew_by)
    assert (ticket.rule_version, ticket.rule_digest) == (law.rule_version, law.rule_digest)
    assert ticket.window_steps == law.as_json()["steps"]


def test_deriving_again_changes_nothing() -> None:
    job = make_clear_job()
    rows = list(FollowUp.objects.order_by("pk").values())
    assert derive_windows(job) == []
    derive_follow_ups(job, verdict_of(job, NOW), OPENS)
    assert list(FollowUp.objects.order_by("pk").values()) == rows


@pytest.mark.parametrize("state", codes())
def test_every_jurisdiction_gives_a_window_or_says_why_not(state: str) -> None:
    law = jurisdiction(state)
    zone = law.law_time_zone or law.time_zones[0]
    job = make_job(site=SiteFactory(state=state, time_zone=zone), dig_areas=())
    ticket = make_ticket(job)
    assert ticket.opens_at is not None
    assert ticket.opens_at >= RECEIVED
    assert ticket.early_from is None or ticket.early_from >= RECEIVED
    assert verdict_of(job, NOW).unverified is not Tier(ticket.evidence_tier).verified
    assert law.verified or not Tier(ticket.evidence_tier).verified


def test_follow_ups_of_a_fresh_ticket() -> None:
    job = make_job()
    ticket = make_ticket(job)
    rows = open_rows(job)
    assert rows["window_opens"] == rows["answers_missing"] == rows["verdict_changes"] == OPENS
    assert rows["renew_by"] == ticket.renew_by - RENEW_LEAD
    assert rows["expires"] == ticket.closes_at
    missing = job.follow_ups.get(kind="answers_missing")
    assert missing.message == f"Ticket {ticket.number}: no answer yet from Fernbank Gas, Ridge Power."


def test_answers_take_the_reminder_away_one_by_one() -> None:
    job = make_job()
    ticket = make_ticket(job)
    gas, power = ticket.operators.all()
    services.record_answer(operator=gas, actor=dispatcher(), now=RECEIVED + HOUR, outcome="marked")
    assert "Ridge Power" in job.follow_ups.get(kind="answers_missing", superseded_at=None).message
    assert "Fernbank" not in job.follow_ups.get(kind="answers_missing", superseded_at=None).message
    services.record_answer(operator=power, actor=dispatcher(), now=RECEIVED + HOUR, outcome="marked")
    assert "answers_missing" not in open_rows(job)


def test_a_corrected_notice_moves_its_follow_ups() -> None:
    job = make_job()
    ticket = make_ticket(job)
    later = RECEIVED + DAY
    services.correct_ticket(ticket=ticket, actor=dispatcher(), now=NOW - 6 * DAY, reason="Misread", received_at=later)
    rows = open_rows(job)
    assert rows["window_opens"] == OPENS + 3 * DAY
    superseded = job.follow_ups.filter(kind="window_opens").exclude(superseded_at=None)
    assert [row.due_at for row in superseded] == [OPENS]


def test_a_ticket_entered_late_brings_no_reminders_of_what_is_past_but_of_what_is_missing() -> None:
    job = make_job()
    make_ticket(job, now=NOW)
    rows = open_rows(job)
    assert "window_opens" not in rows
    assert rows["answers_missing"] == OPENS  # due at once


def test_a_renewal_takes_the_call_to_renew_away() -> None:
    job = make_clear_job()
    old = job.tickets.get()
    make_ticket(job, kind="renewal", renews=old, received_at=NOW)
    assert not job.follow_ups.filter(ticket=old, kind="renew_by", superseded_at=None).exists()
    assert job.follow_ups.filter(ticket=old, kind="expires", superseded_at=None).exists()


def test_a_cancelled_ticket_and_a_closed_job_ask_for_nothing() -> None:
    job = make_job()
    ticket = make_ticket(job)
    services.cancel_ticket(ticket=ticket, actor=dispatcher(), now=NOW, reason="Called off")
    assert open_rows(job) == {}


def test_a_done_row_is_not_made_again() -> None:
    job = make_job()
    make_ticket(job, now=NOW)
    job.follow_ups.filter(kind="answers_missing").update(claimed_at=NOW, done_at=NOW)
    services.refresh_job(job=job, now=NOW + HOUR)
    assert job.follow_ups.filter(kind="answers_missing").count() == 1


def test_the_re_check_falls_due_before_the_dig_at_once_when_that_is_soon() -> None:
    job = make_clear_job()
    services.plan_next_dig(job=job, starts_at=NOW + 3 * HOUR, actor=dispatcher(), now=NOW)
    assert open_rows(job)["recheck_before_dig"] == NOW + 3 * HOUR - RECHECK_LEAD


def test_one_open_row_a_kind() -> None:
    from django.db import IntegrityError, transaction

    job = make_job()
    FollowUp.objects.create(job=job, kind=FollowUpKind.VERDICT_CHANGES, due_at=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        FollowUp.objects.create(job=job, kind=FollowUpKind.VERDICT_CHANGES, due_at=NOW + DAY)


def test_work_begun_in_time_outlives_the_limit_to_begin_and_standing_still_lets_it_lapse() -> None:
    """Any jurisdiction whose law says both: the limit to begin, and the lapse when work stops."""
    for code in codes():
        version = jurisdiction(code).versions[-1]
        if version.begin_work is not None and version.lapse is not None:
            break
    else:
        pytest.skip("no jurisdiction has both")
    law = jurisdiction(code)
    site = SiteFactory(state=code, time_zone=law.law_time_zone or law.time_zones[0])
    job = make_job(site=site)
    ticket = make_ticket(job)
    answer_all(ticket, at=ticket.opens_at)
    assert ticket.start_by is not None
    assert ticket.closes_at <= ticket.start_by
    assert verdict_of(job, ticket.start_by).state is State.EXPIRED
    begun = ticket.opens_at + HOUR
    services.note_work_begun(job=job, actor=dispatcher(), at=begun, now=begun)
    ticket.refresh_from_db()
    assert ticket.lapses_at is not None
    before, lapsed = ticket.lapses_at - HOUR, ticket.lapses_at
    if ticket.closes_at is None or ticket.closes_at > lapsed:
        assert verdict_of(job, before).may_dig
    assert verdict_of(job, lapsed).state is State.EXPIRED
    services.note_work_begun(job=job, actor=dispatcher(), at=lapsed - DAY, now=lapsed - DAY)
    ticket.refresh_from_db()
    assert ticket.lapses_at > lapsed


def test_a_change_of_the_laws_data_is_shown_until_it_is_derived_anew() -> None:
    job = make_clear_job()
    job.tickets.update(rule_digest="0" * 64)
    assert any("compute it again" in reason.words for reason in verdict_of(job, NOW).reasons)
    services.refresh_job(job=job, now=NOW)
    assert not any("compute it again" in reason.words for reason in verdict_of(job, NOW).reasons)


def test_a_version_of_the_law_that_is_gone_is_not_known() -> None:
    job = make_clear_job()
    job.tickets.update(rule_version="VA@1066-10-14")
    assert verdict_of(job, NOW).state is State.UNKNOWN
