"""One thing that stands in the way of digging, and how the worst of several is chosen. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tickets.states import State
from tickets.verdict.result import Kind, Reason

# The worst first: what a person must put right on site comes before what time may still cure.
SEVERITY = (State.STOP, State.EXPIRED, State.UNKNOWN, State.WAITING)


@dataclass(frozen=True, slots=True)
class Blocker:
    """`state` it puts the job in, the reason, and what would lift it."""

    state: State
    reason: Reason
    remedy: str


def blocker(state: State, kind: Kind, words: str, remedy: str, citation: str = "") -> Blocker:
    return Blocker(state, Reason(words, citation, kind), remedy)


def worst(blockers: Iterable[Blocker]) -> Blocker:
    """The blocker that names the state; the first of the worst kind. Raises ValueError when empty."""
    return min(blockers, key=lambda b: SEVERITY.index(b.state))
