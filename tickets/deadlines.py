"""Ticket -> law -> stored window and follow-ups: the only place where the legal clock's answer is stored.
Pages that show a window before anything is saved ask the clock themselves.

Re-derived whenever a fact changes; what comes out depends on the facts alone, so deriving again changes
nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from locates.errors import FirstspadeError
from locates.law.decision import Decision
from locates.law.rule import Begins, EarlyStart, Ends, Overlay, Tier, Unit, Wait
from locates.law.rule import Ground as LawGround
from locates.law.window import clock_for, window_for
from tickets.gathering import work_begun
from tickets.models import FollowUp, Job, LocalRule, Ticket
from tickets.selectors import local_rules_of
from tickets.states import FollowUpKind, TicketKind
from tickets.verdict import Verdict
from tickets.verdict.words import instant_words

RECHECK_LEAD = timedelta(hours=12)  # the evening before a morning's dig; common practice, no source
RENEW_LEAD = timedelta(hours=24)  # a day before the last call to renew; common practice, no source
SAME_MINUTE_S = 60
WINDOW_FIELDS = (
    "rule_version",
    "rule_digest",
    "evidence_tier",
    "opens_at",
    "early_from",
    "closes_at",
    "start_by",
    "lapses_at",
    "renew_from",
    "renew_by",
    "window_warnings",
    "window_steps",
)


def overlays_of(rules: Iterable[LocalRule]) -> tuple[Overlay, ...]:
    """The waits that the company's local rules add. A requirement alone does not touch the clock."""
    return tuple(
        Overlay(
            name=rule.name,
            place=", ".join(part for part in (rule.town, rule.county, rule.state) if part),
            wait=Wait(
                ground=LawGround(tier=Tier.MEMORY, cites=(), doubt=rule.source),
                amount=rule.wait_amount,
                unit=Unit(rule.wait_unit),
                begins=Begins(rule.wait_begins),
                ends=Ends(rule.wait_ends),
            ),
            requirement=rule.requirement,
            source=rule.source,
        )
        for rule in rules
        if rule.wait_amount is not None
    )


def derive_windows(job: Job) -> list[Ticket]:
    """Compute every ticket's window anew and store it; the tickets whose window changed."""
    overlays = overlays_of(local_rules_of(job.site))
    tickets = {t.pk: t for t in job.tickets.order_by("received_at", "pk")}
    changed = []
    for ticket in tickets.values():
        before = {name: getattr(ticket, name) for name in WINDOW_FIELDS}
        window = _window(ticket, tickets, job, overlays)
        if window != before:
            for name, value in window.items():
                setattr(ticket, name, value)
            ticket.save(update_fields=WINDOW_FIELDS)
            changed.append(ticket)
    return changed


def _window(ticket: Ticket, tickets: dict[int, Ticket], job: Job, overlays: Sequence[Overlay]) -> dict[str, Any]:
    """The window's columns. Where the law gives no answer they stay empty and the warning says why."""
    empty: dict[str, Any] = dict.fromkeys(WINDOW_FIELDS)
    empty |= {"rule_version": "", "rule_digest": "", "evidence_tier": "", "window_steps": []}
    state, zone = job.site.state, job.site.time_zone
    try:
        clock = clock_for(state, ticket.received_at, zone)
        rule = clock.version
        found = empty | {
            "rule_version": rule.id,
            "rule_digest": rule.digest,
            "evidence_tier": str(rule.evidence),
            "window_warnings": [],
        }
        if ticket.kind == TicketKind.EMERGENCY:
            return found
        if ticket.kind == TicketKind.SECOND_NOTICE:
            return found | {"opens_at": _utc(clock.second_notice_until(ticket.received_at))}
        begun = work_begun(ticket, tickets)
        decision = window_for(
            state,
            ticket.received_at,
            zone,
            stated_start=ticket.stated_start_at,
            printed_start=ticket.printed_start_at,
            printed_expiry=ticket.printed_expiry_at,
            work_begun_at=begun,
            overlays=overlays,
        )
        found |= _columns(decision)
        if ticket.kind == TicketKind.RE_MARK:
            return found | {"closes_at": None, "start_by": None, "renew_from": None, "renew_by": None}
        found["early_from"] = _early_from(ticket, decision, job, overlays, rule.answers.early_start)
        if begun is not None:
            worked_on = max(job.last_worked_on or begun.date(), begun.astimezone(ZoneInfo(zone)).date())
            found["lapses_at"] = _utc(clock.lapses_at(worked_on.toordinal()))
        return found
    except FirstspadeError as refused:
        return empty | {"window_warnings": [refused.message]}


def _columns(decision: Decision) -> dict[str, Any]:
    plain = decision.as_json()
    return {
        "opens_at": _utc(decision.opens_at),
        "closes_at": _utc(decision.closes_at),
        "start_by": _utc(decision.start_by),
        "renew_from": _utc(decision.renew_from),
        "renew_by": _utc(decision.renew_by),
        "evidence_tier": str(decision.evidence),
        "window_warnings": [*decision.warnings, *decision.doubts],
        "window_steps": plain["steps"],
    }


def _utc(at: datetime | None) -> datetime | None:
    from_zone = ZoneInfo("UTC")
    return None if at is None else at.astimezone(from_zone)


