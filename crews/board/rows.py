"""What the chart and its table show: the page of jobs read, judged and laid out. No writes."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from django.db.models import Count, Q, QuerySet

from crews.board.chart import Card, Strip, VisitSpan, lay_strip
from crews.board.scale import DayColumn, Scale, lay_scale
from crews.board.texture import TicketRow, emergency_span, span_of
from crews.models import Person, Visit
from crews.selectors import visits_between
from crews.words import span_words, zone_of
from locates.errors import FirstspadeError
from locates.law.window import clock_for
from tickets.models import Job, Ticket
from tickets.pages.words import texture_of
from tickets.selectors import WindowRow, chart_jobs, window_rows
from tickets.states import WORDS, State
from tickets.verdict import Verdict
from tickets.verdict.words import instant_words

ROOM_FOR_WORDS = 90.0  # per cent: an expiry further right has no words beside it
HALF = 2  # a day that more than one row in HALF skips is drawn narrow
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_TICKS = ((8, "8 AM"), (12, "noon"), (16, "4 PM"))
_RENEWABLE = frozenset({State.CLEAR, State.CLOSING, State.WAITING})
_FEW_TICKS = ((12, "noon"),)


@dataclass(frozen=True, slots=True)
class Filters:
    """What the dispatcher asked to see."""

    states: tuple[str, ...] = ()
    crew_id: int | None = None
    place: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True)
class Tally:
    """How many jobs are in a state."""

    state: str
    words: str
    texture: str
    count: int
    chosen: bool


@dataclass(frozen=True, slots=True)
class Head:
    """The head of a day's column; `note` is the holiday that every row skipping the day skips it for."""

    column: DayColumn
    words: str
    note: str
    today: bool
    ticks: tuple[tuple[float, str], ...]


@dataclass(frozen=True, slots=True)
class VisitCard:
    """A visit with its place on the strip; `wall` is its start on the site's clock, for scripts."""

    visit: Visit
    hour: str
    words: str
    wall: str
    card: Card


@dataclass(frozen=True, slots=True)
class BoardRow:
    """One job, ready to show. `ends` are the words beside each expiry with their place."""

    job: Job
    verdict: Verdict
    texture: str
    zone: str
    zone_words: str
    strip: Strip
    visits: tuple[VisitCard, ...]
    ends: tuple[tuple[float, int, str], ...]
    tickets: tuple[Ticket, ...]
    renew_words: str

    @property
    def no_end(self) -> str:
        """What stands for an end that the verdict does not name."""
        return "no fixed end" if self.verdict.may_dig else "not known"


@dataclass(frozen=True, slots=True)
class Board:
    """A page of the chart."""

    scale: Scale
    heads: tuple[Head, ...]
    rows: tuple[BoardRow, ...]

    @property
    def head_height(self) -> int:
        """Pixels: a holiday's name needs two lines more."""
        return 78 if any(head.note for head in self.heads) else 46

    @property
    def tick_y(self) -> int:
        return self.head_height - 6

    @property
    def stops(self) -> str:
        return json.dumps(self.scale.stops(), separators=(",", ":"))


def found_jobs(person: Person, filters: Filters) -> QuerySet[Job]:
    """The jobs that match, the next change first; with everything that a row needs."""
    found = chart_jobs(person, states=filters.states, crew_id=filters.crew_id, place=filters.place)
    for word in filters.text.split():
        numbered = Ticket.objects.filter(number__icontains=word)
        found = found.filter(
            Q(number__icontains=word)
            | Q(title__icontains=word)
            | Q(customer__name__icontains=word)
            | Q(site__name__icontains=word)
            | Q(site__street__icontains=word)
            | Q(pk__in=numbered.values("job_id"))
        )
    return found


def tallies(person: Person, filters: Filters) -> list[Tally]:
    """Jobs by state under the other filters; the states in the order of the office's words."""
    anyhow = Filters((), filters.crew_id, filters.place, filters.text)
    bare = found_jobs(person, anyhow).prefetch_related(None).select_related(None).order_by()
    counts = dict(bare.values_list("verdict_state").annotate(Count("pk")))
    return [
        Tally(str(state), WORDS[state], texture_of(state), counts.get(str(state), 0), str(state) in filters.states)
        for state in State
    ]


def lay_board(jobs: Sequence[Job], first: date, days: int, now: datetime, today: date) -> Board:
    """The rows of jobs loaded by `found_jobs`; one query more, for their visits."""
    seen = window_rows(jobs, now)
    run = [first + timedelta(days=n) for n in range(days)]
    skips = {row.job.pk: skipped_days(row.job, run, now) for row in seen}
    scale = lay_scale(first, days, _narrow(list(skips.values()), run))
    notes = _notes(list(skips.values()), run)
    visits = _visits(jobs, scale)
    rows = tuple(
        _row(row, scale, _row_words(skips[row.job.pk], notes), visits.get(row.job.pk, []), now) for row in seen
    )
    return Board(scale, tuple(_head(c, notes.get(c.day, ""), today, days) for c in scale.columns), rows)


def skipped_days(job: Job, run: Sequence[date], now: datetime) -> dict[date, str]:
    """Days that a wait at the site does not count, with the holiday's or the weekday's name; none where no
    law is on file."""
    try:
        table = clock_for(job.site.state, now, job.site.time_zone).wait.days
    except FirstspadeError:
        return {}
    return {day: table.why_skipped(o) for day in run if not table.counts(o := day.toordinal())}


