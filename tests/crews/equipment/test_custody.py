"""Custody: exactly one place at any instant, whatever the legal order of events."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from crews.equipment.custody import (
    HELD,
    LEGAL,
    CustodyError,
    Event,
    Place,
    Step,
    Where,
    place_at,
    replay,
    take,
)

calm = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])  # a busy machine is no fault
START = datetime(2026, 9, 1, 12, tzinfo=UTC)


@st.composite
def legal_events(draw: st.DrawFn) -> list[Event]:
    """Any legal history; several events may share one instant."""
    at, place = START, take(None, Event(START, Step.ENTERED))
    events = [Event(START, Step.ENTERED)]
    for _ in range(draw(st.integers(0, 25))):
        at += timedelta(minutes=draw(st.integers(0, 500)))
        possible = [step for step, (begins, _) in LEGAL.items() if place.where in begins]
        if not possible:
            break
        step = draw(st.sampled_from(sorted(possible)))
        crew, person = None, None
        if step is Step.ISSUED:
            crew, person = draw(
                st.sampled_from([(1, None), (2, None), (None, 1), (None, 2)]).filter(
                    lambda pair, here=place: pair != (here.crew_id, here.person_id)
                )
            )
        event = Event(at, step, crew, person)
        place = take(place, event)
        events.append(event)
    return events


@calm
@given(legal_events(), st.integers(-1000, 20_000))
def test_exactly_one_place_at_any_instant(events: list[Event], minutes: int) -> None:
    stays = replay(events)
    instant = START + timedelta(minutes=minutes)
    # Counted independently of place_at: the stays that hold the instant, zero-length ones never do.
    holding = [stay for stay in stays if stay.since <= instant and (stay.until is None or instant < stay.until)]
    assert len(holding) == (1 if minutes >= 0 else 0)
    assert place_at(stays, instant) == (holding[0].place if holding else None)


@calm
@given(legal_events())
def test_stays_meet_end_to_end_and_only_the_last_is_open(events: list[Event]) -> None:
    stays = replay(events)
    assert [stay.until for stay in stays] == [*(stay.since for stay in stays[1:]), None]
    for stay in stays:
        held = (stay.place.crew_id is not None) + (stay.place.person_id is not None)
        assert held == (stay.place.where in HELD)


@calm
@given(legal_events(), st.integers(0, 25))
def test_replaying_in_two_halves_ends_at_the_same_place(events: list[Event], cut: int) -> None:
    whole = replay(events)
    place: Place | None = None
    for event in events[:cut]:
        place = take(place, event)
    for event in events[cut:]:
        place = take(place, event)
    assert place == whole[-1].place
    assert replay(events) == whole


@calm
@given(st.lists(legal_events(), min_size=2, max_size=4), st.data())
def test_any_order_of_the_items_events_ends_alike(histories: list[list[Event]], data: st.DataObject) -> None:
    """Events of different items commute: in whatever order they come, as long as each item's own order is kept,
    every item is where its own history puts it, and nowhere else."""
    waiting = [list(events) for events in histories]
    places: dict[int, Place | None] = dict.fromkeys(range(len(histories)))
    while any(waiting):
        item = data.draw(st.sampled_from([number for number, events in enumerate(waiting) if events]))
        places[item] = take(places[item], waiting[item].pop(0))
    assert places == {number: replay(events)[-1].place for number, events in enumerate(histories)}


@calm
@given(legal_events(), st.data())
def test_an_order_that_is_not_legal_is_refused_and_not_bent(events: list[Event], data: st.DataObject) -> None:
    """Shuffled at will, a history either replays step by step by the table or is refused at the first wrong step."""
    order = data.draw(st.permutations(events))
    place: Place | None = None
    for event in order:
        begins = LEGAL[event.step][0] if event.step in LEGAL else frozenset()
        legal = (place is None) if event.step is Step.ENTERED else (place is not None and place.where in begins)
        same = (
            place is not None
            and event.step is Step.ISSUED
            and (event.crew_id, event.person_id)
            == (
                place.crew_id,
                place.person_id,
            )
        )
        if legal and not same:
            place = take(place, event)
        else:
            with pytest.raises(CustodyError):
                take(place, event)
            return


@pytest.mark.parametrize(
    ("events", "words"),
    [
        ([Step.RETURNED], "not issued"),
        ([Step.CAME_BACK], "was not sent away"),
        ([Step.FOUND], "was not missing"),
        ([Step.ENTERED], "in the register already"),
        ([Step.LOST, Step.SENT_AWAY], "not at hand"),
        ([Step.RETIRED, Step.FOUND], "was not missing"),
    ],
)
def test_each_illegal_step_says_why(events: list[Step], words: str) -> None:
    with pytest.raises(CustodyError, match=words):
        replay([Event(START, Step.ENTERED), *(Event(START, step) for step in events)])


def test_an_issue_needs_one_holder_who_does_not_hold_it_yet() -> None:
    yard = Place(Where.YARD)
    for crew, person in ((None, None), (1, 1)):
        with pytest.raises(CustodyError, match="one of the two"):
            take(yard, Event(START, Step.ISSUED, crew, person))
    held = take(yard, Event(START, Step.ISSUED, crew_id=1))
    with pytest.raises(CustodyError, match="there already"):
        take(held, Event(START, Step.ISSUED, crew_id=1))
    with pytest.raises(CustodyError, match="not in the register"):
        take(None, Event(START, Step.ISSUED, crew_id=1))
    with pytest.raises(CustodyError, match="Only an issue"):
        take(held, Event(START, Step.RETURNED, crew_id=1))


def test_no_event_before_the_one_already_entered() -> None:
    early = START - timedelta(seconds=1)
    with pytest.raises(CustodyError, match="before the one"):
        replay([Event(START, Step.ENTERED), Event(early, Step.LOST)])


def test_every_step_but_the_first_has_its_rule() -> None:
    assert set(LEGAL) == set(Step) - {Step.ENTERED}
    with pytest.raises(CustodyError):
        Place(Where.YARD, crew_id=1)
