"""The emergency dig: a state of its own, with who and why, and the duties that remain. Pure.

Duties beside the state's law: 49 CFR 196.109 (a release of gas or liquid: call 911 at once).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from tickets.states import State
from tickets.verdict.facts import EmergencyFacts, Facts, RuleFacts
from tickets.verdict.result import Kind, Reason, Verdict
from tickets.verdict.words import instant_words

RELEASE = "49 CFR 196.109"


def open_emergency(facts: Facts, at: datetime) -> EmergencyFacts | None:
    """The emergency that stands at an instant. One without a reason or a name does not count."""
    standing = [
        e
        for e in facts.emergencies
        if e.reason.strip()
        and e.declared_by.strip()
        and e.declared_at <= at
        and (e.closed_at is None or e.closed_at > at)
    ]
    return max(standing, key=lambda e: e.declared_at, default=None)


def emergency_verdict(
    facts: Facts, emergency: EmergencyFacts, rule: RuleFacts | None, job_reasons: Sequence[Reason]
) -> Verdict:
    """What stands under an emergency. It is not a clearance: nobody may have marked anything."""
    cite = rule.cite("emergency") if rule else ""
    declared = instant_words(emergency.declared_at, facts.time_zone)
    reasons = [
        Reason(
            f"Emergency declared by {emergency.declared_by}, {declared}: {emergency.reason}",
            "",
            Kind.EMERGENCY,
            blocks=False,
        )
    ]
    if rule is not None and rule.emergency_words:
        reasons.append(Reason(rule.emergency_words, cite, Kind.EMERGENCY, blocks=False))
    duties = _duties(facts, emergency, cite, reasons)
    reasons += [r for r in job_reasons if r.kind in {Kind.MARKS, Kind.PRIVATE_LINES}]
    return Verdict(
        state=State.EMERGENCY,
        sentence=f"Emergency dig, declared by {emergency.declared_by}: the lines are not cleared.",
        reasons=tuple(reasons),
        would_change=tuple(duties),
        opens_at=None,
        closes_at=None,
        renew_from=None,
        renew_by=None,
        tickets=(),
        unverified=rule is not None and not rule.verified,
        cautions=(
            f"Gas or liquid escaping: leave the area, keep others away, call 911 and the operator ({RELEASE}).",
            "Dig by hand or vacuum only, and treat every line as present and live.",
            "Only what ends the danger is emergency work; the rest needs a ticket and its wait.",
        ),
    )


def _duties(facts: Facts, emergency: EmergencyFacts, cite: str, reasons: list[Reason]) -> list[str]:
    """Duties still open, and a reason for each that is done."""
    duties = []
    for told_at, whom in (
        (emergency.centre_told_at, "the notification centre"),
        (emergency.operators_told_at, "the operators of lines that may be there"),
    ):
        if told_at is None:
            duties.append(f"Tell {whom} of the emergency dig at once.")
        else:
            words = f"Told {whom} {instant_words(told_at, facts.time_zone)}."
            reasons.append(Reason(words, cite, Kind.EMERGENCY, blocks=False))
    duties.append("Close the emergency when the danger is over; a ticket must cover what follows.")
    return duties
