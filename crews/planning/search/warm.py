"""Gets the compiled rounds ready: compiled once after an installation, in a process apart that keeps the machine code
on disk; otherwise read from where they are kept. Pure; no clock of day.

Compiling takes half a minute, mostly under the interpreter's lock: in a thread it would hold up whatever else the
process does, and nobody could call it off.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from ..budget import Budget
from ..model import Model
from ..problem import Crew, Place, Problem, Shift, Visit, VisitKind
from ..travel import great_circle_travel, places_of
from .compiled import is_on_disk, may_be_on_disk
from .rounds import begin, rounds
from .search import Search

LOOK_S = 0.5
GENTLY = "--gently"
GENTLE_NICE = 5  # behind pages and tasks, yet done in a minute or two on a busy machine
_ROOT = Path(__file__).resolve().parents[3]
_COMMAND = (sys.executable, "-m", __name__ if __name__ != "__main__" else "crews.planning.search.warm")
_ENTRIES = (begin, rounds)

_ready = threading.Event()
_one_at_a_time = threading.Lock()


class _Apart:
    """The process that compiles, at most one for this process."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None

    def start(self, gently: bool) -> subprocess.Popen[bytes]:
        """The process under way, or a new one."""
        with self._lock:
            if self._process is None or self._process.poll() is not None:
                path = os.pathsep.join(part for part in (str(_ROOT), os.environ.get("PYTHONPATH")) if part)
                quiet = subprocess.DEVNULL
                self._process = subprocess.Popen(
                    [*_COMMAND, *([GENTLY] if gently else [])],
                    env={**os.environ, "PYTHONPATH": path},
                    stdin=quiet,
                    stdout=quiet,
                    stderr=quiet,
                )
            return self._process

    def stop(self) -> None:
        """End it, if it runs."""
        with self._lock:
            if self._process is not None and self._process.poll() is None:
                self._process.kill()
                self._process.wait()
            self._process = None


_apart = _Apart()


def is_ready() -> bool:
    """Whether this process has the compiled rounds at hand."""
    return _ready.is_set()


def is_kept() -> bool:
    """Whether the compiled rounds lie on disk for this machine."""
    return all(is_on_disk(entry) for entry in _ENTRIES)


def compile_ahead() -> bool:
    """Let the rounds be compiled in a process of low priority, unless they are; whether one was started. Returns at
    once. `stop_compiling` ends that process."""
    if _ready.is_set() or is_kept() or not all(may_be_on_disk(entry) for entry in _ENTRIES):
        return False
    _apart.start(gently=True)
    return True


def stop_compiling() -> None:
    """Leave the compiling to whoever needs it next; so that a process can end."""
    _apart.stop()


def make_ready(called_off: Callable[[], bool] = lambda: False) -> bool:
    """Return when the rounds are at hand: True, or False when called off meanwhile (asked twice a second). The time
    this takes is no part of any plan's budget."""
    if _ready.is_set():
        return True
    if not is_kept() and all(may_be_on_disk(entry) for entry in _ENTRIES) and not _wait_for(called_off):
        return False
    load()
    return True


def _wait_for(called_off: Callable[[], bool]) -> bool:
    """Wait for the process that compiles; should it fail, this process will compile by itself."""
    process = _apart.start(gently=False)
    while process.poll() is None:
        if called_off():
            return False  # it goes on all the same: the next plan will have it
        with suppress(subprocess.TimeoutExpired):
            process.wait(LOOK_S)
    return True


def load() -> None:
    """Read the rounds from disk, or compile them here and now."""
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


if __name__ == "__main__":
    if GENTLY in sys.argv[1:] and hasattr(os, "nice"):
        os.nice(GENTLE_NICE)
    load()
