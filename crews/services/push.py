"""Messages to people's browsers: who wants them where, and the sending, each device on its own.

The row is the truth and a claim a lease, as with letters. A message whose care is done by now, or whose device is
no more, is dropped; a day without an answer ends the trying, for the letter has gone out as well.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import F, Q

from crews.equipment.custody import Where
from crews.models import CareReminder, Person, PushDevice, PushMessage
from locates.push.address import check_endpoint
from locates.push.encrypt import AUTH_BYTES, from_base64url, read_point
from locates.push.refusal import NotSent, PushError
from locates.push.send import Connect, open_public, send
from locates.push.sender_key import Key, key_in, public_point, read_key
from tickets.services.refusals import BadInput, Conflict, Forbidden, need_person

KEY_FILE = "push_key.pem"
MOST_DEVICES = 10
LEASE = timedelta(minutes=5)
FIRST_RETRY, LONGEST_RETRY = timedelta(minutes=1), timedelta(hours=6)
GIVE_UP_AFTER = timedelta(hours=24)
SILENT = frozenset({Where.RETIRED, Where.LOST, Where.STOLEN})


@dataclass(frozen=True, slots=True)
class PushClaim:
    """A message taken by one worker."""

    message_id: int
    token: str


def sender_key() -> Key:
    """The installation's key: from the settings, else made once in the data directory."""
    given = settings.VAPID_PRIVATE_KEY
    return read_key(given) if given else key_in(settings.DATA_DIR / KEY_FILE)


def sender_point() -> str:
    """What a browser is told when it subscribes."""
    return public_point(sender_key())


@transaction.atomic
def add_push_device(*, endpoint: str, p256dh: str, auth: str, name: str, actor: Person, now: datetime) -> PushDevice:
    """A browser of the actor's wants reminders. A device that somebody else had is the actor's from now on."""
    need_person(actor)
    check_endpoint(endpoint)
    read_point(from_base64url(p256dh, "p256dh"))
    if len(from_base64url(auth, "auth")) != AUTH_BYTES:
        words = "That is no secret of a browser; subscribe again."
        raise PushError(words, fields={"auth": words})
    digest = hashlib.sha256(endpoint.encode()).hexdigest()
    live = PushDevice.objects.filter(person=actor, ended_at=None).exclude(endpoint_sha256=digest)
    if live.count() >= MOST_DEVICES:
        words = f"You have {MOST_DEVICES} devices; stop one of them first."
        raise Conflict(words, fields={"endpoint": words})
    facts = {
        "person": actor,
        "endpoint": endpoint,
        "p256dh": p256dh,
        "auth": auth,
        "name": name.strip()[:80] or "A browser",
        "made_at": now,
        "ended_at": None,
        "end_words": "",
    }
    device, is_new = PushDevice.objects.update_or_create(endpoint_sha256=digest, defaults=facts)
    if not is_new:  # what waited for whoever had the device before is not the actor's to read
        PushMessage.objects.filter(device=device, done_at=None, dropped_at=None).update(dropped_at=now)
    return device


@transaction.atomic
def end_push_device(*, device: PushDevice, actor: Person, now: datetime) -> None:
    """No more reminders there: the person's own wish, or the owner's."""
    if device.person_id != actor.pk and not actor.is_owner:
        raise Forbidden("Only the person whose device it is, or the owner, may stop it.")
    _end(device.pk, "Stopped by hand.", now)


def _end(device_id: int, words: str, now: datetime) -> None:
    PushDevice.objects.filter(pk=device_id, ended_at=None).update(ended_at=now, end_words=words[:200])
    PushMessage.objects.filter(device=device_id, done_at=None, dropped_at=None).update(dropped_at=now)


@transaction.atomic
def ask_push_trial(*, device: PushDevice, actor: Person, now: datetime) -> PushMessage:
    """One message, so that the person sees that it works."""
    if device.person_id != actor.pk:
        raise Forbidden("That is not your device.")
    if device.ended_at is not None:
        raise Conflict("Reminders to that device were stopped; turn them on again there.")
    if PushMessage.objects.filter(device=device, reminder=None, done_at=None, dropped_at=None).exists():
        raise BadInput("A trial is on its way already; it takes up to a minute.")
    words = "Reminders of equipment that falls due will come like this."
    return _message(device, None, "Reminders work here", words, "/reminders/", now)


