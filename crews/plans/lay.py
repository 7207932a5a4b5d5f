"""What the page of a proposal shows: the chart by crew, each crew's day, sums before and after."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from crews.board.chart import Card, VisitSpan, lay_strip
from crews.board.scale import DayColumn, Scale, lay_scale
from crews.gather_plan.shifts import home_of, hours_of
from crews.models import Crew, Plan, PlanStop, ShiftPlace, StopKind, Visit
from crews.plans.sketch import Sketch, lay_sketch
from crews.selectors import company_today
from crews.words import day_words, span_words, zone_of
from tickets.models import Job
from tickets.selectors import facts_of, jobs_with_facts
from tickets.verdict import Window, dig_windows

HEAD_PX, WINDOW_PX = 44, 4
MAY_MOVE_EARTH = frozenset({"dig", "restore"})  # with the lawful window drawn under them
METRES_A_MILE = 1609.344


@dataclass(frozen=True, slots=True)
class Head:
    """One day of the axis."""

    column: DayColumn
    words: str
    today: bool


@dataclass(frozen=True, slots=True)
class Placed:
    """A visit of the proposal on the chart; `windows` are stretches in which its dig is lawful."""

    stop: PlanStop
    card: Card
    words: str
    hour: str
    wall: str
    windows: tuple[tuple[float, float], ...]

    @property
    def stays(self) -> bool:
        """A visit that stands and is no part of the proposal."""
        return self.stop.pk < 0

    @property
    def window_y(self) -> int:
        return self.card.y + self.card.height + 1


@dataclass(frozen=True, slots=True)
class CrewRow:
    """One crew's line."""

    crew: Crew
    height: int
    placed: tuple[Placed, ...]
    now_x: float | None


@dataclass(frozen=True, slots=True)
class Chart:
    """All crews on one axis."""

    scale: Scale
    heads: tuple[Head, ...]
    rows: tuple[CrewRow, ...]
    stops: str
    head_height: int = HEAD_PX


@dataclass(frozen=True, slots=True)
class Line:
    """A stop with its words, for tables."""

    stop: PlanStop
    words: str
    drive: str
    number: int | None = None

    @property
    def stays(self) -> bool:
        """A visit that stands and is no part of the proposal."""
        return self.stop.pk < 0


@dataclass(frozen=True, slots=True)
class CrewDay:
    """One crew's day in order, with its sketch."""

    crew: Crew
    words: str
    lines: tuple[Line, ...]
    sketch: Sketch
    drive: str


def stops_of(plan: Plan) -> list[PlanStop]:
    """Every stop with what the pages name."""
    rows = plan.stops.select_related("crew__home", "job__site", "visit").prefetch_related("crew__shifts")
    return list(rows.order_by("crew__name", "starts_at", "pk"))


def staying_of(plan: Plan) -> list[PlanStop]:
    """Visits that stay as they stand, in the shape of stops; their keys are negative, for no stop is stored."""
    rows = {gone["visit"]: gone["key"] for gone in plan.unplanned if gone.get("visit")}
    visits = Visit.objects.filter(pk__in=rows, cancelled_at=None).select_related("crew__home", "job__site")
    visits = visits.prefetch_related("crew__shifts")
    return [
        PlanStop(
            pk=-visit.pk,
            plan=plan,
            stop=StopKind.VISIT,
            key=rows[visit.pk],
            crew=visit.crew,
            starts_at=visit.starts_at,
            ends_at=visit.ends_at,
            latitude=visit.job.site.latitude,
            longitude=visit.job.site.longitude,
            job=visit.job,
            kind=visit.kind,
            visit=visit,
            pinned=visit.pinned,
        )
        for visit in visits.order_by("starts_at", "pk")
    ]


def lay_chart(plan: Plan, stops: Sequence[PlanStop], now: datetime) -> Chart:
    """Visits on their crew's line, each over the lawful window of its dig; a crew without any has a line too."""
    visits = [stop for stop in stops if stop.stop == StopKind.VISIT]
    first = company_today(plan.asked_at)
    last = max((local_start(stop).date() for stop in visits), default=first)
    days = max(5, (last - first).days + 1)
    weekend = {first + timedelta(days=n) for n in range(days) if (first + timedelta(days=n)).weekday() > 4}
    scale = lay_scale(first, days, weekend)
    windows = _windows(visits, now)
    crews = {crew.pk: crew for crew in [*Crew.objects.filter(active=True), *(stop.crew for stop in visits)]}
    by_name = sorted(crews.values(), key=lambda crew: (crew.name, crew.pk))
    rows = [_row(crew, [s for s in visits if s.crew_id == crew.pk], scale, windows, now) for crew in by_name]
    heads = tuple(Head(c, _short(c.day), c.day == company_today(now)) for c in scale.columns)
    return Chart(scale, heads, tuple(rows), json.dumps(scale.stops()))