def _early_from(
    ticket: Ticket, decision: Decision, job: Job, overlays: Sequence[Overlay], rule: EarlyStart
) -> datetime | None:
    """The earliest instant of an early start, were all answers in: not before the notice counts as
    received, a start that the contractor stated, a start that the centre printed later than the law's own,
    or a local rule's wait. None where the law allows no early start."""
    if rule is EarlyStart.NEVER:
        return None
    site = job.site
    floors = [decision.deemed_at]
    bare = window_for(site.state, ticket.received_at, site.time_zone, trace=False)
    if ticket.stated_start_at is not None:
        floors.append(ticket.stated_start_at)
    printed = ticket.printed_start_at
    if printed is not None and (printed - bare.opens_at).total_seconds() >= SAME_MINUTE_S:
        floors.append(printed)
    if overlays:
        local = window_for(site.state, ticket.received_at, site.time_zone, overlays=overlays, trace=False)
        floors.append(local.opens_at)
    return _utc(max(floors))


@dataclass(frozen=True, slots=True)
class Due:
    """A follow-up that the facts ask for."""

    ticket_id: int | None
    kind: FollowUpKind
    due_at: datetime
    message: str
    even_if_past: bool = False


def derive_follow_ups(job: Job, verdict: Verdict, now: datetime, tickets: Iterable[Ticket] | None = None) -> None:
    """Make the open follow-ups what the facts ask for: keep, supersede, add. Done ones stay done. `tickets` are
    the job's with their operators and answers, from whoever has just loaded them."""
    if tickets is None:
        tickets = job.tickets.prefetch_related("operators__answers")
    wanted = {(d.ticket_id, d.kind): d for d in _wanted(job, list(tickets), verdict, now)}
    rows = list(FollowUp.objects.filter(job=job).exclude(superseded_at__isnull=False))
    settled = {(r.ticket_id, r.kind, r.due_at) for r in rows if r.done_at is not None}
    stale = []
    for row in (r for r in rows if r.done_at is None):
        due = wanted.get((row.ticket_id, FollowUpKind(row.kind)))
        if due is not None and due.due_at == row.due_at:
            del wanted[row.ticket_id, FollowUpKind(row.kind)]
            if due.message[:400] != row.message:
                FollowUp.objects.filter(pk=row.pk).update(message=due.message[:400])
        else:
            stale.append(row.pk)
    FollowUp.objects.filter(pk__in=stale, done_at__isnull=True).update(superseded_at=now)
    FollowUp.objects.bulk_create(
        FollowUp(job=job, ticket_id=d.ticket_id, kind=d.kind, due_at=d.due_at, message=d.message[:400])
        for d in wanted.values()
        if (d.due_at > now or d.even_if_past) and (d.ticket_id, d.kind, d.due_at) not in settled
    )


def _wanted(job: Job, tickets: Sequence[Ticket], verdict: Verdict, now: datetime) -> Iterable[Due]:
    if job.closed_at is not None:
        return
    renewed = {t.renews_id for t in tickets if t.renews_id and t.cancelled_at is None}
    for ticket in tickets:
        if ticket.cancelled_at is None and ticket.kind in {TicketKind.NORMAL, TicketKind.RENEWAL}:
            yield from _of_ticket(ticket, job.site.time_zone, ticket.pk in renewed, now)
    if verdict.next_change_at is not None:
        at = instant_words(verdict.next_change_at, job.site.time_zone)
        words = f"The verdict on job {job.number} may change {at}."
        yield Due(None, FollowUpKind.VERDICT_CHANGES, verdict.next_change_at, words)
    if job.next_dig_at is not None and job.next_dig_at > now:
        at = instant_words(job.next_dig_at, job.site.time_zone)
        words = f"Job {job.number}: check marks, answers and window again before the dig of {at}."
        yield Due(None, FollowUpKind.RECHECK_BEFORE_DIG, job.next_dig_at - RECHECK_LEAD, words, True)


def _of_ticket(ticket: Ticket, zone: str, is_renewed: bool, now: datetime) -> Iterable[Due]:
    def due(kind: FollowUpKind, at: datetime, words: str, past: bool = False) -> Due:
        return Due(ticket.pk, kind, at, f"Ticket {ticket.number}: {words}", past)

    alive = ticket.closes_at is None or ticket.closes_at > now
    if ticket.opens_at is not None:
        yield due(FollowUpKind.WINDOW_OPENS, ticket.opens_at, "the wait is over.")
        silent = [o.name for o in ticket.operators.all() if not o.answers.all()]
        if silent and alive:
            words = f"no answer yet from {', '.join(silent)}."
            yield due(FollowUpKind.ANSWERS_MISSING, ticket.opens_at, words, past=True)
    if ticket.closes_at is not None:
        end = instant_words(ticket.closes_at, zone)
        yield due(FollowUpKind.EXPIRES, ticket.closes_at, f"it ended {end}.")
    if is_renewed:
        return
    if ticket.renew_from is not None:
        yield due(FollowUpKind.RENEW_FROM, ticket.renew_from, "it can be renewed from now on.")
    if ticket.renew_by is not None and alive:
        words = f"last call to renew, {instant_words(ticket.renew_by, zone)}."
        yield due(FollowUpKind.RENEW_BY, ticket.renew_by - RENEW_LEAD, words, past=ticket.renew_by > now)
