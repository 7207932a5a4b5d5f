"""The equipment register as the locates see it. The register lies above this app: it hands itself in when it
is ready, and the locates ask whoever was handed in.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Protocol


@dataclass(frozen=True, slots=True)
class Instrument:
    """One item of the register on a day. `good_through` is the earliest day of all care that stops it;
    `care_words` names that care; `flaw` says why it should not be relied on apart from its dates."""

    equipment_id: int
    kind: str
    name: str
    serial: str
    frequencies_hz: tuple[float, ...] = ()
    good_through: date | None = None
    care_words: str = "Calibration"
    flaw: str = ""
    place_words: str = ""
    at_hand: bool = False

    def standing(self, on: date) -> str:
        """How it stands on that day, in a few words."""
        words = standing_words(self.good_through, on, self.care_words)
        return f"{words}; {self.flaw}" if self.flaw else words


class Register(Protocol):
    """What the locates ask of a register; each call is a constant number of queries."""

    def instruments(self, kinds: Iterable[str], person: Any, on: date) -> Sequence[Instrument]:
        """Items of these kinds, those at the person's hand first."""

    def named(self, equipment_ids: Iterable[int], on: date) -> Sequence[Instrument]:
        """These items; one that is not in the register is missing from the answer."""


class NoRegister:
    """Stands in until one is handed in: instruments are typed then."""

    def instruments(self, kinds: Iterable[str], person: Any, on: date) -> Sequence[Instrument]:
        return ()

    def named(self, equipment_ids: Iterable[int], on: date) -> Sequence[Instrument]:
        return ()


_in_use: Register = NoRegister()


def hand_in(register: Register) -> None:
    """Called once, when the app that keeps the register is ready."""
    global _in_use
    _in_use = register


def in_use() -> Register:
    """The register that was handed in."""
    return _in_use


def standing_words(good_through: date | None, on: date, care_words: str = "Calibration") -> str:
    """'Calibration good through Wed 16 Sep 2026'; unknown is said as unknown."""
    if good_through is None:
        return "No calibration date known that day"
    day = f"{good_through:%a} {good_through.day} {good_through:%b %Y}"
    if good_through < on:
        return f"{care_words} ran out {day}, before the run"
    return f"{care_words} good through {day}"
