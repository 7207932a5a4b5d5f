"""Reminders on people's browsers: to whom, once, again after a fault, and no more when done or gone."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core import mail

from crews import services
from crews.models import Crew, Equipment, Person, PushDevice, PushMessage
from crews.services.push import (
    GIVE_UP_AFTER,
    MOST_DEVICES,
    add_push_device,
    claim_pushes,
    end_push_device,
    send_push,
    sender_point,
)
from crews.services.reminders import claim_reminders, send_reminder
from locates.push.refusal import PushError
from tests.crews.factories import CrewFactory, PersonFactory
from tests.locates.push.service import HOST, Browser, Service, push_service, who_sends
from tickets.services.refusals import Conflict, Forbidden

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 9, 1, 14, tzinfo=UTC)
DUE = date(2026, 10, 15)
Browsers = dict[str, Browser]


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    with push_service(tmp_path_factory.mktemp("push")) as made:
        yield made


@pytest.fixture(autouse=True)
def quiet(service: Service, settings: Any, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path
    service.arrived.clear()
    service.answers.clear()


@pytest.fixture
def people() -> dict[str, Person]:
    return {
        "owner": PersonFactory(owner=True, email="owner@example.com"),
        "dispatcher": PersonFactory(dispatcher=True),
        "member": PersonFactory(crew=CrewFactory()),
        "stranger": PersonFactory(crew=CrewFactory()),
    }


@pytest.fixture
def item(people: dict[str, Person]) -> Equipment:
    crew: Crew | None = people["member"].crew
    return services.add_equipment(
        kind="receiver", name="R 3", serial="S", crew=crew, calibration_due_on=DUE, actor=people["owner"], now=NOW
    )


@pytest.fixture
def browsers(people: dict[str, Person]) -> Browsers:
    made = {}
    for who, person in people.items():
        made[who] = Browser()
        add(person, made[who], who)
    return made


def add(person: Person, browser: Browser, path: str, **more: Any) -> PushDevice:
    given: dict[str, Any] = {"endpoint": f"https://{HOST}/{path}", "name": "Phone", "actor": person, "now": NOW}
    return add_push_device(**{**given, **browser.keys(), **more})


def day(offset: int) -> datetime:
    return datetime(2026, 10, 15, 12, 0, tzinfo=UTC) + timedelta(days=offset)  # 8:00 AM EDT


def run(service: Service, browsers: Browsers, at: datetime) -> dict[str, dict[str, str]]:
    """What one sweep brings to whose browser, as that browser reads it."""
    service.arrived.clear()
    for claim in claim_reminders(now=at):
        send_reminder(reminder_id=claim.reminder_id, token=claim.token, now=at)
    for taken in claim_pushes(now=at):
        send_push(message_id=taken.message_id, token=taken.token, now=at, connect=service.connect)
    return {path[1:]: json.loads(browsers[path[1:]].read(body)) for path, _, body in service.arrived}


def test_it_escalates_and_stops_when_it_is_done(
    service: Service, item: Equipment, people: dict[str, Person], browsers: Browsers
) -> None:
    assert run(service, browsers, NOW) == {}
    first = run(service, browsers, day(-30))
    assert list(first) == ["dispatcher"]
    assert first["dispatcher"] == {
        "title": "R 3",
        "words": "Bench calibration falls due Thu 15 Oct 2026.",
        "path": f"/equipment/{item.pk}/",
        "tag": f"care-{item.pk}",
    }
    assert set(run(service, browsers, day(-7))) == {"dispatcher", "member"}
    assert set(run(service, browsers, day(0))) == {"dispatcher", "member", "owner"}
    assert "overdue" in run(service, browsers, day(3))["owner"]["words"]
    services.record_result(
        item=item, key="calibration", done_on=date(2026, 10, 19), passed=True, actor=people["owner"], now=day(4)
    )
    assert run(service, browsers, day(60)) == {}


def test_it_says_who_sends_with_the_installations_own_key(
    service: Service, item: Equipment, browsers: Browsers, tmp_path: Path
) -> None:
    run(service, browsers, day(-30))
    headers = service.arrived[0][1]
    claims, key = who_sends(headers["Authorization"])
    assert (claims["aud"], claims["sub"]) == (f"https://{HOST}", "mailto:firstspade@localhost")
    assert key == sender_point()
    assert headers["Topic"] == f"care-{item.pk}"
    assert (tmp_path / "push_key.pem").exists()


def test_a_fault_is_tried_again_with_longer_and_longer_rests(
    service: Service, item: Equipment, browsers: Browsers
) -> None:
    service.answers += [(503, {}), (503, {}), (429, {"Retry-After": "3600"})]
    start = day(-30)
    assert run(service, browsers, start)
    row = PushMessage.objects.get()
    assert (row.done_at, row.next_attempt_at) == (None, start + timedelta(minutes=1))
    assert "answered 503" in row.last_error
    assert run(service, browsers, start + timedelta(seconds=59)) == {}
    assert run(service, browsers, start + timedelta(minutes=1))
    assert PushMessage.objects.get().next_attempt_at == start + timedelta(minutes=3)
    assert run(service, browsers, start + timedelta(minutes=3))
    assert PushMessage.objects.get().next_attempt_at == start + timedelta(minutes=63)
    assert run(service, browsers, start + timedelta(minutes=63))
    row = PushMessage.objects.get()
    assert (row.done_at, row.attempts) == (start + timedelta(minutes=63), 4)
    assert run(service, browsers, start + timedelta(hours=2)) == {}


def test_after_a_day_of_faults_it_gives_up(service: Service, item: Equipment, browsers: Browsers) -> None:
    service.answers += [(500, {})] * 50
    at = day(-30)
    while PushMessage.objects.filter(dropped_at=None).exists() or not PushMessage.objects.exists():
        run(service, browsers, at)
        at = PushMessage.objects.get().next_attempt_at
    row = PushMessage.objects.get()
    assert row.done_at is None
    assert row.dropped_at is not None
    assert row.dropped_at - row.made_at <= GIVE_UP_AFTER
    assert PushDevice.objects.get(pk=row.device_id).ended_at is None


@pytest.mark.parametrize("status", [404, 410])
def test_a_device_that_is_gone_hears_no_more(
    service: Service, item: Equipment, browsers: Browsers, status: int
) -> None:
    service.answers.append((status, {}))
    run(service, browsers, day(-30))
    device = PushDevice.objects.get(person__role="dispatcher")
    assert (device.ended_at, str(status) in device.end_words) == (day(-30), True)
    assert set(run(service, browsers, day(-7))) == {"member"}


def test_what_is_done_before_the_try_is_not_sent(
    service: Service, item: Equipment, people: dict[str, Person], browsers: Browsers
) -> None:
    service.answers.append((503, {}))
    run(service, browsers, day(-30))
    services.record_result(
        item=item, key="calibration", done_on=date(2026, 9, 15), passed=True, actor=people["owner"], now=day(-30)
    )
    assert run(service, browsers, day(-29)) == {}
    assert PushMessage.objects.get().dropped_at == day(-29)


def test_a_log_in_that_ended_hears_no_more(
    service: Service, item: Equipment, people: dict[str, Person], browsers: Browsers
) -> None:
    services.change_person(person=people["dispatcher"], actor=people["owner"], is_active=False)
    assert list(run(service, browsers, day(-30))) == ["owner"]  # nobody else can be reached


def test_one_message_a_device_whoever_sweeps(service: Service, item: Equipment, browsers: Browsers) -> None:
    for claim in claim_reminders(now=day(-30)):
        send_reminder(reminder_id=claim.reminder_id, token=claim.token, now=day(-30))
    first, second = claim_pushes(now=day(-30)), claim_pushes(now=day(-30))
    assert (len(first), len(second)) == (1, 0)
    for _ in range(2):
        send_push(message_id=first[0].message_id, token=first[0].token, now=day(-30), connect=service.connect)
    assert len(service.arrived) == 1


def test_a_fault_of_the_mail_holds_up_no_phone_and_doubles_no_message(
    service: Service, item: Equipment, people: dict[str, Person], browsers: Browsers, monkeypatch: pytest.MonkeyPatch
) -> None:
    Person.objects.filter(pk=people["dispatcher"].pk).update(email="office@example.com")
    claim = claim_reminders(now=day(-30))[0]
    with monkeypatch.context() as patch:
        patch.setattr("crews.services.reminders.EmailMessage.send", lambda self: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            send_reminder(reminder_id=claim.reminder_id, token=claim.token, now=day(-30))
    assert list(run(service, browsers, day(-30))) == ["dispatcher"]
    mail.outbox.clear()
    assert run(service, browsers, day(-30) + timedelta(hours=1)) == {}
    assert [letter.to for letter in mail.outbox] == [["office@example.com"]]


def test_a_device_goes_over_to_who_subscribes_on_it(people: dict[str, Person], browsers: Browsers) -> None:
    device = add(people["owner"], browsers["member"], "member", name="Shared tablet")
    assert (device.person, device.name) == (people["owner"], "Shared tablet")
    assert PushDevice.objects.count() == 4


def test_stopping_is_the_persons_own_or_the_owners(people: dict[str, Person], browsers: Browsers) -> None:
    device = PushDevice.objects.get(person=people["member"])
    with pytest.raises(Forbidden):
        end_push_device(device=device, actor=people["dispatcher"], now=NOW)
    end_push_device(device=device, actor=people["member"], now=NOW)
    device.refresh_from_db()
    assert device.ended_at == NOW


def test_a_trial_comes_once(service: Service, people: dict[str, Person], browsers: Browsers) -> None:
    device = PushDevice.objects.get(person=people["member"])
    services.ask_push_trial(device=device, actor=people["member"], now=NOW)
    with pytest.raises(Exception, match="on its way already"):
        services.ask_push_trial(device=device, actor=people["member"], now=NOW)
    with pytest.raises(Forbidden):
        services.ask_push_trial(device=device, actor=people["owner"], now=NOW)
    assert run(service, browsers, NOW)["member"]["title"] == "Reminders work here"


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"endpoint": "http://push.firstspade-trial.com/a"}, "endpoint"),
        ({"endpoint": "https://169.254.169.254/latest"}, "endpoint"),
        ({"endpoint": "https://redis.internal/a"}, "endpoint"),
        ({"p256dh": "AAAA"}, "p256dh"),
        ({"p256dh": "!!"}, "p256dh"),
        ({"auth": "AAAA"}, "auth"),
        ({"auth": "+/+/"}, "auth"),
    ],
)
def test_bad_input_is_refused_beside_its_field(people: dict[str, Person], wrong: dict[str, str], field: str) -> None:
    with pytest.raises(PushError) as refused:
        add(people["owner"], Browser(), "x", **wrong)
    assert list(refused.value.fields) == [field]
    assert not PushDevice.objects.exists()


def test_nobody_piles_up_devices(people: dict[str, Person]) -> None:
    for number in range(MOST_DEVICES):
        add(people["owner"], Browser(), f"d{number}")
    with pytest.raises(Conflict, match="stop one of them"):
        add(people["owner"], Browser(), "one-more")
    assert add(people["owner"], Browser(), "d3").pk
