"""Several searches side by side, one a processor, with different dice; the best plan wins. Pure; no clock of day.

The compiled rounds hold no lock of the interpreter, so threads are enough: nothing is copied to other processes, and
it works in any worker. Only the calling thread tells progress and asks whether to stop.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait

from ..budget import Budget
from ..model import Model
from .search import Found, Search

LOOK_S = 0.1


def processors() -> int:
    """How many processors this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        return os.cpu_count() or 1


class Team:
    """Searches over one model; each call of `run` lets all go on."""

    def __init__(self, model: Model, seed: int, members: int, sequences: Sequence[Sequence[int]] = ()) -> None:
        self.searches = [Search(model, seed + 7_919 * k, sequences) for k in range(max(1, members))]

    @property
    def rounds(self) -> int:
        """Rounds searched by all together."""
        return sum(search.rounds for search in self.searches)

    @property
    def best(self) -> Search:
        """The search with the best plan; of equals the first."""
        return min(self.searches, key=lambda search: search.cost)

    def found(self) -> Found:
        """The best plan of all."""
        return self.best.found()

    def run(self, budget: Budget, heat: float, most_rounds: int | None = None) -> None:
        """Let every search run until the budget ends, or for `most_rounds` each."""
        if len(self.searches) == 1:
            self.searches[0].run(budget, heat, most_rounds)
            return
        off = threading.Event()
        with ThreadPoolExecutor(len(self.searches), thread_name_prefix="search") as pool:
            parts = [budget.apart(off.is_set) for _ in self.searches]
            futures = [
                pool.submit(search.run, part, heat, most_rounds)
                for search, part in zip(self.searches, parts, strict=True)
            ]
            try:
                self._watch(budget, futures, off.set)
            finally:
                off.set()
        for future in futures:
            future.result()

    def _watch(self, budget: Budget, futures: Sequence[Future[int]], call_off: Callable[[], None]) -> None:
        """Tell the best cost while the others work; stop them when called off."""
        waiting = set(futures)
        while waiting:
            _, waiting = wait(waiting, timeout=LOOK_S)
            budget.tell(self.best.cost)
            if budget.called_off:
                call_off()

    def gather(self) -> None:
        """Let all go on from the best plan."""
        best = self.best
        plan = best.found()
        for search in self.searches:
            if search is not best:
                search.go_on_from(plan)
