"""Where an item is: a table of legal steps, the replay of events, the place at an instant. Pure.

An item has exactly one place at any instant from its first event on: a stay runs from its event to the
next one, the first instant included and the last not; of two events at one instant the later entered
governs from then.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from crews.equipment.refusal import EquipmentError


class Where(StrEnum):
    """The kind of place."""

    YARD = "yard"
    CREW = "crew"
    PERSON = "person"
    REPAIR = "repair"  # at a workshop or laboratory
    LOST = "lost"
    STOLEN = "stolen"
    RETIRED = "retired"


WHERE_WORDS = {
    Where.YARD: "At the yard",
    Where.CREW: "With a crew",
    Where.PERSON: "With a person",
    Where.REPAIR: "Away for repair or calibration",
    Where.LOST: "Lost",
    Where.STOLEN: "Stolen",
    Where.RETIRED: "Retired",
}


class Step(StrEnum):
    """What was done with an item."""

    ENTERED = "entered"
    ISSUED = "issued"
    RETURNED = "returned"
    MOVED = "moved"
    SENT_AWAY = "sent_away"
    CAME_BACK = "came_back"
    LOST = "lost"
    STOLEN = "stolen"
    FOUND = "found"
    RETIRED = "retired"


STEP_WORDS = {
    Step.ENTERED: "Entered in the register",
    Step.ISSUED: "Issued",
    Step.RETURNED: "Returned to the yard",
    Step.MOVED: "Moved at the yard",
    Step.SENT_AWAY: "Sent away",
    Step.CAME_BACK: "Came back",
    Step.LOST: "Lost",
    Step.STOLEN: "Stolen",
    Step.FOUND: "Found again",
    Step.RETIRED: "Retired",
}
HELD = frozenset({Where.CREW, Where.PERSON})
PRESENT = HELD | {Where.YARD}

# Step: (where it may begin, why not otherwise). The only place in which the rules of custody stand.
LEGAL: dict[Step, tuple[frozenset[Where], str]] = {
    Step.ISSUED: (PRESENT, "it is not at hand"),
    Step.RETURNED: (HELD, "it was not issued"),
    Step.MOVED: (frozenset({Where.YARD}), "it is not at the yard"),
    Step.SENT_AWAY: (PRESENT, "it is not at hand"),
    Step.CAME_BACK: (frozenset({Where.REPAIR}), "it was not sent away"),
    Step.LOST: (PRESENT | {Where.REPAIR}, "it is gone already"),
    Step.STOLEN: (PRESENT | {Where.REPAIR}, "it is gone already"),
    Step.FOUND: (frozenset({Where.LOST, Where.STOLEN}), "it was not missing"),
    Step.RETIRED: (frozenset({Where.YARD, Where.REPAIR, Where.LOST, Where.STOLEN}), "it is still with somebody"),
}
_ENDS_AT: dict[Step, Where] = {
    Step.ENTERED: Where.YARD,
    Step.RETURNED: Where.YARD,
    Step.MOVED: Where.YARD,
    Step.SENT_AWAY: Where.REPAIR,
    Step.CAME_BACK: Where.YARD,
    Step.LOST: Where.LOST,
    Step.STOLEN: Where.STOLEN,
    Step.FOUND: Where.YARD,
    Step.RETIRED: Where.RETIRED,
}


@dataclass(frozen=True, slots=True)
class Place:
    """One place. `spot` says more: a shelf of the yard, the name of the workshop."""

    where: Where
    crew_id: int | None = None
    person_id: int | None = None
    spot: str = ""

    def __post_init__(self) -> None:
        holders = (self.crew_id is not None, self.person_id is not None)
        if holders != (self.where is Where.CREW, self.where is Where.PERSON):
            raise CustodyError("An item is with one crew, with one person, or with neither.")


@dataclass(frozen=True, slots=True)
class Event:
    """What was done, when, and to whom it went (issues only)."""

    at: datetime
    step: Step
    crew_id: int | None = None
    person_id: int | None = None
    spot: str = ""


@dataclass(frozen=True, slots=True)
class Stay:
    """A place from an instant up to the next event, None: still there."""

    place: Place
    since: datetime
    until: datetime | None
    event: Event


class CustodyError(EquipmentError):
    """A step that cannot follow: right in itself, not as things stand."""

    code = "custody_refused"
    conflict = True


def take(place: Place | None, event: Event) -> Place:
    """The place after the event. Raises CustodyError for a step that cannot follow."""
    _check_holder(event)
    if place is None:
        if event.step is not Step.ENTERED:
            raise CustodyError("The item is not in the register yet; enter it first.")
        return Place(Where.YARD, spot=event.spot)
    if event.step is Step.ENTERED:
        raise CustodyError("The item is in the register already.")
    begins, why_not = LEGAL[event.step]
    if place.where not in begins:
        said = STEP_WORDS[event.step].casefold()
        raise CustodyError(
            f"It cannot be {said}: {why_not} ({WHERE_WORDS[place.where].casefold()}).", fields={"step": why_not}
        )
    if event.step is Step.ISSUED:
        after = Place(Where.CREW if event.crew_id is not None else Where.PERSON, event.crew_id, event.person_id)
        if (after.crew_id, after.person_id) == (place.crew_id, place.person_id):
            raise CustodyError("It is there already.", fields={"holder": "holds it already"})
        return after
    return Place(_ENDS_AT[event.step], spot=event.spot)


def _check_holder(event: Event) -> None:
    given = (event.crew_id is not None) + (event.person_id is not None)
    wanted = 1 if event.step is Step.ISSUED else 0
    if given == wanted:
        return
    if wanted:
        raise CustodyError("Name the crew or the person it goes to, one of the two.", fields={"holder": "name one"})
    raise CustodyError("Only an issue names a crew or a person.", fields={"holder": "leave empty"})


def replay(events: Iterable[Event]) -> tuple[Stay, ...]:
    """The stays that the events make, in the order given. Raises CustodyError for an illegal step or an
    event that lies before the one entered before it."""
    stays: list[Stay] = []
    place: Place | None = None
    for event in events:
        place = take(place, event)
        if stays:
            last = stays[-1]
            if event.at < last.since:
                raise CustodyError("An event cannot lie before the one already entered.", fields={"at": "too early"})
            stays[-1] = Stay(last.place, last.since, event.at, last.event)
        stays.append(Stay(place, event.at, None, event))
    return tuple(stays)


def place_at(stays: Sequence[Stay], instant: datetime) -> Place | None:
    """The one place at an instant; None before the item was entered."""
    found = bisect_right(stays, instant, key=lambda stay: stay.since)
    return stays[found - 1].place if found else None
