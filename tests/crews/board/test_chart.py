"""Where tickets, visits, skipped days and the present stand on a row."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from crews.board.chart import BAR_PX, CARD_PX, Strip, VisitSpan, lay_strip
from crews.board.scale import lay_scale
from crews.board.texture import TicketSpan, emergency_span

EASTERN, PACIFIC = ZoneInfo("America/New_York"), ZoneInfo("America/Los_Angeles")
FIRST = date(2026, 9, 16)
SCALE = lay_scale(FIRST, 9, {date(2026, 9, 19), date(2026, 9, 20)})
NOW = datetime(2026, 9, 16, 14, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def local(day: int, hour: int, zone: ZoneInfo = EASTERN) -> datetime:
    return datetime(2026, 9, day, hour, tzinfo=zone)


def ticket(
    number: str = "D-1", opens: int = 18, closes: int = 22, texture: str = "open", **given: object
) -> TicketSpan:
    fields = {"received_at": local(15, 10), "opens_at": local(opens, 7), "closes_at": local(closes, 17), **given}
    return TicketSpan(number, texture=texture, **fields)  # type: ignore[arg-type]


def strip(tickets: list[TicketSpan], visits: list[VisitSpan] | None = None, zone: ZoneInfo = EASTERN) -> Strip:
    return lay_strip(SCALE, zone, tickets, visits or [], {date(2026, 9, 19): ""}, NOW)


def x(day: int, hour: int) -> float:
    return SCALE.x(datetime(2026, 9, day, hour))


def test_wait_window_and_expiry_stand_at_their_hours() -> None:
    (layer,) = strip([ticket()]).layers
    wait, window = layer.pieces
    assert (wait.texture, wait.x) == ("waiting", 0.0)
    assert wait.end == pytest.approx(x(18, 7))
    assert (window.texture, window.x) == ("open", pytest.approx(x(18, 7)))
    assert window.end == pytest.approx(x(22, 17))
    assert layer.expiry_x == pytest.approx(x(22, 17))


def test_an_end_off_the_axis_or_not_fixed_has_no_stroke() -> None:
    for closes_at in (datetime(2026, 10, 20, tzinfo=UTC), None):
        (layer,) = strip([ticket(closes_at=closes_at)]).layers
        assert layer.expiry_x is None
        assert layer.pieces[-1].end == pytest.approx(100.0)


def test_a_ticket_over_before_the_axis_begins_is_left_out() -> None:
    gone = ticket(received_at=local(1, 8), opens_at=local(4, 7), closes_at=local(15, 23))
    assert strip([gone]).layers == ()
    assert strip([gone]).height >= BAR_PX


def test_a_renewal_lies_under_the_ticket_it_renews() -> None:
    renewal = ticket("D-2", opens=21, closes=24, received_at=local(17, 9), renews="D-1")
    first, second = strip([renewal, ticket()]).layers
    assert (first.number, second.number) == ("D-1", "D-2")
    assert second.y >= first.y + first.height


def test_a_renewal_of_a_renewal_comes_back_to_the_first_line() -> None:
    chain = [
        ticket("D-1", closes=17, opens=16),
        ticket("D-2", received_at=local(16, 9), opens=17, closes=21, renews="D-1"),
        ticket("D-3", received_at=local(18, 9), opens=21, closes=24, renews="D-2"),
    ]
    tops = {layer.number: layer.y for layer in strip(chain).layers}
    assert tops["D-1"] == tops["D-3"] < tops["D-2"]


def test_without_an_opening_the_window_is_not_known() -> None:
    (layer,) = strip([ticket(opens_at=None, closes_at=None, texture="unknown")]).layers
    assert [(p.texture, p.end) for p in layer.pieces] == [("unknown", 100.0)]


def test_a_follower_shows_its_wait_alone() -> None:
    (layer,) = strip([ticket(texture="", closes_at=None)]).layers
    assert [p.texture for p in layer.pieces] == ["waiting"]
    assert layer.expiry_x is None


def test_an_emergency_ends_at_now_without_a_stroke() -> None:
    (layer,) = strip([emergency_span("e", NOW - HOUR, None, NOW)]).layers
    (piece,) = layer.pieces
    assert piece.end == pytest.approx(x(16, 10))
    assert layer.expiry_x is None


def test_the_same_wall_time_stands_in_the_same_place_in_every_zone() -> None:
    east = strip([ticket(opens_at=local(18, 7, EASTERN))]).layers[0].pieces[1].x
    west = strip([ticket(opens_at=local(18, 7, PACIFIC))], zone=PACIFIC).layers[0].pieces[1].x
    assert east == west
    assert strip([]).now_x == pytest.approx(x(16, 10))
    assert strip([], zone=PACIFIC).now_x == pytest.approx(x(16, 7))


def test_now_off_the_axis_is_not_drawn() -> None:
    later = lay_scale(date(2026, 9, 17), 3, ())
    assert lay_strip(later, EASTERN, [], [], {}, NOW).now_x is None


def test_a_card_is_pinned_inside_the_window_of_its_line() -> None:
    renewal = ticket("D-2", opens=23, closes=24, received_at=local(17, 9), renews="D-1")
    visits = [VisitSpan(1, local(18, 8), local(18, 12)), VisitSpan(2, local(24, 8), local(24, 12))]
    laid = strip([ticket(), renewal], visits)
    first, second = laid.layers
    one, two = laid.cards
    assert first.y < one.y
    assert one.y + CARD_PX < first.y + first.height
    assert second.y < two.y < second.y + second.height
    assert one.x == one.extent_x == pytest.approx(x(18, 8))
    assert one.extent_width == pytest.approx(x(18, 12) - x(18, 8))


visit_spans = st.lists(
    st.tuples(st.integers(0, 24 * 11), st.integers(1, 24)), max_size=12, unique_by=lambda pair: pair[0]
).map(
    lambda pairs: [
        VisitSpan(n, local(15, 0) + start * HOUR, local(15, 0) + (start + length) * HOUR)
        for n, (start, length) in enumerate(pairs)
    ]
)


@given(visits=visit_spans)
def test_cards_never_overlap_nor_leave_the_row(visits: list[VisitSpan]) -> None:
    laid = strip([ticket()], visits)
    for n, one in enumerate(laid.cards):
        assert one.x >= 0.0
        assert one.x + one.width <= 100.0 + 1e-9
        assert one.y + one.height <= laid.height
        for other in laid.cards[n + 1 :]:
            apart = one.x + one.width <= other.x + 1e-9 or other.x + other.width <= one.x + 1e-9
            assert apart or abs(one.y - other.y) >= CARD_PX


def test_skipped_days_are_shaded_where_they_are() -> None:
    (shade,) = lay_strip(SCALE, EASTERN, [], [], {date(2026, 9, 19): "Founders Day"}, NOW).shades
    column = SCALE.columns[3]
    assert (shade.day, shade.x, shade.width, shade.words) == (column.day, column.x, column.width, "Founders Day")
