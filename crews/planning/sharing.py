"""Shares out what several shifts want at the same time: the yard's kit among crews, a truck's parts among the pieces
of a day. Pure.

The searches look at each shift by itself. What two of them want at once goes to the more pressing tour; limits keep
the other from it when the search goes on.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from .kit import overlaps
from .limits import Limits
from .model import IntArray, Model
from .plan import way_of, yard_kit_needed
from .problem import Kit
from .state import State, Tour
from .ways import VISIT, YARD


@dataclass(frozen=True, slots=True)
class Shares:
    """Items that each tour fetches at the yard; `fair` when no two tours want the same at once."""

    taken: Mapping[int, tuple[Kit, ...]]
    fair: bool


def may_clash(model: Model) -> bool:
    """Whether two shifts could want the same at all."""
    return bool((model.fetched & ~model.own).any() or (model.part_kinds and truck_days(model)))


def share_out(model: Model, state: State) -> Shares:
    """Give each tour what it needs, the most pressing first."""
    taken, too_late = _share_kit(model, state)
    wanted_twice = too_late or _share_pieces(model, state, only_wanted_twice=True)
    return Shares(taken, fair=not wanted_twice)


def hold_shares(model: Model, state: State) -> Limits:
    """Limits within which each tour keeps what it has got and no other may have that at the same time; what nobody
    has is open to all. A search goes on well within these: few tours come to want the same again."""
    taken, _ = _share_kit(model, state)
    denied = set(model.limits.denied)
    for s, here in enumerate(model.kit):
        gone = _held_meanwhile(model, s, {other: _ids(items) for other, items in taken.items() if other != s})
        denied |= {(s, item_id) for item_id in _ids(here.yard) & gone}
    pieces = _share_pieces(model, state, only_wanted_twice=True)
    return Limits(frozenset(denied), {**model.limits.pieces, **pieces})


def settle_shares(model: Model, state: State) -> Limits:
    """Limits after which nothing can be wanted twice any more: each shift keeps to what it has now. For when there is
    no time left to try again; a tour that came too late takes what no other has."""
    taken, _ = _share_kit(model, state)
    holds = {s: _ids(items) for s, items in taken.items()}
    denied = set(model.limits.denied)
    for s in dict.fromkeys([*taken, *_pressing_first(model, state), *range(len(model.shifts))]):
        here = _ids(model.kit[s].yard)
        if s not in holds:
            holds[s] = here - _held_meanwhile(model, s, holds)
        denied |= {(s, item_id) for item_id in here - holds[s]}
    pieces = _share_pieces(model, state, only_wanted_twice=False)
    return Limits(frozenset(denied), {**model.limits.pieces, **pieces})


def _pressing_first(model: Model, state: State) -> list[int]:
    """The shifts in use, that with the dearest visit first."""
    used = (s for s, tour in enumerate(state.tours) if tour.seq)
    return sorted(used, key=lambda s: -_pressing(model, state, s))


def _pressing(model: Model, state: State, s: int) -> int:
    return max((int(model.penalty[model.options[o].visit]) for o in state.tours[s].seq), default=0)


def _share_kit(model: Model, state: State) -> tuple[dict[int, tuple[Kit, ...]], list[int]]:
    """Items each tour fetches, and the tours that came too late for what they need."""
    taken: dict[int, tuple[Kit, ...]] = {}
    too_late: list[int] = []
    for s in _pressing_first(model, state):
        way = way_of(model, state.tours[s])
        if way is None or not any(node.what == YARD for node in way.nodes):
            continue
        gone = _held_meanwhile(model, s, {other: _ids(items) for other, items in taken.items()})
        free = tuple(item for item in model.kit[s].yard if item.id not in gone)
        needed = yard_kit_needed(model, s, way, free)
        if needed is not None:
            taken[s] = needed
        elif len(free) < len(model.kit[s].yard):
            too_late.append(s)
    return taken, too_late


def _ids(items: tuple[Kit, ...]) -> frozenset[str]:
    return frozenset(item.id for item in items)


def _held_meanwhile(model: Model, s: int, holds: Mapping[int, frozenset[str]]) -> frozenset[str]:
    """Items that shifts at the same time hold."""
    at_once = (items for other, items in holds.items() if overlaps(model.shifts[s], model.shifts[other]))
    return frozenset().union(*at_once)


def truck_days(model: Model) -> list[list[int]]:
    """Shifts that draw on one truck's parts: several of one crew on one day."""
    found: dict[tuple[str, int], list[int]] = defaultdict(list)
    for s, shift in enumerate(model.shifts):
        found[shift.crew_id, shift.day].append(s)
    return [shifts for shifts in found.values() if len(shifts) > 1]


def _share_pieces(model: Model, state: State, only_wanted_twice: bool) -> dict[tuple[int, int], int]:
    """The most of each kind of part that each piece of a day may take of its truck's stock."""
    pieces: dict[tuple[int, int], int] = {}
    for shifts in truck_days(model) if model.part_kinds else ():
        used = {s: pieces_used(model, s, _stops(model, state.tours[s])) for s in shifts}
        order = sorted(shifts, key=lambda s: -_pressing(model, state, s))
        for kind in range(len(model.part_kinds)):
            rest = int(model.day_stock[shifts[0], kind])
            if only_wanted_twice and sum(int(used[s][kind]) for s in shifts) <= rest:
                continue
            for s in order:
                pieces[s, kind] = min(int(used[s][kind]), rest)
                rest -= pieces[s, kind]
            pieces[order[0], kind] += rest
    return pieces


def pieces_used(model: Model, s: int, stops: Iterable[int | None]) -> IntArray:
    """Pieces that a tour takes of its truck's stock: visits by number in their order, None for the call at the yard.
    What the yard keeps counts only up to there."""
    used: IntArray = np.zeros(len(model.part_kinds), dtype=np.int64)
    endless = np.zeros(len(model.part_kinds), dtype=bool)
    for v in stops:
        if v is None:
            endless = model.stocked[s]
        else:
            used += np.where(endless, 0, model.parts[v])
    return used


def _stops(model: Model, tour: Tour) -> Iterable[int | None]:
    way = way_of(model, tour)
    for node in () if way is None else way.nodes:
        if node.what in (VISIT, YARD):
            yield model.options[node.option].visit if node.what == VISIT else None
