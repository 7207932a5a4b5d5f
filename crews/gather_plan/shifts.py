"""Crews, their yards and their shifts as the planner wants them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple

from crews.gather_plan.span import Span, next_step
from crews.models import Crew, CrewShift, Visit
from crews.planning.problem import Break, Place, Shift, Yard
from crews.planning.problem import Crew as PlannedCrew
from crews.words import day_words, zone_of

# Hours of a crew for which none are on file. Common practice, no source.
USUAL_STARTS, USUAL_ENDS = time(7, 0), time(16, 0)
USUAL_WEEKDAYS = range(5)
USUAL_BREAK_MINUTES, USUAL_OVERTIME_MINUTES = 30, 60
SHORTEST = timedelta(hours=1)  # less than that left of a day is not worth a start; common practice, no source
YARD_CALL_S = 15 * 60  # common practice, no source


class Hours(NamedTuple):
    weekday: int
    starts: time
    ends: time
    break_minutes: int
    overtime_minutes: int


USUAL = tuple(
    Hours(day, USUAL_STARTS, USUAL_ENDS, USUAL_BREAK_MINUTES, USUAL_OVERTIME_MINUTES) for day in USUAL_WEEKDAYS
)


@dataclass(frozen=True, slots=True)
class Team:
    """Crews by name, their shifts and yards; `day_of_shift` and `crew_of_shift` by the shift's id."""

    crews: dict[str, Crew]
    planned: tuple[PlannedCrew, ...]
    shifts: tuple[Shift, ...]
    yards: tuple[Yard, ...]
    crew_of_shift: dict[str, Crew]

    def shift_at(self, crew: Crew, start_s: int, end_s: int) -> Shift | None:
        """The crew's shift in which that stretch lies."""
        return next(
            (
                shift
                for shift in self.shifts
                if shift.crew_id == crew.name and shift.start_s <= start_s and end_s <= shift.last_s
            ),
            None,
        )


def hours_of(crew: Crew) -> tuple[Hours, ...]:
    """The hours on file, or the usual ones where there are none."""
    rows: Sequence[CrewShift] = list(crew.shifts.all())
    return tuple(Hours(r.weekday, r.starts, r.ends, r.break_minutes, r.overtime_minutes) for r in rows) or USUAL


def yard_place(crew: Crew) -> Place:
    return Place.geographic(crew.yard_latitude, crew.yard_longitude)


def gather_team(crews: Sequence[Crew], under_way: Sequence[Visit], span: Span) -> Team:
    """`crews` with `shifts` and `days_off` loaded; `under_way` are visits that have begun and are not over."""
    yards = _yards(crews)
    busy = {visit.crew_id: visit for visit in sorted(under_way, key=lambda v: v.ends_at)}
    shifts: list[Shift] = []
    crew_of_shift: dict[str, Crew] = {}
    for crew in crews:
        off = {day.on for day in crew.days_off.all()}
        for number, day in enumerate(span.days()):
            if day in off:
                continue
            for hours in (h for h in hours_of(crew) if h.weekday == day.weekday()):
                shift = _shift(crew, number, day, hours, busy.get(crew.pk), span)
                if shift is not None:
                    shifts.append(shift)
                    crew_of_shift[shift.id] = crew
    planned = tuple(PlannedCrew(c.name, frozenset(c.skills), yards[yard_place(c)].id) for c in crews)
    return Team({c.name: c for c in crews}, planned, tuple(shifts), tuple(yards.values()), crew_of_shift)


def _yards(crews: Sequence[Crew]) -> dict[Place, Yard]:
    yards: dict[Place, Yard] = {}
    for crew in crews:
        place = yard_place(crew)
        taken = {yard.id for yard in yards.values()}
        name = crew.yard_name if crew.yard_name not in taken else f"{crew.yard_name} ({crew.name})"
        yards.setdefault(place, Yard(name, place, call_s=YARD_CALL_S))
    return yards


def _shift(crew: Crew, number: int, day: date, hours: Hours, busy: Visit | None, span: Span) -> Shift | None:
    zone = zone_of(crew.time_zone)
    starts = datetime.combine(day, hours.starts, zone).astimezone(UTC)
    ends = datetime.combine(day, hours.ends, zone).astimezone(UTC)
    whole = starts
    place = yard_place(crew)
    if starts < span.now:
        starts = next_step(span.now)
    if busy is not None and starts < busy.ends_at and busy.starts_at < ends:
        starts = max(starts, busy.ends_at)
        place = Place.geographic(busy.job.site.latitude, busy.job.site.longitude)
    if ends - starts < SHORTEST:
        return None
    return Shift(
        id=f"{crew.name}, {day_words(day)}, {hours.starts:%H:%M}",
        crew_id=crew.name,
        day=number,
        start_s=span.seconds(starts),
        end_s=span.seconds(ends),
        start_place=place,
        end_place=yard_place(crew),
        breaks=_break(span.seconds(whole), span.seconds(starts), span.seconds(ends), hours.break_minutes),
        overtime_max_s=hours.overtime_minutes * 60,
    )


def _break(whole_s: int, start_s: int, end_s: int, minutes: int) -> tuple[Break, ...]:
    """In the middle half of the full shift, when the crew is still to have it. Common practice, no source."""
    quarter = (end_s - whole_s) // 4
    earliest, latest = max(start_s, whole_s + quarter), end_s - quarter - minutes * 60
    return (Break(minutes * 60, earliest, latest),) if minutes and latest >= earliest else ()
