"""(facts, now) -> verdict: may we dig, all reasons, what would change it, the next change by itself. Pure.

Every comparison with the clock has the form `instant <= now`, and every such instant is a candidate for
the next change, so that the verdict is constant from `now` until `next_change_at` and differs at it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime

from locates.errors import FirstspadeError
from tickets.states import State, TicketKind
from tickets.verdict.areas import Area, overhang_m, parse_area
from tickets.verdict.blocker import Blocker, blocker, worst
from tickets.verdict.emergency import emergency_verdict, open_emergency
from tickets.verdict.facts import Facts, TicketFacts
from tickets.verdict.reading import STANDS_ALONE, Reading, closing_from, read_ticket
from tickets.verdict.result import Kind, Reason, Verdict
from tickets.verdict.siting import notes_of_job, of_job
from tickets.verdict.words import instant_words, listed

UNVERIFIED = "unverified: confirm with the notification centre"


class Case:
    """One job's facts with what does not depend on the clock worked out once: areas and followers."""

    def __init__(self, facts: Facts) -> None:
        self.facts = facts
        self.digs = _areas(facts.dig_areas)
        self.covers = {t.number: _areas((t.area,)) for t in facts.tickets if t.area is not None}
        self.candidates = tuple(t for t in facts.tickets if t.kind in STANDS_ALONE)
        self.followers = {t.number: tuple(f for f in facts.tickets if f.follows == t.number) for t in self.candidates}
        self._overhangs = {t.number: self.overhang((t.number,)) for t in self.candidates}

    def overhang(self, numbers: Iterable[str]) -> float | None:
        """How far the dig areas stick out of these tickets' areas together; None: cannot be known."""
        covers = [self.covers.get(number) for number in numbers]
        if not self.digs or any(cover is None for cover in covers):
            return None
        together = [area for cover in covers for area in cover or ()]
        return max(overhang_m(dig, together) for dig in self.digs)

    def read(self, at: datetime) -> tuple[Reading, ...]:
        """Every ticket of its own standing, read at an instant."""
        zone = self.facts.time_zone
        return tuple(
            read_ticket(t, self.followers[t.number], self._overhangs[t.number], at, zone) for t in self.candidates
        )

    def instants(self) -> list[datetime]:
        """Every instant at which the verdict might change, in order."""
        facts = self.facts
        found: list[datetime | None] = [facts.closed_at]
        for t in facts.tickets:
            found += [t.received_at, t.cancelled_at, t.opens_at, t.early_from, t.closes_at, t.start_by]
            ends = [e for e in (t.closes_at, t.lapses_at) if e is not None]
            found += [t.lapses_at, closing_from(t, min(ends, default=None)), t.renew_from, t.renew_by]
            for operator in t.operators:
                found += [i for a in operator.answers for i in (a.answered_at, a.holds_until)]
        found += [s.seen_at for s in facts.sightings] + [i for m in facts.locates for i in (m.made_at, m.doubted_at)]
        for e in facts.emergencies:
            found += [e.declared_at, e.closed_at, e.centre_told_at, e.operators_told_at]
        found += [r.confirmed_at for r in facts.local_rules]
        return sorted({at for at in found if at is not None})


def _areas(polygons: Sequence[object]) -> tuple[Area, ...] | None:
    """None when one of them cannot be read: what it covers is then not known."""
    try:
        return tuple(parse_area(polygon) for polygon in polygons)
    except FirstspadeError:
        return None


def verdict(facts: Facts, now: datetime) -> Verdict:
    """The verdict on one job at `now` (aware). Never says dig when a fact is missing."""
    return verdict_of_case(Case(facts), now)


def verdict_of_case(case: Case, now: datetime) -> Verdict:
    """As `verdict`, for a case asked at several instants."""
    if now.tzinfo is None:
        raise ValueError("The verdict needs an aware instant.")
    present = _at(case, now)
    for instant in case.instants():
        if instant > now and _at(case, instant) != present:
            return replace(present, next_change_at=instant)
    return present


