"""What the legal clock returns: the window, the dates around it and the trace of how it was counted."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, NamedTuple

from locates.law.rule import Tier

UNVERIFIED = "unverified: confirm with the notification centre"


class Step(NamedTuple):
    """One line of the trace. `kind`: received, special, counted, skipped, opens, overlay, printed, life,
    start_by, closes, renew. `on` is a local day, `at` an instant, where the step has one."""

    kind: str
    words: str
    on: date | None = None
    at: datetime | None = None


class Frame(NamedTuple):
    """The steps of one trace, and which of them follow the notice: place, field of Decision, words before
    the instant."""

    steps: tuple[Step, ...]
    moving: tuple[tuple[int, int, str], ...]


class Decision(NamedTuple):
    """Instants are aware, in the zone the law counts in. None: the rule sets no such limit.

    opens_at    first instant digging is lawful as far as the wait goes
    closes_at   last instant the ticket is good (None: no fixed expiry once work has begun)
    start_by    last instant to begin work; None when no such limit stands
    renew_from, renew_by   first and last instant to renew so that work need not stop
    latest_start   last instant a start may be planned under the maximum advance notice
    evidence    the weakest evidence under the opening; `doubts` name the weaker parts of the rest
    """

    state: str
    rule_version: str
    rule_digest: str
    received_at: datetime
    deemed_at: datetime
    opens_at: datetime
    closes_at: datetime | None
    start_by: datetime | None
    renew_from: datetime | None
    renew_by: datetime | None
    latest_start: datetime | None
    evidence: Tier
    doubts: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()

    @property
    def verified(self) -> bool:
        return self.evidence.verified

    def as_json(self) -> dict[str, Any]:
        """Plain values, instants as ISO 8601 with offset."""

        def iso(at: datetime | None) -> str | None:
            return None if at is None else at.isoformat()

        notes = [UNVERIFIED] if not self.verified else []
        return {
            "state": self.state,
            "rule_version": self.rule_version,
            "rule_digest": self.rule_digest,
            "received_at": iso(self.received_at),
            "deemed_received_at": iso(self.deemed_at),
            "opens_at": iso(self.opens_at),
            "closes_at": iso(self.closes_at),
            "start_by": iso(self.start_by),
            "renew_from": iso(self.renew_from),
            "renew_by": iso(self.renew_by),
            "latest_start": iso(self.latest_start),
            "evidence": str(self.evidence),
            "steps": [
                {"kind": s.kind, "on": s.on.isoformat() if s.on else None, "at": iso(s.at), "words": s.words}
                for s in self.steps
            ],
            "warnings": [*notes, *self.warnings, *self.doubts],
        }
