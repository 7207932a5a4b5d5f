"""The geometry of the chart of dig windows: layers of tickets, cards of visits, shaded days. Pure.

Across the axis everything is in per cent of its width, down the strip in CSS pixels.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from crews.board.scale import Scale
from crews.board.texture import TicketSpan

BAR_PX = 16
CARD_PX = 26
CARD_GAP_PX = 4
LAYER_GAP_PX = 6
EDGE_PX = 6
LEAST_CARD = 12.5  # per cent: room for an hour and a crew's name
LEAST_EMERGENCY = 1.5  # per cent: room for both pairs of uprights
LEAST_BAR = 0.25  # per cent: a stretch of minutes still shows
_Place = Callable[[datetime], float]


@dataclass(frozen=True, slots=True)
class VisitSpan:
    """A visit in time."""

    pk: int
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of one texture."""

    texture: str
    x: float
    width: float

    @property
    def end(self) -> float:
        return self.x + self.width


@dataclass(frozen=True, slots=True)
class Card:
    """A visit's card, and the exact stretch of the visit on its upper edge."""

    pk: int
    x: float
    y: int
    width: float
    extent_x: float
    extent_width: float
    height: int = CARD_PX


@dataclass(frozen=True, slots=True)
class Layer:
    """One ticket's line; `expiry_x` None: its end is off the axis or not fixed."""

    number: str
    y: int
    height: int
    pieces: tuple[Piece, ...]
    expiry_x: float | None
    expiry_at: datetime | None

    @property
    def half(self) -> float:
        return self.height / 2

    @property
    def over(self) -> int:
        """Just below the lower edge."""
        return self.height + 1

    @property
    def foot(self) -> int:
        """How far the expiry's stroke reaches below the upper edge."""
        return self.height + 4

    @property
    def rules(self) -> tuple[int, int]:
        """Upper edges of the two heavy rules across a stretch that says stop."""
        middle = self.y + self.height // 2
        return (middle - 4, middle + 2)


@dataclass(frozen=True, slots=True)
class Shade:
    """A day that the law at the site skips, with why; `words` are for the row, empty when the head has them."""

    day: date
    x: float
    width: float
    words: str


@dataclass(frozen=True, slots=True)
class Strip:
    """One job's ruled row."""

    height: int
    layers: tuple[Layer, ...]
    cards: tuple[Card, ...]
    shades: tuple[Shade, ...]
    now_x: float | None


def lay_strip(
    scale: Scale,
    zone: tzinfo,
    tickets: Sequence[TicketSpan],
    visits: Sequence[VisitSpan],
    skipped: Mapping[date, str],
    now: datetime,
) -> Strip:
    """One row in the site's own zone. `skipped` maps days to what the row says of them."""

    def at(instant: datetime) -> float:
        return scale.x(instant.astimezone(zone).replace(tzinfo=None))

    seen = [t for t in tickets if _in_sight(scale, zone, t)]
    lines = _lines(seen)
    homes = _homes(lines, visits)
    layers: list[Layer] = []
    cards: list[Card] = []
    y = EDGE_PX
    for number, line in enumerate(lines or [[]]):
        here = [v for v in visits if homes[v.pk] == number and _visit_in_sight(scale, zone, v)]
        placed, rows = _cards(here, y, at)
        cards += placed
        height = max(BAR_PX, rows * (CARD_PX + CARD_GAP_PX) + CARD_GAP_PX)
        layers += [_layer(span, y, height, scale, at) for span in line]
        y += height + LAYER_GAP_PX
    shades = tuple(Shade(c.day, c.x, c.width, skipped[c.day]) for c in scale.columns if c.day in skipped)
    wall = now.astimezone(zone).replace(tzinfo=None)
    now_x = scale.x(wall) if scale.starts <= wall < scale.ends else None
    return Strip(y - LAYER_GAP_PX + EDGE_PX, tuple(layers), tuple(cards), shades, now_x)


