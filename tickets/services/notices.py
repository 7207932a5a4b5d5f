"""Writes of tickets: the notices given to the one-call centre."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from locates.errors import FirstspadeError
from tickets import evidence
from tickets.models import Job, Ticket, TicketOperator
from tickets.services.refusals import Conflict, Faults, need_office
from tickets.services.writing import conclude, open_job, open_ticket
from tickets.states import TICKET, Act, TicketKind, Utility
from tickets.verdict.areas import parse_area

Operators = Sequence[str | Mapping[str, str]]
CORRECTABLE = (
    "number",
    "received_at",
    "stated_start_at",
    "printed_start_at",
    "printed_expiry_at",
    "area",
    "area_words",
    "given_by_name",
)
FOLLOWERS = frozenset({TicketKind.RE_MARK, TicketKind.SECOND_NOTICE})
STAND_ALONE = frozenset({TicketKind.NORMAL, TicketKind.RENEWAL})


@transaction.atomic
def enter_ticket(
    *,
    job: Job,
    actor: Any,
    now: datetime,
    number: str,
    received_at: datetime,
    kind: str = TicketKind.NORMAL,
    operators: Operators = (),
    stated_start_at: datetime | None = None,
    printed_start_at: datetime | None = None,
    printed_expiry_at: datetime | None = None,
    area: Mapping[str, Any] | None = None,
    area_words: str = "",
    given_by_name: str = "",
    renews: Ticket | None = None,
    follows: Ticket | None = None,
) -> Ticket:
    """A notice that was given. `operators` are names, or mappings of name and utility, as the centre named
    them. A renewal names the ticket it `renews`; a re-mark or second notice the one it `follows`, whose
    area it takes when none is given."""
    need_office(actor)
    job = open_job(job, Act.ENTER_TICKET)
    renews, follows = _as_it_stands(renews), _as_it_stands(follows)
    faults = Faults()
    known = faults.word("kind", kind, TicketKind)
    ticket = Ticket(
        job=job,
        number=number.strip(),
        kind=known or TicketKind.NORMAL,
        received_at=received_at,
        stated_start_at=stated_start_at,
        printed_start_at=printed_start_at,
        printed_expiry_at=printed_expiry_at,
        area=area if area is not None or follows is None else follows.area,
        area_words=area_words.strip(),
        given_by_name=given_by_name.strip(),
        renews=renews,
        follows=follows,
    )
    _check(ticket, now, faults)
    if known is not None:
        _check_relatives(ticket, faults)
    named = _operators(operators, faults)
    faults.refuse()
    ticket.save()
    for name, utility in named:
        TicketOperator.objects.create(ticket=ticket, name=name, utility=utility)
    payload = {**_payload(ticket), "operators": [{"name": n, "utility": u} for n, u in named]}
    evidence.append(job=job, kind="ticket_entered", actor=actor, at=now, payload=payload)
    conclude(job=job, actor=actor, now=now)
    ticket.refresh_from_db()
    return ticket


def _as_it_stands(ticket: Ticket | None) -> Ticket | None:
    """The row as it is under the job's lock, not as the caller once read it."""
    return None if ticket is None else Ticket.objects.get(pk=ticket.pk)


def _check(ticket: Ticket, now: datetime, faults: Faults) -> None:
    faults.need(number=ticket.number)
    if len(ticket.number) > 48:
        faults.add("number", "is longer than 48 characters.")
    same = Ticket.objects.filter(job_id=ticket.job_id, number__iexact=ticket.number).exclude(pk=ticket.pk)
    if same.exists():
        faults.add("number", f"{ticket.number!r} is on this job already.")
    faults.instant("received_at", ticket.received_at, not_after=(now, "now"), needed=True)
    if "received_at" not in faults.by_field:
        since = (ticket.received_at, "the notice was received")
        for field in ("stated_start_at", "printed_start_at", "printed_expiry_at"):
            faults.instant(field, getattr(ticket, field), not_before=since)
    start, end = ticket.printed_start_at, ticket.printed_expiry_at
    if start is not None and end is not None and not faults.by_field and end <= start:
        faults.add("printed_expiry_at", "lies before the printed start; look at the ticket again.")
    if ticket.area is not None:
        try:
            parse_area(ticket.area, field="area")
        except FirstspadeError as refused:
            faults.take(refused)


def _check_relatives(ticket: Ticket, faults: Faults) -> None:
    kind = TicketKind(ticket.kind)
    _check_relative("renews", ticket.renews, ticket, kind is TicketKind.RENEWAL, faults)
    _check_relative("follows", ticket.follows, ticket, kind in FOLLOWERS, faults)


def _check_relative(field: str, other: Ticket | None, ticket: Ticket, is_needed: bool, faults: Faults) -> None:
    if other is None:
        if is_needed:
            faults.add(field, f"a {ticket.get_kind_display().lower()} belongs to an earlier ticket: name it.")
        return
    if not is_needed:
        faults.add(field, f"a {ticket.get_kind_display().lower()} ticket has none; leave it empty.")
    elif other.job_id != ticket.job_id:
        faults.add(field, f"ticket {other.number} is another job's.")
    elif TicketKind(other.kind) not in STAND_ALONE:
        faults.add(field, f"ticket {other.number} is a {other.get_kind_display().lower()}; name the ticket itself.")
    elif "received_at" not in faults.by_field and ticket.received_at < other.received_at:
        faults.add("received_at", f"lies before ticket {other.number} was received.")
    elif (other.life, Act.FOLLOW) not in TICKET:
        faults.add(field, f"ticket {other.number} is {other.life}; give a new notice instead.")