def queue_reminder(reminder: CareReminder, people: Iterable[Person], title: str, words: str, now: datetime) -> int:
    """One message to each live device of these people; asking again adds none. How many there are."""
    devices = list(PushDevice.objects.filter(person__in=list(people), person__is_active=True, ended_at=None))
    path = f"/equipment/{reminder.item_id}/"
    made = [_message(device, reminder, title, words, path, now, save=False) for device in devices]
    PushMessage.objects.bulk_create(made, ignore_conflicts=True)
    return len(made)


def _message(
    device: PushDevice, reminder: CareReminder | None, title: str, words: str, path: str, now: datetime,
    *, save: bool = True,
) -> PushMessage:  # fmt: skip
    made = PushMessage(
        device=device,
        reminder=reminder,
        title=title[:120],
        words=words[:300],
        path=path,
        made_at=now,
        next_attempt_at=now,
    )
    if save:
        made.save()
    return made


def claim_pushes(*, now: datetime, limit: int = 100) -> list[PushClaim]:
    """Up to `limit` messages that are due and nobody holds."""
    unheld = Q(claimed_at=None) | Q(claimed_at__lte=now - LEASE)
    free = Q(done_at=None, dropped_at=None, next_attempt_at__lte=now) & unheld
    claims = []
    due = PushMessage.objects.filter(free).order_by("next_attempt_at", "pk")
    for pk in list(due.values_list("pk", flat=True)[:limit]):
        token = secrets.token_hex(16)
        row = PushMessage.objects.filter(free, pk=pk)
        if row.update(claimed_at=now, claim_token=token, attempts=F("attempts") + 1) == 1:
            claims.append(PushClaim(pk, token))
    return claims


def send_push(*, message_id: int, token: str, now: datetime, connect: Connect = open_public) -> bool:
    """Send one message. False when the claim no longer stands or nothing is to be sent any more; a fault stays on
    the row, and it is tried again later."""
    held = PushMessage.objects.filter(pk=message_id, claim_token=token, done_at=None, dropped_at=None)
    row = held.select_related("device__person", "reminder__item").first()
    if row is None:
        return False
    if not _is_wanted(row):
        held.update(dropped_at=now)
        return False
    device = row.device
    text = json.dumps({"title": row.title, "words": row.words, "path": row.path, "tag": _tag(row)})
    try:
        send(
            text.encode(),
            endpoint=device.endpoint,
            receiver=from_base64url(device.p256dh, "p256dh"),
            auth=from_base64url(device.auth, "auth"),
            key=sender_key(),
            contact=settings.VAPID_SUBJECT,
            now=now,
            topic=_tag(row),
            connect=connect,
        )
    except NotSent as fault:
        _put_off(row, token, fault, now)
        return False
    held.update(done_at=now, last_error="")
    PushDevice.objects.filter(pk=device.pk).update(reached_at=now)
    return True


def _is_wanted(row: PushMessage) -> bool:
    device, reminder = row.device, row.reminder
    if device.ended_at is not None or not device.person.is_active:
        return False
    if reminder is None:
        return True
    return reminder.item.due_on == reminder.due_on and Where(reminder.item.place) not in SILENT


def _tag(row: PushMessage) -> str:
    """One item's reminders take each other's place on the screen and at the push service."""
    return "trial" if row.reminder is None else f"care-{row.reminder.item_id}"


@transaction.atomic
def _put_off(row: PushMessage, token: str, fault: NotSent, now: datetime) -> None:
    held = PushMessage.objects.filter(pk=row.pk, claim_token=token)
    if fault.gone:
        held.update(last_error=str(fault)[:300])
        _end(row.device_id, str(fault), now)
        return
    rest = min(FIRST_RETRY * 2 ** min(row.attempts - 1, 12), LONGEST_RETRY)
    if fault.again_after_s is not None:
        rest = max(rest, timedelta(seconds=fault.again_after_s))
    is_over = now + rest - row.made_at > GIVE_UP_AFTER
    held.update(
        claimed_at=None,
        claim_token="",
        next_attempt_at=now + rest,
        last_error=str(fault)[:300],
        dropped_at=now if is_over else None,
    )
