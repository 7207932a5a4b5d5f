"""Rows into the frozen facts that the verdict judges. Reads no database: everything is loaded before."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from locates.errors import FirstspadeError
from locates.law.load import jurisdiction
from locates.law.rule import Duty, Ground, Silence, Version, Zone
from tickets.models import EmergencyDig, Job, LocalRule, PrivateLocate, SiteSighting, Ticket, TicketOperator
from tickets.states import LocateKind, Outcome, SightingKind, TicketKind
from tickets.verdict import (
    AnswerFacts,
    EmergencyFacts,
    Facts,
    LocalRuleFacts,
    LocateFacts,
    OperatorFacts,
    RuleFacts,
    SightingFacts,
    TicketFacts,
)

RULE_CHANGED = "The law's data was changed after this window was computed: compute it again before relying on it."


@dataclass(frozen=True, slots=True)
class FactSheet:
    """A job's facts and the rows they came from, by ticket number."""

    facts: Facts
    tickets: dict[str, Ticket]


@lru_cache(maxsize=512)
def rule_facts(state: str, version_id: str) -> RuleFacts | None:
    """What the verdict needs of a version of the law; None when no such version is on file."""
    try:
        law = jurisdiction(state.upper())
    except FirstspadeError:
        return None
    version = next((v for v in law.versions if v.id == version_id), None)
    return None if version is None else _rule(version)


def _rule(version: Version) -> RuleFacts:
    second, emergency = version.second_notice, version.duties.get("emergency")
    return RuleFacts(
        version=version.id,
        digest=version.digest,
        verified=version.evidence.verified and version.wait.ground.tier.verified,
        all_must_answer=version.answers.all_must_answer,
        early_start=version.answers.early_start,
        silence_then=Silence.WAIT if second is None else second.silence_then,
        fixed_life=version.validity.span is not None,
        zone_words=zone_words(version.zone),
        emergency_words="" if emergency is None else emergency.words,
        second_notice_words="" if second is None else second.words,
        cites=_cites(version),
    )


def _cites(version: Version) -> dict[str, str]:
    grounds: dict[str, Ground | None] = {
        "wait": version.wait.ground,
        "answers": version.answers.ground,
        "validity": version.validity.ground,
        "renewal": version.renewal.ground,
        "zone": version.zone.ground,
        "begin_work": version.begin_work.ground if version.begin_work else None,
        "lapse": version.lapse.ground if version.lapse else None,
        "second_notice": version.second_notice.ground if version.second_notice else None,
    }
    duties: dict[str, Duty] = dict(version.duties)
    grounds |= {name: duty.ground for name, duty in duties.items()}
    return {name: ground.citation() for name, ground in grounds.items() if ground is not None}


def zone_words(zone: Zone) -> str:
    """The tolerance zone in feet and inches, each side, and from where it is measured."""
    feet, inches = divmod(zone.inches_each_side, 12)
    size = " ".join(part for part in (f"{feet} ft" * bool(feet), f"{inches} in" * bool(inches)) if part)
    measured = {"outer_edge": "the outer edge of the line", "mark": "the mark"}.get(
        zone.measured_from, "the centreline"
    )
    half = " plus half the line's width" if zone.plus_half_width else ""
    return f"Hand dig or vacuum within {size or '0 in'}{half} on each side of {measured}."


def facts_of_job(job: Job, rules: Iterable[LocalRule]) -> FactSheet:
    """The facts of a job loaded by `tickets.selectors.jobs_with_facts`, under the local rules given."""
    tickets = {t.pk: t for t in job.tickets.all()}
    confirmed = {c.rule_id: c.confirmed_at for c in job.local_rule_confirmations.all()}
    facts = Facts(
        time_zone=job.site.time_zone,
        dig_areas=tuple(area.polygon for area in job.dig_areas.all()),
        tickets=tuple(_ticket(t, tickets, job.site.state) for t in tickets.values()),
        sightings=tuple(_sighting(s) for s in job.sightings.all()),
        private_lines_likely=job.private_lines_likely,
        locates=tuple(_locate(m) for m in job.private_locates.all()),
        emergencies=tuple(_emergency(e) for e in job.emergencies.all()),
        local_rules=tuple(
            LocalRuleFacts(r.name, r.requirement, r.source, confirmed.get(r.pk)) for r in rules if r.requirement
        ),
        closed_at=job.closed_at,
    )
    return FactSheet(facts, {t.number: t for t in tickets.values()})


def _ticket(ticket: Ticket, tickets: dict[int, Ticket], state: str) -> TicketFacts:
    rule = rule_facts(state, ticket.rule_version) if ticket.rule_version else None
    warnings = tuple(str(words) for words in ticket.window_warnings)
    if rule is not None and rule.digest != ticket.rule_digest:
        warnings += (RULE_CHANGED,)
    return TicketFacts(
        number=ticket.number,
        kind=TicketKind(ticket.kind),
        received_at=ticket.received_at,
        rule=rule,
        opens_at=ticket.opens_at,
        closes_at=ticket.closes_at,
        early_from=ticket.early_from,
        start_by=ticket.start_by,
        lapses_at=ticket.lapses_at,
        renew_from=ticket.renew_from,
        renew_by=ticket.renew_by,
        work_begun_at=work_begun(ticket, tickets),
        area=ticket.area,
        operators=tuple(_operator(o) for o in ticket.operators.all()),
        cancelled_at=ticket.cancelled_at,
        renews=_number(tickets, ticket.renews_id),
        follows=_number(tickets, ticket.follows_id),
        warnings=warnings,
    )


def _number(tickets: dict[int, Ticket], pk: int | None) -> str | None:
    return tickets[pk].number if pk in tickets else None


def work_begun(ticket: Ticket, tickets: dict[int, Ticket]) -> datetime | None:
    """When work began under the ticket or under the tickets it renews; `tickets` holds all of the job's."""
    begun: list[datetime] = []
    seen: set[int] = set()
    standing: Ticket | None = ticket
    while standing is not None and standing.pk not in seen:
        seen.add(standing.pk)
        if standing.work_begun_at is not None:
            begun.append(standing.work_begun_at)
        standing = tickets.get(standing.renews_id) if standing.renews_id else None
    return min(begun, default=None)


def _operator(operator: TicketOperator) -> OperatorFacts:
    answers = tuple(AnswerFacts(Outcome(a.outcome), a.answered_at, a.holds_until) for a in operator.answers.all())
    return OperatorFacts(operator.name, answers)


def _sighting(sighting: SiteSighting) -> SightingFacts:
    name = None if sighting.operator is None else sighting.operator.name
    return SightingFacts(SightingKind(sighting.kind), sighting.seen_at, name)


def _locate(made: PrivateLocate) -> LocateFacts:
    words = made.reason if made.kind == LocateKind.WAIVED else made.result_words
    return LocateFacts(LocateKind(made.kind), made.made_at, str(made.by), words, made.doubted_at, made.doubt_words)


def _emergency(dig: EmergencyDig) -> EmergencyFacts:
    return EmergencyFacts(
        reason=dig.reason,
        declared_by=str(dig.declared_by),
        declared_at=dig.declared_at,
        centre_told_at=dig.centre_told_at,
        operators_told_at=dig.operators_told_at,
        closed_at=dig.closed_at,
    )