def _operators(given: Operators, faults: Faults) -> list[tuple[str, Utility]]:
    named: list[tuple[str, Utility]] = []
    seen: set[str] = set()
    for at, one in enumerate(given):
        name = (one if isinstance(one, str) else str(one.get("name", ""))).strip()
        utility_given = Utility.UNKNOWN if isinstance(one, str) else one.get("utility") or Utility.UNKNOWN
        utility = faults.word(f"operators.{at}.utility", utility_given, Utility)
        key = " ".join(name.casefold().split())
        if not name:
            faults.add(f"operators.{at}.name", "fill this in.")
        elif len(name) > 120:
            faults.add(f"operators.{at}.name", "is longer than 120 characters.")
        elif key in seen:
            faults.add(f"operators.{at}.name", f"{name!r} is named twice.")
        seen.add(key)
        named.append((name, utility or Utility.UNKNOWN))
    return named


@transaction.atomic
def add_operator(
    *, ticket: Ticket, actor: Any, now: datetime, name: str, utility: str = Utility.UNKNOWN
) -> TicketOperator:
    """An operator that the centre named later, or that was left out when the ticket was entered."""
    need_office(actor)
    ticket = open_ticket(ticket, Act.CORRECT)
    faults = Faults()
    [(clean, kind)] = _operators([{"name": name, "utility": utility}], faults)
    if ticket.operators.filter(name__iexact=clean).exists():
        faults.add("name", f"{clean!r} is on this ticket already.")
    faults.by_field = {field.rpartition(".")[2]: words for field, words in faults.by_field.items()}
    faults.refuse()
    operator = TicketOperator.objects.create(ticket=ticket, name=clean, utility=kind)
    payload = {"ticket": ticket.number, "operator": clean, "utility": kind}
    evidence.append(job=ticket.job, kind="operator_added", actor=actor, at=now, payload=payload)
    conclude(job=ticket.job, actor=actor, now=now)
    return operator


@transaction.atomic
def remove_operator(*, operator: TicketOperator, actor: Any, now: datetime, reason: str) -> None:
    """An operator entered by mistake, never heard and never seen. The log keeps that it was there."""
    need_office(actor)
    ticket = open_ticket(operator.ticket, Act.CORRECT)
    faults = Faults()
    faults.need(reason=reason)
    faults.refuse()
    if operator.answers.exists() or operator.sightings.exists():
        raise Conflict(f"{operator.name} has answers or sightings on file and stays on the ticket.")
    payload = {"ticket": ticket.number, "operator": operator.name, "reason": reason.strip()}
    TicketOperator.objects.filter(pk=operator.pk).delete()
    evidence.append(job=ticket.job, kind="operator_removed", actor=actor, at=now, payload=payload)
    conclude(job=ticket.job, actor=actor, now=now)


@transaction.atomic
def correct_ticket(*, ticket: Ticket, actor: Any, now: datetime, reason: str, **changes: Any) -> Ticket:
    """Correct any of CORRECTABLE. The log keeps both readings and the reason."""
    need_office(actor)
    unknown = set(changes) - set(CORRECTABLE)
    if unknown:
        raise TypeError(f"not a field that can be corrected: {', '.join(sorted(unknown))}")
    ticket = open_ticket(ticket, Act.CORRECT)
    faults = Faults()
    faults.need(reason=reason)
    if not changes:
        faults.add("non_field_errors", f"nothing to correct; give one of {', '.join(CORRECTABLE)}.")
    before = {name: getattr(ticket, name) for name in changes}
    for name, value in changes.items():
        setattr(ticket, name, value.strip() if isinstance(value, str) else value)
    _check(ticket, now, faults)
    _check_relatives(ticket, faults)
    faults.refuse()
    ticket.save(update_fields=list(changes))
    payload = {
        "ticket": ticket.number,
        "reason": reason.strip(),
        "before": before,
        "after": {name: getattr(ticket, name) for name in changes},
    }
    evidence.append(job=ticket.job, kind="ticket_corrected", actor=actor, at=now, payload=payload)
    conclude(job=ticket.job, actor=actor, now=now)
    ticket.refresh_from_db()
    return ticket


@transaction.atomic
def cancel_ticket(
    *, ticket: Ticket, actor: Any, now: datetime, reason: str, cancelled_at: datetime | None = None
) -> Ticket:
    """The centre cancelled the ticket, or the company did; `cancelled_at` is now when not given."""
    need_office(actor)
    ticket = open_ticket(ticket, Act.CANCEL)
    faults = Faults()
    faults.need(reason=reason)
    at = cancelled_at or now
    since = (ticket.received_at, "the notice was received")
    faults.instant("cancelled_at", at, not_before=since, not_after=(now, "now"))
    faults.refuse()
    ticket.cancelled_at = at
    ticket.save(update_fields=["cancelled_at"])
    payload = {"ticket": ticket.number, "cancelled_at": at, "reason": reason.strip()}
    evidence.append(job=ticket.job, kind="ticket_cancelled", actor=actor, at=now, payload=payload)
    conclude(job=ticket.job, actor=actor, now=now)
    ticket.refresh_from_db()
    return ticket


def _payload(ticket: Ticket) -> dict[str, Any]:
    return {
        "ticket": ticket.number,
        "kind": ticket.kind,
        **{name: getattr(ticket, name) for name in CORRECTABLE if name != "number"},
        "renews": None if ticket.renews is None else ticket.renews.number,
        "follows": None if ticket.follows is None else ticket.follows.number,
    }
