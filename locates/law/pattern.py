"""What the notices of one day have in common, so that a long batch counts each day out once.

Between two hours at which the law draws a line (a cut-off, an hour of opening) every instant of a window
either stands still, whatever the minute of the notice, or moves with it, second for second: no rule knows a
third way, and none goes back when the notice is later. So a stretch of the day is known by its two ends: an
instant alike at both stands, one that lies apart by just the length of the stretch moves. Whatever does
neither (a clock change under way, a limit that starts to bind) has no pattern and is counted out each time.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, tzinfo
from enum import Enum
from typing import NamedTuple, cast

from locates.law.counting import Moment, Opening
from locates.law.decision import Frame
from locates.law.workdays import DAY_S, ZoneDays


class _Met(Enum):
    NEVER, ONCE = range(2)


_MOST_LINES = 64
KEPT_STRETCHES = 2_048  # a rule's: more than a year of notices has; bounds the memory of a long batch


# The instants of a window in the order in which Decision names them: deemed, opens, closes, start by, renew
# from, renew by, latest start. None: the rule sets no such limit.
Instants = tuple[int | None, ...]
INSTANTS = 7


class Reckoned(NamedTuple):
    """A window in whole seconds since the epoch. `opening` is the law's own, before a longer company wait or
    a later printed start."""

    instants: Instants
    opening: Opening
    warnings: tuple[str, ...]


Reckon = Callable[[Moment], Reckoned]


class Pattern:
    """The windows of one stretch of a day: the instants that stand, as datetimes, and which follow the
    notice, by how many seconds. `frame` is what their traces have in common, once one was asked for."""

    __slots__ = ("first_day", "frame", "last_day", "moves", "stands", "warnings")

    def __init__(self, reckoned: Reckoned, moving: Sequence[int], notice_s: int, tz: tzinfo) -> None:
        self.first_day, self.last_day = reckoned.opening[1:]
        self.warnings, self.frame = reckoned.warnings, cast("Frame | None", None)
        self.stands: list[datetime | None] = [None] * INSTANTS
        self.moves: list[tuple[int, int]] = []
        for field, epoch_s in enumerate(reckoned.instants):
            if epoch_s is not None and field in moving:
                self.moves.append((field, epoch_s - notice_s))
            elif epoch_s is not None:
                self.stands[field] = datetime.fromtimestamp(epoch_s, tz)

    def instants(self, notice_s: int, tz: tzinfo) -> list[datetime | None]:
        """Deemed, opens, closes, start by, renew from, renew by, latest start, of a notice in the stretch."""
        found = self.stands.copy()
        for field, after_s in self.moves:
            found[field] = datetime.fromtimestamp(notice_s + after_s, tz)
        return found


class DayPatterns:
    """The patterns of one rule in one zone. `lines` are the clock times at which a stretch of a day begins;
    `reckon` counts a notice out."""

    __slots__ = ("_kept", "_lines", "_reckon", "_zone")

    def __init__(self, zone: ZoneDays, reckon: Reckon, lines: Iterable[int]) -> None:
        self._zone, self._reckon = zone, reckon
        # The first second of a day ends a count of hours where the day before does: a stretch of its own.
        self._lines = sorted({0, 1, *(clock for clock in lines if 0 < clock < DAY_S)})
        self._kept: dict[int, Pattern | _Met | None] = {}

    def find(self, day: int, clock: int) -> Pattern | None:
        """The pattern of a notice at a whole second; None: there is none, count it out."""
        number = bisect_right(self._lines, clock) - 1
        key = day * _MOST_LINES + number
        kept = self._kept
        found = kept.get(key, _Met.NEVER)
        if found is _Met.NEVER:
            if len(kept) >= KEPT_STRETCHES:
                kept.clear()
            kept[key] = _Met.ONCE  # two ends to count out pay only for a stretch that is met again
            return None
        if found is _Met.ONCE:
            found = kept[key] = self._lay(day, number)
        return found

    def _lay(self, day: int, number: int) -> Pattern | None:
        lines, midnight = self._lines, self._zone.midnight(day)
        if self._zone.midnight(day + 1) - midnight != DAY_S:
            return None
        first = lines[number]
        last = (lines[number + 1] if number + 1 < len(lines) else DAY_S) - 1
        a = self._reckon(Moment(midnight + first, day, first))
        moving = []
        if first != last:
            b = self._reckon(Moment(midnight + last, day, last))
            if a.opening[1:] != b.opening[1:] or a.warnings != b.warnings:
                return None
            for field, (early, late) in enumerate(zip(a.instants, b.instants, strict=True)):
                if early == late:
                    continue
                if early is None or late is None or late - early != last - first:
                    return None
                moving.append(field)
        return Pattern(a, moving, midnight + first, self._zone.tz)
