"""How long a search may run, whether it was called off, and whom to tell how far it is.

A stopwatch, not a clock: it measures the search's own length and never asks what time of day it is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter


@dataclass(frozen=True, slots=True)
class Progress:
    """What a dispatcher sees while a plan is computed; `cost` is None until a first plan stands."""

    phase: str
    cost: int | None
    left_s: float


Listener = Callable[[Progress], None]
Cancelled = Callable[[], bool]


class Budget:
    """Seconds of search, with progress told at most twice a second and cancelling asked as often."""

    def __init__(
        self,
        seconds: float,
        listener: Listener | None = None,
        cancelled: Cancelled | None = None,
        clock: Callable[[], float] = perf_counter,
    ) -> None:
        self.seconds = seconds
        self._listener, self._cancelled, self._clock = listener, cancelled, clock
        self._start = self._told = clock()
        self._called_off = False
        self.phase = "reading the problem"

    def used(self) -> float:
        """Seconds since the search began."""
        return self._clock() - self._start

    def left(self) -> float:
        """Seconds left, nought when over or called off."""
        return 0.0 if self._called_off else max(0.0, self.seconds - self.used())

    @property
    def called_off(self) -> bool:
        """Whether somebody cancelled."""
        return self._called_off

    def tell(self, cost: int | None, force: bool = False) -> None:
        """Pass progress on, and ask whether to stop."""
        now = self._clock()
        if now - self._told < 0.5 and not force:
            return
        self._told = now
        if self._cancelled is not None and not self._called_off:
            self._called_off = self._cancelled()
        if self._listener is not None:
            self._listener(Progress(self.phase, cost, self.left()))

    def quiet(self) -> None:
        """Tell nobody the costs of a part; only whether to stop is still asked."""
        self._listener = None

    def apart(self, cancelled: Cancelled) -> Budget:
        """What is left, for another thread: it tells nobody and asks only `cancelled` whether to stop."""
        inner = Budget(self.left(), None, cancelled, self._clock)
        inner.phase = self.phase
        return inner

    def part(self, seconds: float) -> Budget:
        """A budget of at most `seconds` within this one, telling the same listener."""
        inner = Budget(min(seconds, self.left()), self._listener, self._cancelled, self._clock)
        inner.phase = self.phase
        return inner