def _windows(visits: Sequence[PlanStop], now: datetime) -> dict[int, tuple[Window, ...]]:
    digs = {stop.job_id for stop in visits if stop.kind in MAY_MOVE_EARTH}
    jobs: list[Job] = list(jobs_with_facts().filter(pk__in=digs))
    return {pk: dig_windows(sheet.facts, now) for pk, sheet in facts_of(jobs).items()}


def _row(
    crew: Crew, visits: Sequence[PlanStop], scale: Scale, windows: dict[int, tuple[Window, ...]], now: datetime
) -> CrewRow:
    zone = zone_of(crew.time_zone)
    strip = lay_strip(scale, zone, (), [VisitSpan(s.pk, s.starts_at, s.ends_at) for s in visits], {}, now)
    cards = {card.pk: card for card in strip.cards}
    placed = []
    for stop in visits:
        if stop.pk not in cards:
            continue
        assert stop.job_id is not None
        wall = stop.starts_at.astimezone(zone)
        spans = []
        for window in windows.get(stop.job_id, ()) if stop.kind in MAY_MOVE_EARTH else ():
            low = scale.x(window.opens_at.astimezone(zone).replace(tzinfo=None))
            closes = window.closes_at
            high = 100.0 if closes is None else scale.x(closes.astimezone(zone).replace(tzinfo=None))
            if high > low:
                spans.append((low, high - low))
        placed.append(
            Placed(stop, cards[stop.pk], stop_words(stop), clock_words(wall), f"{wall:%Y-%m-%dT%H:%M}", tuple(spans))
        )
    return CrewRow(crew, strip.height + WINDOW_PX, tuple(placed), strip.now_x)


def local_start(stop: PlanStop) -> datetime:
    return stop.starts_at.astimezone(zone_of(zone_name(stop)))


def zone_name(stop: PlanStop) -> str:
    """The site's zone; the crew's for a break or a call at the yard."""
    return stop.job.site.time_zone if stop.job is not None else stop.crew.time_zone


def stop_words(stop: PlanStop) -> str:
    return span_words(stop.starts_at, stop.ends_at, zone_name(stop))


def clock_words(local: datetime) -> str:
    """'7:30a': as short as a card allows."""
    minutes = f":{local.minute:02d}" if local.minute else ""
    return f"{local.hour % 12 or 12}{minutes}{'a' if local.hour < 12 else 'p'}"


def drive_words(seconds: int) -> str:
    """'1 h 05 min'."""
    hours, rest = divmod(round(seconds / 60), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def _short(day: date) -> str:
    return day_words(day).rsplit(" ", 1)[0]


def lay_days(stops: Sequence[PlanStop]) -> list[CrewDay]:
    """Each crew's days in order."""
    by_day: dict[tuple[date, int], list[PlanStop]] = {}
    for stop in sorted(stops, key=lambda s: (s.starts_at, s.ends_at)):
        local = stop.starts_at.astimezone(zone_of(stop.crew.time_zone)).date()
        by_day.setdefault((local, stop.crew_id), []).append(stop)
    days = [_day(local, same) for (local, _), same in by_day.items() if any(s.stop == StopKind.VISIT for s in same)]
    return sorted(days, key=lambda d: (d.lines[0].stop.starts_at.date(), d.crew.name))


def _day(local: date, stops: Sequence[PlanStop]) -> CrewDay:
    crew = stops[0].crew
    lines, places = [], []
    for stop in stops:
        number = None
        if stop.stop != StopKind.BREAK:
            places.append((stop.latitude, stop.longitude))
            number = len(places)
        lines.append(Line(stop, stop_words(stop), drive_words(stop.drive_s) if stop.drive_s else "", number))
    sketch = lay_sketch(_start(crew, local), places)
    return CrewDay(crew, day_words(local), tuple(lines), sketch, drive_words(sum(s.drive_s for s in stops)))


def _start(crew: Crew, day: date) -> tuple[float, float]:
    """Where the crew sets out that day."""
    home = home_of(crew)
    first = next((h for h in hours_of(crew) if h.weekday == day.weekday()), None)
    if home is not None and first is not None and first.begins_from == ShiftPlace.HOME:
        return home.latitude, home.longitude
    return crew.yard_latitude, crew.yard_longitude


def sums(plan: Plan) -> list[tuple[str, str, str]]:
    """What is compared: its name, as it stood, as proposed."""
    rows = (
        ("Visits with a crew and an hour", "visits", str),
        ("Left out", "left", str),
        ("Driving", "drive_s", drive_words),
        ("Distance", "drive_m", lambda m: f"{round(m / METRES_A_MILE)} mi"),
        ("Overtime", "overtime_s", drive_words),
        ("Days worked by a crew", "crew_days", str),
        ("Promised windows missed", "missed", str),
        ("Visits that need a renewal", "renewals", str),
    )
    return [(name, say(plan.before.get(key, 0)), say(plan.after.get(key, 0))) for name, key, say in rows]
