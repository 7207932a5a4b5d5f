"""Where a local wall time stands on the chart's axis. Pure.

The axis is a run of local days that rows in several time zones share by wall time. Nights and days that
most rows skip are drawn narrower, so that a week and more fits without scrolling.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta

DAY_MINUTES = 24 * 60
WORK_FROM_MINUTE, WORK_TO_MINUTE = 6 * 60, 19 * 60  # daylight on site; common practice, no source
NIGHT_WEIGHT = 0.15  # width of a night minute beside one of the day
SKIPPED_WEIGHT = 0.5  # width of a skipped day beside a counted one
_PARTS = (
    (0, WORK_FROM_MINUTE, NIGHT_WEIGHT),
    (WORK_FROM_MINUTE, WORK_TO_MINUTE, 1.0),
    (WORK_TO_MINUTE, DAY_MINUTES, NIGHT_WEIGHT),
)
_FULL_DAY = sum((until - start) * weight for start, until, weight in _PARTS)


@dataclass(frozen=True, slots=True)
class DayColumn:
    """One local day; `x` and `width` in per cent of the axis, `work_x` to `work_end` its daylight part."""

    day: date
    x: float
    width: float
    narrow: bool
    work_x: float
    work_end: float

    @property
    def end(self) -> float:
        return self.x + self.width

    @property
    def night_width(self) -> float:
        """From midnight to the daylight part."""
        return self.work_x - self.x

    @property
    def evening_width(self) -> float:
        """From the daylight part to midnight."""
        return self.end - self.work_end


@dataclass(frozen=True, slots=True)
class Scale:
    """The axis from the first column's midnight to the last one's."""

    columns: tuple[DayColumn, ...]

    @property
    def first(self) -> date:
        return self.columns[0].day

    @property
    def starts(self) -> datetime:
        """Wall time of the left edge."""
        return datetime.combine(self.first, datetime.min.time())

    @property
    def ends(self) -> datetime:
        """Wall time of the right edge."""
        return self.starts + timedelta(days=len(self.columns))

    def x(self, wall: datetime) -> float:
        """Per cent of the axis for a naive local time; times off the axis stand at its edges."""
        index = (wall.date() - self.first).days
        if index < 0:
            return 0.0
        if index >= len(self.columns):
            return 100.0
        column = self.columns[index]
        minute = wall.hour * 60 + wall.minute + wall.second / 60
        return column.x + column.width * _weight_before(minute) / _FULL_DAY

    def stops(self) -> list[tuple[float, str]]:
        """The axis as (per cent, wall time) pairs between which it is straight; for scripts."""
        found: list[tuple[float, str]] = []
        for column in self.columns:
            for minute, _, _ in _PARTS:
                wall = datetime.combine(column.day, datetime.min.time()) + timedelta(minutes=minute)
                found.append((round(self.x(wall), 4), wall.isoformat(timespec="minutes")))
        return [*found, (100.0, self.ends.isoformat(timespec="minutes"))]


def lay_scale(first: date, days: int, narrow: Collection[date]) -> Scale:
    """The axis of `days` local days from `first`; the days in `narrow` get less room. Raises ValueError for
    no days at all."""
    if days < 1:
        raise ValueError("An axis needs at least one day.")
    run = [first + timedelta(days=n) for n in range(days)]
    weights = [SKIPPED_WEIGHT if day in narrow else 1.0 for day in run]
    unit = 100.0 / sum(weights)
    columns: list[DayColumn] = []
    x = 0.0
    for day, weight in zip(run, weights, strict=True):
        width = weight * unit
        work_x = x + width * _weight_before(WORK_FROM_MINUTE) / _FULL_DAY
        work_end = x + width * _weight_before(WORK_TO_MINUTE) / _FULL_DAY
        columns.append(DayColumn(day, x, width, weight < 1.0, work_x, work_end))
        x += width
    return Scale(tuple(columns))


def _weight_before(minute: float) -> float:
    """Room that the minutes of a day before `minute` take."""
    return sum(max(0.0, min(minute, until) - start) * weight for start, until, weight in _PARTS)
