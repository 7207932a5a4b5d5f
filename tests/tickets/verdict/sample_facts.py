"""Facts to start from: one sound job, of which a test changes what it is about. Invented throughout."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from locates.law.rule import EarlyStart, Silence
from tickets.states import LocateKind, Outcome, TicketKind
from tickets.verdict import (
    AnswerFacts,
    Facts,
    Kind,
    LocateFacts,
    OperatorFacts,
    RuleFacts,
    TicketFacts,
    Verdict,
)

NOW = datetime(2026, 9, 16, 14, 0, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def square(west_m: float = 0.0, south_m: float = 0.0, size_m: float = 20.0) -> dict[str, Any]:
    """A square near 37.5 N, 77.4 W; metres by rounded degree lengths, good enough for a drawing."""
    lon, lat = -77.4 + west_m / 88_400, 37.5 + south_m / 111_000
    dlon, dlat = size_m / 88_400, size_m / 111_000
    ring = [[lon, lat], [lon + dlon, lat], [lon + dlon, lat + dlat], [lon, lat + dlat], [lon, lat]]
    return {"type": "Polygon", "coordinates": [ring]}


DIG = square(5, 5, 8)
COVER = square(0, 0, 20)


def rule(**changes: Any) -> RuleFacts:
    made = RuleFacts(
        version="ZZ@2020-01-01",
        digest="d" * 64,
        verified=True,
        all_must_answer=True,
        early_start=EarlyStart.NEVER,
        silence_then=Silence.WAIT,
        fixed_life=True,
        zone_words="Hand dig or vacuum within 2 ft on each side of the mark.",
        emergency_words="Tell the centre as soon as practicable.",
        cites={
            name: f"Code § {number}"
            for number, name in enumerate(
                ("wait", "answers", "validity", "begin_work", "lapse", "zone", "second_notice", "emergency"), 1
            )
        },
    )
    return replace(made, **changes)


def answer(outcome: Outcome = Outcome.MARKED, at: datetime = NOW - DAY, until: datetime | None = None) -> AnswerFacts:
    return AnswerFacts(outcome, at, until)


def operator(name: str = "Fernbank Gas", *answers: AnswerFacts) -> OperatorFacts:
    return OperatorFacts(name, tuple(answers))


def ticket(**changes: Any) -> TicketFacts:
    made = TicketFacts(
        number="T1",
        kind=TicketKind.NORMAL,
        received_at=NOW - 4 * DAY,
        rule=rule(),
        opens_at=NOW - HOUR,
        closes_at=NOW + 12 * DAY,
        renew_from=NOW + 3 * DAY,
        renew_by=NOW + 9 * DAY,
        area=COVER,
        operators=(operator("Fernbank Gas", answer()), operator("Ridge Power", answer(Outcome.NO_FACILITIES))),
    )
    return replace(made, **changes)


def facts(**changes: Any) -> Facts:
    made = Facts(
        time_zone="America/New_York",
        dig_areas=(DIG,),
        tickets=(ticket(),),
        private_lines_likely=True,
        locates=(LocateFacts(LocateKind.LOCATED, NOW - DAY, "Robin Example", "Yard light cable, 2 ft 6 in deep"),),
    )
    return replace(made, **changes)


def with_ticket(**changes: Any) -> Facts:
    """The sound job with its ticket changed."""
    return facts(tickets=(ticket(**changes),))


def silent() -> tuple[OperatorFacts, ...]:
    """One operator that answered, one that did not."""
    return (operator("Fernbank Gas", answer()), operator("Ridge Power"))


def blocking(found: Verdict) -> set[Kind]:
    """What the reasons that block are about."""
    return {reason.kind for reason in found.reasons if reason.blocks}


def words(found: Verdict) -> str:
    """All reasons in one text."""
    return " ".join(reason.words for reason in found.reasons)
