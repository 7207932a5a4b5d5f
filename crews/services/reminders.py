"""Letters about care that falls due: one open row an item, escalating, ended by a good result.

The row is the truth; a task only claims what is due. A claim is a lease with a token, so that two workers
write one letter; a worker that dies after sending and before noting it may write it twice, never not at all.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.core.mail import EmailMessage
from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone

from crews.equipment.custody import Where
from crews.models import CareReminder, Equipment, Person, Role
from crews.services.push import queue_reminder
from crews.words import day_words

# Days before (below zero) and after the due day; afterwards every week. Common practice, no source.
STAGES = (-30, -7, 0, 3, 7)
WEEKLY = 7
AT = time(8, 0)
LEASE = timedelta(minutes=5)
FIRST_RETRY = timedelta(minutes=1)
LONGEST_RETRY = timedelta(hours=6)
SILENT = frozenset({Where.RETIRED, Where.LOST, Where.STOLEN})


@dataclass(frozen=True, slots=True)
class ReminderClaim:
    """A due reminder taken by one worker."""

    reminder_id: int
    token: str


def plan_reminder(item: Equipment, now: datetime) -> None:
    """The one open reminder that the item's due day asks for; none for what is gone or has no day."""
    open_rows = CareReminder.objects.filter(item=item, done_at=None, superseded_at=None)
    wanted = None if item.due_on is None or Where(item.place) in SILENT else item.due_on
    standing = open_rows.first()
    if standing is not None and standing.due_on != wanted:
        open_rows.update(superseded_at=now)
        standing = None
    if wanted is not None and standing is None:
        _open(item.pk, wanted, _first_stage(item.pk, wanted, now))


def _first_stage(item_id: int, due_on: date, now: datetime) -> int:
    """The latest stage already reached, so that a late entry brings one letter and not five; a stage of
    which a letter has been written is not written again."""
    sent = CareReminder.objects.filter(item=item_id, due_on=due_on).exclude(done_at=None)
    last = sent.order_by("-stage_days").values_list("stage_days", flat=True).first()
    if last is not None:
        return next_stage(last)
    reached = [stage for stage in STAGES if _instant(due_on, stage) <= now]
    return reached[-1] if reached else STAGES[0]


def next_stage(stage: int) -> int:
    """What follows a letter."""
    return next((later for later in STAGES if later > stage), stage + WEEKLY)


def _stage_ahead(due_on: date, stage: int, now: datetime) -> int:
    """The next stage whose instant is still to come: what has passed unsaid is not said one by one."""
    stage = next_stage(stage)
    while _instant(due_on, stage) <= now:
        stage = next_stage(stage)
    return stage


def _instant(due_on: date, stage: int) -> datetime:
    day = due_on + timedelta(days=stage)
    return datetime.combine(day, AT, timezone.get_default_timezone())


def _open(item_id: int, due_on: date, stage: int) -> None:
    CareReminder.objects.create(item_id=item_id, due_on=due_on, stage_days=stage, due_at=_instant(due_on, stage))


def claim_reminders(*, now: datetime, limit: int = 100) -> list[ReminderClaim]:
    """Up to `limit` reminders that are due and nobody holds."""
    free = _free(now)
    claims = []
    due = CareReminder.objects.filter(free, due_at__lte=now).order_by("due_at", "pk")
    for pk in list(due.values_list("pk", flat=True)[:limit]):
        token = secrets.token_hex(16)
        row = CareReminder.objects.filter(free, pk=pk)
        if row.update(claimed_at=now, claim_token=token, attempts=F("attempts") + 1) == 1:
            claims.append(ReminderClaim(pk, token))
    return claims


def _free(now: datetime) -> Q:
    rested = Q(next_attempt_at=None) | Q(next_attempt_at__lte=now)
    unheld = Q(claimed_at=None) | Q(claimed_at__lte=now - LEASE)
    return Q(done_at=None, superseded_at=None) & rested & unheld


def send_reminder(*, reminder_id: int, token: str, now: datetime) -> bool:
    """Write the letter and open the next stage. False when the claim no longer stands."""
    held = CareReminder.objects.filter(pk=reminder_id, claim_token=token, done_at=None, superseded_at=None)
    row = held.select_related("item__crew", "item__person", "item__own_kind").first()
    if row is None:
        return False
    if row.item.due_on != row.due_on:  # done in the meantime
        held.update(superseded_at=now)
        return False
    people = told(row.item, row.stage_days)
    queue_reminder(row, people, row.item.name, _said(row), now)  # before the letter: a mail fault holds up no phone
    try:
        _letter(row, people)
    except Exception as fault:
        rest = min(FIRST_RETRY * 2 ** min(row.attempts, 12), LONGEST_RETRY)
        held.update(
            claimed_at=None,
            claim_token="",
            next_attempt_at=now + rest,
            last_error=f"{type(fault).__name__}: {fault}"[:400],
        )
        raise
    with transaction.atomic():
        if held.update(done_at=now, last_error="") == 1:
            _open(row.item_id, row.due_on, _stage_ahead(row.due_on, row.stage_days, now))
    return True


def _said(row: CareReminder) -> str:
    title, day = row.item.due_title or "Calibration", day_words(row.due_on)
    if row.stage_days < 0:
        return f"{title} falls due {day}."
    if row.stage_days == 0:
        return f"{title} is due today, {day}. Today and from now on it may not be planned for a visit."
    return f"{title} has been overdue since {day}. The item may not go out."


def _letter(row: CareReminder, people: list[Person]) -> None:
    """Write it; nothing when nobody has an address."""
    readers = sorted({person.email for person in people if person.email})
    if not readers:
        return
    item, said = row.item, _said(row)
    body = (
        f"{item.name}, serial {item.serial} ({item.kind_words}), {item.place_words}.\n\n{said}\n\n"
        "Enter the result in the register and these letters stop.\n"
    )
    EmailMessage(f"{item.name}: {said}", body, to=readers).send()


def told(item: Equipment, stage: int) -> list[Person]:
    """Who is told: dispatchers first, a week before also whoever holds it, from the due day the owner; the owner
    too when nobody else can be reached."""
    wanted = Q(role=Role.DISPATCHER)
    if stage >= -7:
        wanted |= Q(crew=item.crew_id) if item.crew_id else Q(pk=item.person_id)
    if stage >= 0:
        wanted |= Q(role=Role.OWNER)
    reached = Person.objects.filter(~Q(email="") | Q(push_devices__ended_at=None, push_devices__isnull=False))
    reached = reached.filter(is_active=True).distinct().order_by("pk")
    return list(reached.filter(wanted)) or list(reached.filter(role=Role.OWNER))
