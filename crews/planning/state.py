"""A plan in the making, as the searches hand it on: a tour a shift, its cheapest way, what is left out. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from .model import Model
from .ways import Clip, Way, WayBook

EVERY_CALL = 1_000


@dataclass(frozen=True, slots=True)
class Tour:
    """A feasible tour: options in order, its cost with the visits' extras, and the way to run it (None: unused)."""

    shift: int
    seq: tuple[int, ...]
    cost: int
    way: Way | None


@dataclass(slots=True)
class State:
    """Tours, visits left out, cost, and the boxes of starts of visits whose order is bound."""

    tours: list[Tour]
    left: list[int]
    cost: int
    clips: dict[int, Clip] = field(default_factory=dict)


def tour_of(
    model: Model, book: WayBook, s: int, seq: tuple[int, ...], clips: Mapping[int, Clip] | None = None
) -> Tour | None:
    """The cheapest tour of shift `s` with these options in this order; None when it cannot be run."""
    if not seq:
        return Tour(s, (), 0, None)
    cut = {o: clips[v] for o in seq if (v := model.options[o].visit) in clips} if clips else None
    ways = book.ways(s, seq, cut)
    if not ways:
        return None
    way = min(ways, key=lambda way: way.cost)
    extra = sum(model.options[o].cost + int(model.moved[s, model.options[o].visit]) for o in seq)
    return Tour(s, seq, way.cost + extra, way)


def state_of(
    model: Model, sequences: Sequence[tuple[int, ...]], left: Sequence[int], clips: Mapping[int, Clip]
) -> State:
    """The state of sequences that can be run, timed once more by `ways.py`."""
    book = WayBook(model, EVERY_CALL)
    tours = []
    for s, seq in enumerate(sequences):
        tour = tour_of(model, book, s, seq, clips)
        assert tour is not None, "the search handed on a tour that cannot be run"
        tours.append(tour)
    cost = sum(tour.cost for tour in tours) + sum(int(model.penalty[v]) for v in left)
    return State(tours, list(left), cost, dict(clips))
