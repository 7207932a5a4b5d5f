"""Letters about due care: one at a time, to more people as it grows late, none once it is done."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core import mail

from crews import services
from crews.models import CareReminder, Crew, Equipment, Person
from crews.services.reminders import claim_reminders, send_reminder
from tests.crews.factories import CrewFactory, PersonFactory

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 9, 1, 14, tzinfo=UTC)
DUE = date(2026, 10, 15)


@pytest.fixture
def people() -> dict[str, Person]:
    crew = CrewFactory()
    return {
        "owner": PersonFactory(owner=True, email="owner@example.com"),
        "dispatcher": PersonFactory(dispatcher=True, email="office@example.com"),
        "member": PersonFactory(crew=crew, email="crew@example.com"),
    }


@pytest.fixture
def item(people: dict[str, Person]) -> Equipment:
    crew: Crew | None = people["member"].crew
    return services.add_equipment(
        kind="receiver", name="R", serial="S", crew=crew, calibration_due_on=DUE, actor=people["owner"], now=NOW
    )


def run(at: datetime) -> list[list[str]]:
    """What one sweep sends: the readers of each letter."""
    mail.outbox.clear()
    for claim in claim_reminders(now=at):
        send_reminder(reminder_id=claim.reminder_id, token=claim.token, now=at)
    return [sorted(letter.to) for letter in mail.outbox]


def day(offset: int) -> datetime:
    return datetime(2026, 10, 15, 12, 0, tzinfo=UTC) + timedelta(days=offset)  # 8:00 AM EDT


def test_letters_escalate_and_stop_when_it_is_done(item: Equipment, people: dict[str, Person]) -> None:
    office, crew, owner = "office@example.com", "crew@example.com", "owner@example.com"
    assert run(NOW) == []
    assert run(day(-30) - timedelta(minutes=1)) == []
    assert run(day(-30)) == [[office]]
    assert run(day(-29)) == []
    assert run(day(-7)) == [[crew, office]]
    assert run(day(0)) == [[crew, office, owner]]
    assert "due today" in mail.outbox[0].subject
    assert run(day(3)) == [[crew, office, owner]]
    assert run(day(7)) == [[crew, office, owner]]
    assert run(day(14)) == [[crew, office, owner]]
    assert "overdue" in mail.outbox[0].subject
    services.record_result(
        item=item, key="calibration", done_on=date(2026, 10, 29), passed=True, actor=people["owner"], now=day(15)
    )
    assert run(day(60)) == []
    assert CareReminder.objects.get(done_at=None, superseded_at=None).due_on == date(2027, 10, 29)


def test_a_late_entry_brings_one_letter_not_five(people: dict[str, Person]) -> None:
    services.add_equipment(
        kind="receiver", name="R", serial="L", calibration_due_on=date(2026, 8, 1), actor=people["owner"], now=NOW
    )
    assert len(run(NOW)) == 1
    assert len(run(NOW)) == 0


def test_two_workers_write_one_letter(item: Equipment) -> None:
    at = day(-30)
    first, second = claim_reminders(now=at), claim_reminders(now=at)
    assert (len(first), len(second)) == (1, 0)
    mail.outbox.clear()
    assert send_reminder(reminder_id=first[0].reminder_id, token=first[0].token, now=at)
    assert not send_reminder(reminder_id=first[0].reminder_id, token=first[0].token, now=at)
    assert len(mail.outbox) == 1


def test_a_dead_workers_claim_runs_out(item: Equipment) -> None:
    claim_reminders(now=day(-30))
    assert run(day(-30) + timedelta(minutes=4)) == []
    assert len(run(day(-30) + timedelta(minutes=5))) == 1


def test_a_fault_is_kept_and_tried_again(item: Equipment, monkeypatch: pytest.MonkeyPatch) -> None:
    claim = claim_reminders(now=day(-30))[0]
    with monkeypatch.context() as patch:
        patch.setattr("crews.services.reminders.EmailMessage.send", lambda self: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            send_reminder(reminder_id=claim.reminder_id, token=claim.token, now=day(-30))
    assert "ZeroDivisionError" in CareReminder.objects.get(done_at=None, superseded_at=None).last_error
    assert run(day(-30)) == []
    assert len(run(day(-30) + timedelta(minutes=5))) == 1


def test_what_is_gone_gets_no_letters(item: Equipment, people: dict[str, Person]) -> None:
    services.move_item(item=item, step="stolen", actor=people["owner"], now=NOW)
    assert run(day(0)) == []
