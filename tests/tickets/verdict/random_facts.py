"""Facts at random from a seed, mostly sound, so that some clear; instants lie on few points and coincide."""

from __future__ import annotations

from datetime import datetime
from random import Random
from typing import TypeVar

from locates.law.rule import EarlyStart, Silence
from tests.tickets.verdict.sample_facts import COVER, DAY, DIG, HOUR, NOW, rule, square
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

T = TypeVar("T")
NAMES = ("Fernbank Gas", "Ridge Power")
STEP = 6 * HOUR


class Draw:
    """Draws from a seed."""

    def __init__(self, seed: int) -> None:
        self.random = Random(seed)

    def one(self, *choices: T) -> T:
        return self.random.choice(choices)

    def instant(self, low: int = -12, high: int = 12) -> datetime:
        return NOW + self.random.randint(low, high) * STEP

    def rarely(self, one_in: int = 8) -> bool:
        return self.random.randrange(one_in) == 0

    def perhaps(self, one_in: int = 2) -> datetime | None:
        return self.instant() if self.rarely(one_in) else None


def random_facts(seed: int) -> Facts:
    """One job's facts: a ticket, sometimes others of any kind that belong to it, and the rest."""
    draw = Draw(seed)
    tickets = [_ticket(draw, "T1", TicketKind.NORMAL)]
    for number in range(draw.one(0, 0, 1, 2)):
        tickets.append(_ticket(draw, f"T{number + 2}", draw.one(*TicketKind), "T1"))
    return Facts(
        time_zone="America/Chicago",
        dig_areas=(DIG,) if not draw.rarely() else draw.one((), (DIG, square(15, 5, 8))),
        tickets=tuple(tickets),
        sightings=tuple(
            SightingFacts(draw.one(*SightingKind), draw.instant(), draw.one(None, *NAMES))
            for _ in range(draw.one(0, 0, 0, 1, 2))
        ),
        private_lines_likely=draw.one(False, False, True, None),
        locates=tuple(
            LocateFacts(draw.one(*LocateKind), draw.instant(-12, 3), "Robin Example", "Found, marked")
            for _ in range(draw.one(0, 1))
        ),
        emergencies=(_emergency(draw),) if draw.rarely() else (),
        local_rules=(LocalRuleFacts("Permit", "A permit is in hand.", "Town code", draw.perhaps()),)
        if draw.rarely(5)
        else (),
        closed_at=draw.perhaps(12),
    )


def _ticket(draw: Draw, number: str, kind: TicketKind, parent: str | None = None) -> TicketFacts:
    return TicketFacts(
        number=number,
        kind=kind,
        received_at=draw.instant() if draw.rarely() else NOW - 4 * DAY,
        rule=None if draw.rarely(20) else _rule(draw),
        opens_at=None if draw.rarely(15) else draw.instant(-12, 4),
        closes_at=draw.perhaps() if draw.rarely(6) else draw.instant(0, 12),
        early_from=draw.perhaps(),
        start_by=draw.perhaps(8),
        lapses_at=draw.perhaps(8),
        renew_from=draw.perhaps(),
        renew_by=draw.perhaps(),
        work_begun_at=draw.perhaps(),
        area=draw.one(square(500, 0, 20), None) if draw.rarely() else COVER,
        operators=tuple(_operator(draw) for _ in range(draw.one(0, 1, 1, 1, 2))),
        cancelled_at=draw.perhaps(10),
        renews=parent if kind is TicketKind.RENEWAL else None,
        follows=parent if kind in {TicketKind.RE_MARK, TicketKind.SECOND_NOTICE} else None,
    )


def _rule(draw: Draw) -> RuleFacts:
    return rule(
        all_must_answer=draw.one(True, False),
        early_start=draw.one(*EarlyStart),
        silence_then=draw.one(*Silence),
        fixed_life=draw.one(True, False),
        verified=draw.one(True, False),
    )


def _operator(draw: Draw) -> OperatorFacts:
    answers = []
    for _ in range(draw.one(0, 1, 1, 1, 2, 3)):
        good = draw.one(Outcome.MARKED, Outcome.NO_FACILITIES)
        outcome = draw.one(*Outcome) if draw.rarely(4) else good
        answers.append(AnswerFacts(outcome, draw.instant(-12, 2), draw.perhaps()))
    return OperatorFacts(draw.one(*NAMES), tuple(answers))


def _emergency(draw: Draw) -> EmergencyFacts:
    return EmergencyFacts(
        draw.one("Water in a cellar", ""),
        "Robin Example",
        draw.instant(),
        draw.perhaps(),
        draw.perhaps(),
        draw.perhaps(),
    )
