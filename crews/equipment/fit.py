"""Whether the pieces of a kit fit together: shared frequencies, voltage classes. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

# What must share a frequency with a receiver (physics: a receiver hears only what it is tuned to).
HEARD_BY_RECEIVER = ("transmitter", "sonde")
# Largest use voltage of each class of rubber insulating gloves, volts AC: 29 CFR 1910.137 Table I-4.
MOST_VOLTS = {"00": 500, "0": 1_000, "1": 7_500, "2": 17_000, "3": 26_500, "4": 36_000}


@dataclass(frozen=True, slots=True)
class Piece:
    """One item as far as fitting goes; no frequencies: not known."""

    name: str
    kind: str
    frequencies_hz: frozenset[int] = frozenset()
    voltage_class: str = ""


def misfits(pieces: Iterable[Piece]) -> tuple[str, ...]:
    """What does not fit, in words; empty: nothing known to be wrong."""
    held = list(pieces)
    receivers = [piece for piece in held if piece.kind == "receiver"]
    found = []
    for piece in held:
        if piece.kind in HEARD_BY_RECEIVER:
            found += _heard(piece, receivers)
    if not receivers and any(piece.kind in HEARD_BY_RECEIVER for piece in held):
        found.append("There is no receiver to hear with.")
    classes = {p.voltage_class for p in held if p.kind == "insulated_gloves" and p.voltage_class}
    if len(classes) > 1:
        said = ", ".join(sorted(classes))
        found.append(f"Gloves of different classes ({said}): take the lowest as the limit.")
    return tuple(found)


def _heard(piece: Piece, receivers: list[Piece]) -> list[str]:
    if not receivers:
        return []
    if not piece.frequencies_hz:
        return [f"{piece.name}: its frequencies are not on record, so nobody knows whether a receiver hears it."]
    if any(piece.frequencies_hz & receiver.frequencies_hz for receiver in receivers):
        return []
    if any(not receiver.frequencies_hz for receiver in receivers):
        return [f"{piece.name}: the receiver's frequencies are not on record."]
    return [f"{piece.name} and the receiver share no frequency."]