def _in_sight(scale: Scale, zone: tzinfo, span: TicketSpan) -> bool:
    start = span.received_at.astimezone(zone).replace(tzinfo=None)
    last = span.closes_at if span.texture else span.opens_at
    return start < scale.ends and (last is None or last.astimezone(zone).replace(tzinfo=None) > scale.starts)


def _visit_in_sight(scale: Scale, zone: tzinfo, visit: VisitSpan) -> bool:
    start = visit.starts_at.astimezone(zone).replace(tzinfo=None)
    end = visit.ends_at.astimezone(zone).replace(tzinfo=None)
    return start < scale.ends and end > scale.starts


def _lines(spans: Sequence[TicketSpan]) -> list[list[TicketSpan]]:
    """Tickets on lines so that none overlap on one; a renewal stands below the ticket that it renews."""
    lines: list[list[TicketSpan]] = []
    where: dict[str, int] = {}
    for span in sorted(spans, key=lambda s: s.received_at):
        parent = where.get(span.renews) if span.renews is not None else None
        least = 0 if parent is None else 1 if parent == 0 else 0
        line = next((n for n in range(least, len(lines)) if n != parent and _free(lines[n], span)), len(lines))
        if line == len(lines):
            lines.append([])
        lines[line].append(span)
        where[span.number] = line
    return lines


def _free(line: Sequence[TicketSpan], span: TicketSpan) -> bool:
    return all((end := other.closes_at) is not None and end <= span.received_at for other in line)


def _homes(lines: Sequence[Sequence[TicketSpan]], visits: Sequence[VisitSpan]) -> dict[int, int]:
    """The line in whose window each visit lies; the first where it lies in none."""
    homes: dict[int, int] = {}
    for visit in visits:
        inside = (n for n, line in enumerate(lines) if any(_holds(span, visit) for span in line))
        homes[visit.pk] = next(inside, 0)
    return homes


def _holds(span: TicketSpan, visit: VisitSpan) -> bool:
    opened = bool(span.texture) and span.opens_at is not None and span.opens_at <= visit.starts_at
    return opened and (span.closes_at is None or visit.ends_at <= span.closes_at)


def _cards(visits: Sequence[VisitSpan], top: int, at: _Place) -> tuple[list[Card], int]:
    """Cards on as few rows as hold them without overlap, and the number of rows."""
    ends: list[float] = []
    cards: list[Card] = []
    for visit in sorted(visits, key=lambda v: (v.starts_at, v.pk)):
        extent_x, extent_end = at(visit.starts_at), at(visit.ends_at)
        width = max(LEAST_CARD, extent_end - extent_x)
        x = max(0.0, min(extent_x, 100.0 - width))
        row = next((n for n, end in enumerate(ends) if end <= x), len(ends))
        if row == len(ends):
            ends.append(0.0)
        ends[row] = x + width
        y = top + CARD_GAP_PX + row * (CARD_PX + CARD_GAP_PX)
        cards.append(Card(visit.pk, x, y, width, extent_x, max(LEAST_BAR, extent_end - extent_x)))
    return cards, len(ends)


def _layer(span: TicketSpan, y: int, height: int, scale: Scale, at: _Place) -> Layer:
    received = at(span.received_at)
    closes = 100.0 if span.closes_at is None else at(span.closes_at)
    opens = closes if span.opens_at is None else min(at(span.opens_at), closes)
    pieces = []
    if span.opens_at is None and span.texture:
        pieces.append(Piece("closed" if span.texture == "closed" else "unknown", received, closes - received))
    elif opens > received:
        pieces.append(Piece("waiting", received, opens - received))
    if span.opens_at is not None and span.texture and closes > opens:
        if span.texture == "emergency":  # never drawn past its end
            opens = max(0.0, min(opens, closes - LEAST_EMERGENCY))
        pieces.append(Piece(span.texture, opens, max(LEAST_BAR, closes - opens)))
    has_end = span.texture not in {"", "emergency"} and span.closes_at is not None
    ends_here = has_end and 0.0 < closes < 100.0
    return Layer(
        span.number,
        y,
        height,
        tuple(pieces),
        closes if ends_here else None,
        span.closes_at if ends_here else None,
    )
