"""Gets the compiled rounds ready: compiles them once after an installation, otherwise reads them from where they are
kept. Pure; no clock of day."""

from __future__ import annotations

import threading

from ..budget import Budget
from ..model import Model
from ..problem import Crew, Place, Problem, Shift, Visit, VisitKind
from ..travel import great_circle_travel, places_of
from .search import Search

_ready = threading.Event()
_one_at_a_time = threading.Lock()


def is_ready() -> bool:
    """Whether this process has the compiled rounds at hand."""
    return _ready.is_set()


def make_ready() -> None:
    """Return when the rounds are compiled; the time this takes is no part of any plan's budget."""
    if _ready.is_set():
        return
    with _one_at_a_time:
        if not _ready.is_set():
            Search(_tiny()).run(Budget(60.0), most_rounds=1)
            _ready.set()


def _tiny() -> Model:
    place = Place.geographic(40.0, -83.0)
    problem = Problem(
        (Visit("visit", VisitKind.DIG, 60, place),),
        (Crew("crew"),),
        (Shift("shift", "crew", 0, 0, 600, place, place),),
    )
    return Model(problem, great_circle_travel(places_of(problem)))
