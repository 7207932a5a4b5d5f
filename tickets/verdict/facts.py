"""What a verdict rests on, as frozen values. Instants are aware; None and empty mean: not known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from locates.law.rule import EarlyStart, Silence
from tickets.states import LocateKind, Outcome, SightingKind, TicketKind

GeoJson = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class RuleFacts:
    """The parts of the law's version that a verdict needs beside the window already computed from it.

    `cites` holds the citation of each part by name: wait, answers, validity, begin_work, lapse, renewal,
    second_notice, zone, emergency, private_lines.
    """

    version: str
    digest: str
    verified: bool
    all_must_answer: bool
    early_start: EarlyStart
    silence_then: Silence
    fixed_life: bool  # the law gives a ticket an end, so a missing one is a missing fact
    zone_words: str
    emergency_words: str = ""
    second_notice_words: str = ""
    cites: Mapping[str, str] = field(default_factory=dict)

    def cite(self, part: str) -> str:
        """The citation of a part, or the version's name where the part has none of its own."""
        return self.cites.get(part) or self.version


@dataclass(frozen=True, slots=True)
class AnswerFacts:
    outcome: Outcome
    answered_at: datetime
    holds_until: datetime | None = None


@dataclass(frozen=True, slots=True)
class OperatorFacts:
    """An operator named on a ticket; `answers` oldest first."""

    name: str
    answers: tuple[AnswerFacts, ...] = ()

    @property
    def key(self) -> str:
        """The same operator may stand on several tickets of a job."""
        return " ".join(self.name.casefold().split())


@dataclass(frozen=True, slots=True)
class TicketFacts:
    """One notice and its window. `renews` and `follows` are numbers of tickets of the same job."""

    number: str
    kind: TicketKind
    received_at: datetime
    rule: RuleFacts | None
    opens_at: datetime | None
    closes_at: datetime | None = None
    early_from: datetime | None = None
    start_by: datetime | None = None
    lapses_at: datetime | None = None
    renew_from: datetime | None = None
    renew_by: datetime | None = None
    work_begun_at: datetime | None = None
    area: GeoJson | None = None
    operators: tuple[OperatorFacts, ...] = ()
    cancelled_at: datetime | None = None
    renews: str | None = None
    follows: str | None = None
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SightingFacts:
    """What the crew saw; `operator` None: of the whole site."""

    kind: SightingKind
    seen_at: datetime
    operator: str | None = None

    @property
    def key(self) -> str | None:
        return None if self.operator is None else " ".join(self.operator.casefold().split())


@dataclass(frozen=True, slots=True)
class LocateFacts:
    kind: LocateKind
    made_at: datetime
    by: str
    words: str  # the result, a line of text for each line located; or why none was needed
    doubted_at: datetime | None = None  # since then its instrument is not to be trusted
    doubt: str = ""

    @property
    def lines(self) -> tuple[str, ...]:
        """What was found, a line located each."""
        return tuple(line for line in (" ".join(given.split()) for given in self.words.splitlines()) if line)

    def in_doubt(self, at: datetime) -> bool:
        return self.doubted_at is not None and self.doubted_at <= at


@dataclass(frozen=True, slots=True)
class EmergencyFacts:
    reason: str
    declared_by: str
    declared_at: datetime
    centre_told_at: datetime | None = None
    operators_told_at: datetime | None = None
    closed_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class LocalRuleFacts:
    """A local requirement that a person must confirm."""

    name: str
    requirement: str
    source: str
    confirmed_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything known of one job. `private_lines_likely` None counts as yes."""

    time_zone: str
    dig_areas: tuple[GeoJson, ...] = ()
    tickets: tuple[TicketFacts, ...] = ()
    sightings: tuple[SightingFacts, ...] = ()
    private_lines_likely: bool | None = None
    locates: tuple[LocateFacts, ...] = ()
    emergencies: tuple[EmergencyFacts, ...] = ()
    local_rules: tuple[LocalRuleFacts, ...] = ()
    closed_at: datetime | None = None
