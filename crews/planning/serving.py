"""Which shifts have the skills and the kit for which visits, as arrays by shift and visit. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from .kit import choose_items
from .problem import Kit, KitNeed, Problem, Visit

Need = TypeVar("Need")
BoolArray = npt.NDArray[np.bool_]


def skilled_at(problem: Problem) -> BoolArray:
    """Where the crew has all the skills that the visit needs, and no pin keeps the visit on another shift."""
    skills = {crew.id: crew.skills for crew in problem.crews}
    asked, which = _kinds([visit.skills for visit in problem.visits])
    out = np.zeros((len(problem.shifts), len(problem.visits)), dtype=bool)
    for s, shift in enumerate(problem.shifts):
        out[s] = np.array([need <= skills[shift.crew_id] for need in asked], dtype=bool)[which]
    for v, visit in enumerate(problem.visits):
        if visit.pin is not None:
            out[:, v] &= [visit.pin.shift_id == shift.id for shift in problem.shifts]
    return out


def served_by(visits: Sequence[Visit], at_hand: Sequence[tuple[Kit, ...]]) -> BoolArray:
    """Where the items at hand (one row for each tuple of them) serve the visit's needs, parts not counted."""
    asked, which = _kinds([visit.kit for visit in visits])
    known: dict[object, BoolArray] = {}
    out = np.zeros((len(at_hand), len(visits)), dtype=bool)
    for row, items in enumerate(at_hand):
        alike = _likeness(items)
        if alike not in known:
            known[alike] = np.array([_serves(needs, items) for needs in asked], dtype=bool)
        out[row] = known[alike][which]
    return out


def _serves(needs: tuple[KitNeed, ...], items: tuple[Kit, ...]) -> bool:
    return not needs or choose_items(needs, items) is not None


def _kinds(needs: Sequence[Need]) -> tuple[list[Need], npt.NDArray[np.int64]]:
    """The different needs, and the number of each visit's among them: there are few, however many visits."""
    numbers: dict[Need, int] = {}
    which = [numbers.setdefault(need, len(numbers)) for need in needs]
    return list(numbers), np.array(which, dtype=np.int64)


def _likeness(items: tuple[Kit, ...]) -> frozenset[object]:
    """What decides which needs a set of items serves: how many there are of each kind and frequencies."""
    return frozenset(Counter((item.kind, item.frequencies_hz) for item in items).items())
