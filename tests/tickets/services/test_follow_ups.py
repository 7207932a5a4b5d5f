"""Due rows: claimed by one, settled once, tried again after a fault, never lost with a broker."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import datetime, timedelta
from io import StringIO
from typing import Any

import pytest
import time_machine
from celery import Celery, current_app
from celery.contrib.testing.worker import start_worker
from django.conf import settings
from django.core.management import call_command
from django.db import connection

from tests.factories import OPENS, dispatcher, make_clear_job, make_job, make_ticket
from tickets import evidence, services
from tickets.models import EvidenceEntry, FollowUp, Job
from tickets.services import Claim, claim_due, follow_ups, settle_follow_up
from tickets.services.follow_ups import FIRST_RETRY, LEASE, LONGEST_RETRY
from tickets.states import State
from tickets.tasks import settle_due, sweep_due

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
MOMENT = timedelta(microseconds=1)
pytestmark = pytest.mark.django_db


@pytest.fixture
def waiting_job(db: None) -> Job:
    """A job whose ticket opens at OPENS, with three rows due then."""
    job = make_job()
    make_ticket(job)
    return job


def settle(claim: Claim, now: datetime) -> bool:
    return settle_follow_up(follow_up_id=claim.follow_up_id, claim_token=claim.token, now=now)


def open_and_due() -> Any:
    return FollowUp.objects.filter(due_at__lte=OPENS, done_at=None, superseded_at=None)


def effects(job: Job) -> int:
    return EvidenceEntry.objects.filter(job=job, kind="follow_up_due").count()


def test_nothing_is_claimed_before_it_is_due_and_everything_at_its_instant(waiting_job: Job) -> None:
    assert claim_due(now=OPENS - MOMENT) == []
    claims = claim_due(now=OPENS)
    assert len(claims) == 3
    assert claim_due(now=OPENS) == []  # held


def test_settling_brings_the_stored_verdict_up_to_date_and_is_logged_once(waiting_job: Job) -> None:
    claims = claim_due(now=OPENS)
    # The first brings the verdict up to date, so the row that was to do just that is superseded.
    assert [settle(claim, OPENS) for claim in claims] == [True, True, False]
    assert [settle(claim, OPENS) for claim in claims] == [False] * 3  # the same messages delivered again
    assert effects(waiting_job) == 2
    assert not open_and_due().exists()
    waiting_job.refresh_from_db()
    assert waiting_job.verdict_sentence == "Do not dig: Fernbank Gas has not answered, though the wait is over."
    entry = waiting_job.evidence.filter(kind="follow_up_due").first()
    assert (entry.actor, entry.payload["due_at"]) == (None, "2026-09-11T11:00:00.000000+00:00")


def test_an_expiry_reaches_the_stored_copy_by_itself() -> None:
    job = make_clear_job()
    end = job.tickets.get().closes_at
    for moment in (end - 3 * DAY, end):
        while claims := claim_due(now=moment):
            for claim in claims:
                settle(claim, moment)
    job.refresh_from_db()
    assert job.verdict_state == State.EXPIRED
    assert job.verdict_next_change_at is None


def test_a_lost_message_is_taken_up_again_after_the_lease(waiting_job: Job) -> None:
    lost = claim_due(now=OPENS)
    assert claim_due(now=OPENS + LEASE - MOMENT) == []
    again = claim_due(now=OPENS + LEASE)
    assert {c.follow_up_id for c in again} == {c.follow_up_id for c in lost}
    assert not settle(lost[0], OPENS + LEASE)  # the old claim no longer counts
    assert settle(next(c for c in again if c.follow_up_id == lost[0].follow_up_id), OPENS + LEASE)


def test_a_fault_changes_nothing_and_rests_twice_as_long_each_time(
    waiting_job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(**_: Any) -> None:
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(follow_ups, "conclude", fail)
    FollowUp.objects.exclude(kind="window_opens").delete()
    now, rests = OPENS, []
    for _ in range(9):
        [claim] = claim_due(now=now)
        with pytest.raises(RuntimeError):
            settle(claim, now)
        row = FollowUp.objects.get()
        assert (row.done_at, row.claimed_at, row.last_error) == (None, None, "RuntimeError: the disk is full")
        rests.append(row.next_attempt_at - now)
        assert claim_due(now=row.next_attempt_at - MOMENT) == []
        now = row.next_attempt_at
    assert rests[:3] == [FIRST_RETRY, 2 * FIRST_RETRY, 4 * FIRST_RETRY]
    assert rests[-1] == LONGEST_RETRY
    assert effects(waiting_job) == 0
    monkeypatch.undo()
    [claim] = claim_due(now=now)
    assert settle(claim, now)
    assert FollowUp.objects.get(pk=claim.follow_up_id).last_error == ""


def test_a_row_superseded_while_it_is_held_is_not_settled(waiting_job: Job) -> None:
    claims = claim_due(now=OPENS)
    ticket = waiting_job.tickets.get()
    services.cancel_ticket(ticket=ticket, actor=dispatcher(), now=OPENS, reason="Called off")
    assert [settle(claim, OPENS) for claim in claims] == [False, False, False]


def test_an_operator_cannot_make_the_batch_unbounded(waiting_job: Job) -> None:
    assert len(claim_due(now=OPENS, limit=2)) == 2
    assert len(claim_due(now=OPENS, limit=2)) == 1


def test_the_command_settles_what_is_due_without_worker_or_broker(waiting_job: Job) -> None:
    out = StringIO()
    with time_machine.travel(OPENS, tick=False):
        call_command("sweep", stdout=out)
        call_command("sweep", rederive=True, stdout=out)
    assert out.getvalue().splitlines() == [
        "2 follow-ups settled.",
        "1 open jobs derived anew.",
        "0 follow-ups settled.",
    ]


def run_at_once(*calls: Callable[[], Any]) -> list[Any]:
    """Run the calls in threads of their own, started together."""
    gate, found = threading.Barrier(len(calls)), [None] * len(calls)

    def run(index: int) -> None:
        try:
            gate.wait(timeout=20)
            found[index] = calls[index]()
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(index,)) for index in range(len(calls))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return found


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_sweepers_at_once_share_the_rows_and_none_twice() -> None:
    job = make_job()
    for _ in range(6):
        make_ticket(job)
    due = open_and_due().count()
    assert due >= 12

    def sweep() -> tuple[int, int]:
        claims = claim_due(now=OPENS)
        return len(claims), sum(settle(claim, OPENS) for claim in claims)

    found = run_at_once(sweep, sweep, sweep)
    assert sum(claimed for claimed, _ in found) == due
    done = FollowUp.objects.exclude(done_at=None).count()
    assert done >= 12
    assert sum(settled for _, settled in found) == done == effects(job)
    assert not open_and_due().exists()
    payloads = EvidenceEntry.objects.filter(kind="follow_up_due").values_list("payload", flat=True)
    assert len({(p["kind"], p["ticket"]) for p in payloads}) == done


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_one_claim_delivered_to_two_workers_has_one_effect() -> None:
    job = make_job()
    make_ticket(job)
    claims = claim_due(now=OPENS)
    for claim in claims:
        found = run_at_once(lambda c=claim: settle(c, OPENS), lambda c=claim: settle(c, OPENS))
        row = FollowUp.objects.get(pk=claim.follow_up_id)
        assert sorted(found) == [False, row.done_at is not None]
    assert effects(job) == 2


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_writers_at_once_keep_the_chain_whole() -> None:
    job, actor = make_job(), dispatcher()
    ticket = make_ticket(job, operators=[f"Operator {n}" for n in range(6)])
    calls = [
        lambda o=operator: services.record_answer(operator=o, actor=actor, now=OPENS, outcome="marked")
        for operator in ticket.operators.all()
    ]
    run_at_once(*calls)
    job.refresh_from_db()
    assert evidence.verify(job) is None
    assert job.evidence.filter(kind="answer_recorded").count() == 6
    assert job.verdict_state == State.CLEAR


def through_a_worker(broker: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The beat's task through a real worker thread on the broker given; then every message once more."""
    job = make_job()
    make_ticket(job)
    monkeypatch.setattr("locates.clock.now", lambda: OPENS)
    ours = current_app._get_current_object()
    app = Celery("of-this-test", broker=broker, set_as_current=False)
    app.conf.update(task_ignore_result=True, broker_transport_options={"polling_interval": 0.05})
    app.set_current()
    try:
        with start_worker(app, pool="solo", perform_ping_check=False, shutdown_timeout=20):
            assert sweep_due() == 3
            for pk, token in FollowUp.objects.filter(due_at__lte=OPENS).values_list("pk", "claim_token"):
                settle_due.delay(pk, token)
            for _ in range(200):
                if not open_and_due().exists():
                    break
                threading.Event().wait(0.05)
    finally:
        ours.set_current()
    assert effects(job) == 2
    assert not open_and_due().exists()


@pytest.mark.django_db(transaction=True)
def test_through_the_memory_broker(monkeypatch: pytest.MonkeyPatch) -> None:
    through_a_worker("memory://", monkeypatch)


@pytest.mark.redis
@pytest.mark.django_db(transaction=True)
def test_through_redis(redis_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    through_a_worker(redis_url, monkeypatch)


def test_the_beat_calls_the_sweep() -> None:
    assert sweep_due.name in {entry["task"] for entry in settings.CELERY_BEAT_SCHEDULE.values()}


def test_a_task_that_meets_a_fault_leaves_the_row_for_the_next_sweep(
    waiting_job: Job, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail(**_: Any) -> None:
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(follow_ups, "conclude", fail)
    [first, *_] = claim_due(now=OPENS)
    with time_machine.travel(OPENS, tick=False):
        assert settle_due(first.follow_up_id, first.token) is False
    assert "will be tried again" in caplog.text
    row = FollowUp.objects.get(pk=first.follow_up_id)
    assert (row.attempts, row.next_attempt_at) == (1, OPENS + FIRST_RETRY)
