"""What a verdict says."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from tickets.states import WORDS, State

MAY_DIG = frozenset({State.CLEAR, State.CLOSING})


class Kind(StrEnum):
    """What a reason is about; pages and phones choose a sign by it."""

    JOB = "job"
    TICKET = "ticket"
    WAIT = "wait"
    EXPIRY = "expiry"
    ANSWER = "answer"
    AREA = "area"
    MARKS = "marks"
    PRIVATE_LINES = "private_lines"
    LOCAL_RULE = "local_rule"
    EMERGENCY = "emergency"
    ASK_CENTRE = "ask_centre"


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason. `citation` names the text it rests on; empty where the fact is the company's own.
    `blocks` is False for a reason that only explains. `items` are what it lists, each to be shown by itself."""

    words: str
    citation: str
    kind: Kind
    blocks: bool = True
    items: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "kind": str(self.kind),
            "words": self.words,
            "citation": self.citation,
            "blocks": self.blocks,
            "items": list(self.items),
        }


@dataclass(frozen=True, slots=True)
class Verdict:
    """The answer to: may this crew dig here now, and if not, when?

    state            CLEAR and CLOSING alone mean that digging is lawful under a ticket
    would_change     what a person can do about it, and whom to call
    next_change_at   the next instant at which this verdict changes by itself; None: it does not
    opens_at, closes_at, renew_from, renew_by   of the ticket (or tickets together) it rests on
    tickets          numbers of the tickets it rests on, the governing one first
    unverified       the law's evidence is weak: confirm with the notification centre
    """

    state: State
    sentence: str
    reasons: tuple[Reason, ...]
    would_change: tuple[str, ...]
    opens_at: datetime | None
    closes_at: datetime | None
    renew_from: datetime | None
    renew_by: datetime | None
    tickets: tuple[str, ...]
    unverified: bool
    cautions: tuple[str, ...]
    next_change_at: datetime | None = None

    @property
    def may_dig(self) -> bool:
        """True only when every fact that the law asks for is there and says so."""
        return self.state in MAY_DIG

    @property
    def words(self) -> str:
        """The state in the trade's words."""
        return WORDS[self.state]

    def as_json(self) -> dict[str, Any]:
        """Plain values, instants as ISO 8601 in UTC's offset or the one they carry."""

        def iso(at: datetime | None) -> str | None:
            return None if at is None else at.isoformat()

        return {
            "state": str(self.state),
            "words": self.words,
            "may_dig": self.may_dig,
            "sentence": self.sentence,
            "reasons": [reason.as_json() for reason in self.reasons],
            "would_change": list(self.would_change),
            "next_change_at": iso(self.next_change_at),
            "opens_at": iso(self.opens_at),
            "closes_at": iso(self.closes_at),
            "renew_from": iso(self.renew_from),
            "renew_by": iso(self.renew_by),
            "tickets": list(self.tickets),
            "unverified": self.unverified,
            "cautions": list(self.cautions),
        }
