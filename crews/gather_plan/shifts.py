"""Crews, their yards and their shifts as the planner wants them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from types import MappingProxyType
from typing import NamedTuple

from django.db.models import QuerySet

from crews.gather_plan.span import Span, next_step
from crews.models import Crew, CrewHome, CrewShift, ShiftPlace, Visit, YardStock
from crews.planning.problem import Break, Place, Shift, Yard
from crews.planning.problem import Crew as PlannedCrew
from crews.words import day_words, zone_of

# Hours of a crew for which none are on file. Common practice, no source.
USUAL_STARTS, USUAL_ENDS = time(7, 0), time(16, 0)
USUAL_WEEKDAYS = range(5)
USUAL_BREAK_MINUTES, USUAL_OVERTIME_MINUTES = 30, 60
SHORTEST = timedelta(hours=1)  # less than that left of a day is not worth a start; common practice, no source
SHORTEST_PIECE = timedelta(minutes=15)  # beside a visit that keeps its hours
YARD_CALL_S = 15 * 60  # common practice, no source


class Hours(NamedTuple):
    weekday: int
    starts: time
    ends: time
    break_minutes: int
    overtime_minutes: int
    begins_from: str = ShiftPlace.YARD
    ends_back_at: str = ShiftPlace.YARD


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


def active_crews() -> QuerySet[Crew]:
    """With all that a team is made of."""
    found = Crew.objects.filter(active=True).select_related("home")
    return found.prefetch_related("shifts", "days_off", "parts__part").order_by("pk")


def hours_of(crew: Crew) -> tuple[Hours, ...]:
    """The hours on file, or the usual ones where there are none."""
    rows: Sequence[CrewShift] = list(crew.shifts.all())
    return (
        tuple(
            Hours(
                r.weekday,
                r.starts,
                r.ends,
                r.break_minutes,
                r.overtime_minutes,
                r.begins_from,
                r.ends_back_at,
            )
            for r in rows
        )
        or USUAL
    )


def longest_minutes(crews: Iterable[Crew]) -> int | None:
    """The longest shift of any of them with its overtime; None where there is no crew."""
    lengths = [
        (h.ends.hour - h.starts.hour) * 60 + h.ends.minute - h.starts.minute + h.overtime_minutes
        for crew in crews
        for h in hours_of(crew)
    ]
    return max(lengths, default=None)


def home_of(crew: Crew) -> CrewHome | None:
    """Where its truck stands overnight, None where no home is on file."""
    return getattr(crew, "home", None)


def yard_place(crew: Crew) -> Place:
    return Place.geographic(crew.yard_latitude, crew.yard_longitude)


def _place(crew: Crew, which: str) -> Place:
    home = home_of(crew)
    if which == ShiftPlace.HOME and home is not None:
        return Place.geographic(home.latitude, home.longitude)
    return yard_place(crew)


def site_place(visit: Visit) -> Place:
    return Place.geographic(visit.job.site.latitude, visit.job.site.longitude)


def gather_team(crews: Sequence[Crew], keeping: Iterable[Visit], stock: Iterable[YardStock], span: Span) -> Team:
    """`crews` from `active_crews`. `keeping` are visits that keep their hours whatever is planned: their crews'
    shifts are cut round them, so that no plan can use those hours."""
    yards = _yards(crews, stock)
    kept: dict[int, list[Visit]] = {}
    for visit in sorted(keeping, key=lambda v: (v.starts_at, v.pk)):
        kept.setdefault(visit.crew_id, []).append(visit)
    shifts: list[Shift] = []
    crew_of_shift: dict[str, Crew] = {}
    for crew in crews:
        off = {day.on for day in crew.days_off.all()}
        week = hours_of(crew)
        for number, day in enumerate(span.days()):
            for hours in (h for h in week if h.weekday == day.weekday() and day not in off):
                for shift in _pieces(crew, number, day, hours, kept.get(crew.pk, ()), span):
                    shifts.append(shift)
                    crew_of_shift[shift.id] = crew
    planned = tuple(
        PlannedCrew(c.name, frozenset(c.skills), yards[yard_place(c)].id, MappingProxyType(_on_truck(c)))
        for c in crews
    )
    return Team({c.name: c for c in crews}, planned, tuple(shifts), tuple(yards.values()), crew_of_shift)


def _on_truck(crew: Crew) -> dict[str, int]:
    return {row.part.name: row.pieces for row in crew.parts.all()}


def _yards(crews: Sequence[Crew], stock: Iterable[YardStock]) -> dict[Place, Yard]:
    keeps: dict[str, set[str]] = {}
    for row in stock:
        keeps.setdefault(row.yard_name, set()).add(row.part.name)
    yards: dict[Place, Yard] = {}
    for crew in crews:
        place = yard_place(crew)
        taken = {yard.id for yard in yards.values()}
        name = crew.yard_name if crew.yard_name not in taken else f"{crew.yard_name} ({crew.name})"
        yards.setdefault(place, Yard(name, place, frozenset(keeps.get(crew.yard_name, ())), YARD_CALL_S))
    return yards


class _Stretch(NamedTuple):
    """What is left of a shift between visits that keep their hours."""

    starts: datetime
    ends: datetime
    start_place: Place
    end_place: Place
    is_last: bool


def _pieces(crew: Crew, number: int, day: date, hours: Hours, keeping: Sequence[Visit], span: Span) -> list[Shift]:
    zone = zone_of(crew.time_zone)
    starts = datetime.combine(day, hours.starts, zone).astimezone(UTC)
    ends = datetime.combine(day, hours.ends, zone).astimezone(UTC)
    first = max(starts, next_step(span.now))
    last = ends + timedelta(minutes=hours.overtime_minutes)
    in_the_way = [v for v in keeping if v.starts_at < last and v.ends_at > first]
    if ends - first < SHORTEST and not (in_the_way and first < ends):
        return []
    shifts: list[Shift] = []
    for stretch in _stretches(crew, hours, first, ends, in_the_way):
        name = f"{crew.name}, {day_words(day)}, {hours.starts:%H:%M}"
        if stretch.starts != first:
            name = f"{name}, from {stretch.starts.astimezone(zone):%H:%M}"
        start_s, end_s = span.seconds(stretch.starts), span.seconds(stretch.ends)
        breaks = (
            () if shifts and shifts[-1].breaks else _break(span.seconds(starts), start_s, end_s, ends, hours, span)
        )
        overtime = hours.overtime_minutes * 60 if stretch.is_last else 0
        shifts.append(
            Shift(
                id=name,
                crew_id=crew.name,
                day=number,
                start_s=start_s,
                end_s=end_s,
                start_place=stretch.start_place,
                end_place=stretch.end_place,
                breaks=breaks,
                overtime_max_s=overtime,
            )
        )
    return shifts


def _stretches(
    crew: Crew, hours: Hours, first: datetime, ends: datetime, in_the_way: Sequence[Visit]
) -> list[_Stretch]:
    """Before, between and after the visits in the way; the crew leaves each from its site."""
    found: list[_Stretch] = []
    clock, place = first, _place(crew, hours.begins_from)
    for visit in in_the_way:
        if visit.starts_at - clock >= SHORTEST_PIECE:
            found.append(_Stretch(clock, visit.starts_at, place, site_place(visit), False))
        if visit.ends_at > clock:
            clock, place = visit.ends_at, site_place(visit)
    if ends - clock >= (SHORTEST_PIECE if in_the_way else SHORTEST):
        found.append(_Stretch(clock, ends, place, _place(crew, hours.ends_back_at), True))
    return found


def _break(whole_s: int, start_s: int, end_s: int, ends: datetime, hours: Hours, span: Span) -> tuple[Break, ...]:
    """In the middle half of the full shift, when the crew is still to have it there. Common practice, no source."""
    last_s, length_s = span.seconds(ends), hours.break_minutes * 60
    quarter = (last_s - whole_s) // 4
    earliest = max(start_s, whole_s + quarter)
    latest = min(last_s - quarter, end_s) - length_s
    return (Break(length_s, earliest, latest),) if length_s and latest >= earliest else ()