def _narrow(skips: Sequence[Mapping[date, str]], run: Sequence[date]) -> set[date]:
    if not skips:
        return {day for day in run if day.weekday() > 4}
    counts = Counter(day for skipped in skips for day in skipped)
    return {day for day in run if counts[day] * HALF > len(skips)}


def _notes(skips: Sequence[Mapping[date, str]], run: Sequence[date]) -> dict[date, str]:
    """Holidays on which every row that skips the day agrees."""
    notes = {}
    for day in run:
        names = {skipped[day] for skipped in skips if day in skipped}
        if len(names) == 1 and (name := names.pop()) and not _is_weekday(name):
            notes[day] = name
    return notes


def _row_words(skipped: Mapping[date, str], notes: Mapping[date, str]) -> dict[date, str]:
    """What the row itself says in a skipped day: the holiday, where the column's head does not say it."""
    return {day: "" if day in notes or _is_weekday(name) else name for day, name in skipped.items()}


def _is_weekday(name: str) -> bool:
    return name[:3] in _WEEKDAYS and name.endswith("day") and " " not in name


def _visits(jobs: Sequence[Job], scale: Scale) -> dict[int, list[Visit]]:
    """Visits that may touch the axis in any zone of the country, by job."""
    margin = timedelta(hours=14)
    found = visits_between(scale.starts.replace(tzinfo=UTC) - margin, scale.ends.replace(tzinfo=UTC) + margin)
    by_job: dict[int, list[Visit]] = {}
    for visit in found.filter(job__in=[job.pk for job in jobs]):
        by_job.setdefault(visit.job_id, []).append(visit)
    return by_job


def _row(
    row: WindowRow, scale: Scale, skipped: Mapping[date, str], visits: Sequence[Visit], now: datetime
) -> BoardRow:
    zone = row.job.site.time_zone
    tickets = {ticket.pk: ticket for ticket in row.tickets}
    spans = [span_of(_ticket(t, tickets, now), row.verdict, row.windows, now) for t in row.tickets]
    spans += [
        emergency_span(f"emergency {dig.pk}", dig.declared_at, dig.closed_at, now)
        for dig in row.job.emergencies.all()
        if dig.declared_at <= now
    ]
    shapes = [VisitSpan(v.pk, v.starts_at, v.ends_at) for v in visits]
    strip = lay_strip(scale, zone_of(zone), spans, shapes, skipped, now)
    placed = {card.pk: card for card in strip.cards}
    cards = tuple(_card(v, zone, placed[v.pk]) for v in visits if v.pk in placed)
    ends = tuple(
        (layer.expiry_x, layer.y + layer.height // 2, f"ends {_clock(layer.expiry_at, zone)}")
        for layer in strip.layers
        if layer.expiry_at is not None and layer.expiry_x is not None and layer.expiry_x < ROOM_FOR_WORDS
    )
    return BoardRow(
        job=row.job,
        verdict=row.verdict,
        texture=texture_of(row.verdict.state),
        zone=zone,
        zone_words=now.astimezone(zone_of(zone)).tzname() or zone,
        strip=strip,
        visits=cards,
        ends=ends,
        tickets=row.tickets,
        renew_words=_renew_words(row.verdict, zone, now),
    )


def _renew_words(verdict: Verdict, zone: str, now: datetime) -> str:
    """The last call to renew, while that is still ahead of an open or coming window."""
    if verdict.renew_by is None or verdict.renew_by <= now or verdict.state not in _RENEWABLE:
        return ""
    return f"renew by {instant_words(verdict.renew_by, zone)}"


def _ticket(ticket: Ticket, all_of_job: Mapping[int, Ticket], now: datetime) -> TicketRow:
    renewed = all_of_job.get(ticket.renews_id) if ticket.renews_id else None
    ends = [at for at in (ticket.closes_at, ticket.lapses_at) if at is not None]
    return TicketRow(
        number=ticket.number,
        kind=ticket.kind,
        received_at=ticket.received_at,
        opens_at=ticket.opens_at,
        closes_at=min(ends, default=None),
        renews=None if renewed is None else renewed.number,
        cancelled=ticket.cancelled_at is not None and ticket.cancelled_at <= now,
    )


def _card(visit: Visit, zone: str, card: Card) -> VisitCard:
    wall = visit.starts_at.astimezone(zone_of(zone)).strftime("%Y-%m-%dT%H:%M")
    words = span_words(visit.starts_at, visit.ends_at, zone)
    return VisitCard(visit, _clock(visit.starts_at, zone), words, wall, card)


def _clock(at: datetime, zone: str) -> str:
    """'7:00 AM' on the site's clock."""
    return instant_words(at, zone).split(", ")[1].rsplit(" ", 1)[0]


def _head(column: DayColumn, note: str, today: date, days: int) -> Head:
    day = column.day
    month = f" {_MONTHS[day.month - 1]}" if day.day == 1 or column.x == 0 else ""
    ticks = () if column.narrow else _TICKS if days <= 9 else _FEW_TICKS
    span = column.work_end - column.work_x
    return Head(
        column,
        f"{_WEEKDAYS[day.weekday()]} {day.day}{month}",
        note,
        day == today,
        tuple((column.work_x + span * (hour - 6) / 13, words) for hour, words in ticks),
    )
