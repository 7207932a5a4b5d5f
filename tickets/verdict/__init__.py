"""May this crew dig here now, and if not, when? Pure: no Django, no clock, no database."""

from __future__ import annotations

from tickets.states import State
from tickets.verdict.facts import (
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
from tickets.verdict.judge import UNVERIFIED, Case, verdict, verdict_of_case
from tickets.verdict.result import Kind, Reason, Verdict
from tickets.verdict.windows import Window, dig_windows, first_lawful_start

__all__ = [
    "UNVERIFIED",
    "AnswerFacts",
    "Case",
    "EmergencyFacts",
    "Facts",
    "Kind",
    "LocalRuleFacts",
    "LocateFacts",
    "OperatorFacts",
    "Reason",
    "RuleFacts",
    "SightingFacts",
    "State",
    "TicketFacts",
    "Verdict",
    "Window",
    "dig_windows",
    "first_lawful_start",
    "verdict",
    "verdict_of_case",
]