def _at(case: Case, at: datetime) -> Verdict:
    readings = case.read(at)
    job_blockers = of_job(case.facts, at)
    emergency = open_emergency(case.facts, at)
    if emergency is not None:
        rule = next((r.ticket.rule for r in readings if r.ticket.rule), None)
        rule = rule or next((t.rule for t in case.facts.tickets if t.rule), None)
        return emergency_verdict(case.facts, emergency, rule, [b.reason for b in job_blockers])
    clear = _clear_readings(case, readings)
    if clear and not job_blockers:
        return _clear(case, clear, at)
    return _not_clear(case, readings, clear, job_blockers, at)


def _clear_readings(case: Case, readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """The ticket to dig under: the one good for longest, else those that cover the ground together."""
    sound = [r for r in readings if not r.blockers]
    alone = [r for r in sound if not r.area_blockers]
    if alone:
        return (max(alone, key=lambda r: (r.closes_at is None, r.closes_at and r.closes_at.timestamp())),)
    drawn = [r for r in sound if r.ticket.area is not None]
    if len(drawn) > 1 and case.overhang(r.ticket.number for r in drawn) == 0.0:
        return tuple(sorted(drawn, key=lambda r: (r.closes_at is None, r.closes_at and r.closes_at.timestamp())))
    return ()


def _clear(case: Case, used: Sequence[Reading], at: datetime) -> Verdict:
    facts = case.facts
    closes_at = min((r.closes_at for r in used if r.closes_at is not None), default=None)
    numbers = listed(r.ticket.number for r in used)
    noun = "ticket" if len(used) == 1 else "tickets"
    until = f" until {instant_words(closes_at, facts.time_zone)}" if closes_at is not None else ""
    closing = any(_is_closing(case, r, at) for r in used)
    sentence = f"Digging is lawful now under {noun} {numbers}{until}."
    if closing:
        sentence = f"Digging is lawful under {noun} {numbers} only{until}: renew or finish."
    notes = [n for r in used for n in (*_grounds(r, facts.time_zone), *r.notes)] + notes_of_job(facts, at)
    change = [w for r in used for w in _renewal_words(r.ticket, at, facts.time_zone)] if closing else []
    state = State.CLOSING if closing else State.CLEAR
    return _made(case, state, sentence, notes, change, used, closes_at)


def _grounds(reading: Reading, time_zone: str) -> list[Reason]:
    """Why it is clear, each with its citation."""
    ticket, rule = reading.ticket, reading.ticket.rule
    assert rule is not None
    assert reading.opens_at is not None
    found = [
        Reason(
            f"The wait of ticket {ticket.number} ended {instant_words(reading.opens_at, time_zone)}.",
            rule.cite("wait"),
            Kind.WAIT,
            blocks=False,
        )
    ]
    if reading.closes_at is not None:
        words = f"Ticket {ticket.number} is good until {instant_words(reading.closes_at, time_zone)}."
    else:
        words = f"Ticket {ticket.number} has no fixed end while work goes on and the marks can be read."
    found.append(Reason(words, rule.cite("validity"), Kind.EXPIRY, blocks=False))
    return found


def _is_closing(case: Case, reading: Reading, at: datetime) -> bool:
    """Closing soon, unless a renewal on file opens no later than this ticket ends."""
    begins = closing_from(reading.ticket, reading.closes_at)
    if begins is None or at < begins or reading.closes_at is None:
        return False
    return not any(
        t.renews == reading.ticket.number
        and t.received_at <= at
        and (t.cancelled_at is None or t.cancelled_at > at)
        and t.opens_at is not None
        and t.opens_at <= reading.closes_at
        for t in case.candidates
    )


def _renewal_words(ticket: TicketFacts, at: datetime, time_zone: str) -> list[str]:
    if ticket.renew_by is None:
        return ["Give a new notice now if the work will go on: its wait must run out first."]
    last = instant_words(ticket.renew_by, time_zone)
    if at >= ticket.renew_by:
        return [f"The last call to renew without a stop was {last}; a renewal now means a stop."]
    return [f"Renew with the notification centre by {last}."]


def _not_clear(
    case: Case,
    readings: Sequence[Reading],
    clear: Sequence[Reading],
    job_blockers: list[Blocker],
    at: datetime,
) -> Verdict:
    if clear:
        chosen, ticket_blockers = clear[0], []
    elif readings:
        chosen = min(readings, key=_hope)
        ticket_blockers = list(chosen.all_blockers)
    else:
        return _no_ticket(case, job_blockers)
    blockers = job_blockers + ticket_blockers
    first = worst(blockers)
    others = [r for r in readings if r is not chosen]
    notes = [*chosen.notes, *_other_tickets(others), *notes_of_job(case.facts, at)]
    reasons = [first.reason, *(b.reason for b in blockers if b is not first), *notes]
    change = [first.remedy, *(b.remedy for b in blockers if b is not first)]
    sentence = f"Do not dig: {_lower(first.reason.words)}"
    return _made(case, first.state, sentence, reasons, change, (chosen,), chosen.closes_at)


def _hope(reading: Reading) -> tuple[bool, int, bool, float]:
    """The ticket most worth speaking of first: it covers the ground, least is wrong, newest."""
    found = reading.all_blockers
    rank = (State.WAITING, State.UNKNOWN, State.EXPIRED, State.STOP)
    return (
        bool(reading.area_blockers),
        rank.index(worst(found).state) if found else -1,
        reading.ticket.kind is not TicketKind.RENEWAL,
        -reading.ticket.received_at.timestamp(),
    )


def _other_tickets(readings: Iterable[Reading]) -> list[Reason]:
    found = []
    for reading in readings:
        if reading.all_blockers:
            reason = worst(reading.all_blockers).reason
            found.append(replace(reason, blocks=False))
    return found


def _no_ticket(case: Case, job_blockers: list[Blocker]) -> Verdict:
    words = "No ticket is on file for this job."
    if any(t.kind is TicketKind.EMERGENCY for t in case.facts.tickets):
        words = "The job has an emergency ticket only, and no emergency dig is open."
    missing = blocker(State.UNKNOWN, Kind.TICKET, words, "Give notice to the notification centre.")
    blockers = [*job_blockers, missing]
    first = worst(blockers)
    reasons = [first.reason, *(b.reason for b in blockers if b is not first)]
    change = [first.remedy, *(b.remedy for b in blockers if b is not first)]
    sentence = f"Do not dig: {_lower(first.reason.words)}"
    return _made(case, first.state, sentence, reasons, change, (), None)


def _lower(words: str) -> str:
    """The first letter small, unless the word is a name or a number."""
    head = words.split(" ", 1)[0]
    return words[0].lower() + words[1:] if head in _OPENERS else words


_OPENERS = frozenset({"The", "No", "An", "On", "It", "Work", "Lines", "Ticket"})


def _made(
    case: Case,
    state: State,
    sentence: str,
    reasons: Sequence[Reason],
    change: Sequence[str],
    used: Sequence[Reading],
    closes_at: datetime | None,
) -> Verdict:
    rules = [r.ticket.rule for r in used if r.ticket.rule is not None]
    opens = [r.opens_at for r in used if r.opens_at is not None]
    renew_by = [r.ticket.renew_by for r in used if r.ticket.renew_by is not None]
    renew_from = [r.ticket.renew_from for r in used if r.ticket.renew_from is not None]
    unverified = any(not rule.verified for rule in rules)
    zones = dict.fromkeys(f"{rule.zone_words} ({rule.cite('zone')})" for rule in rules if rule.zone_words)
    cautions = [*([f"{UNVERIFIED[0].upper()}{UNVERIFIED[1:]}."] if unverified else []), *zones]
    if state in {State.CLEAR, State.CLOSING}:
        cautions.append("Hold the marks against the answers before the first spade; if they differ, stop.")
    return Verdict(
        state=state,
        sentence=sentence,
        reasons=tuple(dict.fromkeys(reasons)),
        would_change=tuple(dict.fromkeys(change)),
        opens_at=max(opens, default=None),
        closes_at=closes_at,
        renew_from=max(renew_from, default=None),
        renew_by=min(renew_by, default=None),
        tickets=tuple(r.ticket.number for r in used),
        unverified=unverified,
        cautions=tuple(cautions),
    )
