"""Writes of crews' hours, of where their shifts begin and end, and of days off."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, time
from itertools import pairwise

from django.db import transaction

from crews.gather_plan.shifts import Hours, home_of
from crews.models import WEEKDAYS, Crew, CrewHome, CrewShift, DayOff, Person, ShiftPlace
from crews.services.guards import check_position
from tickets.services.refusals import BadInput, Conflict, Faults, need_office

LONGEST_BREAK_MINUTES, LONGEST_OVERTIME_MINUTES = 180, 480
A_DAY, A_WEEK = 24 * 60, 7 * 24 * 60


@transaction.atomic
def set_hours(*, crew: Crew, hours: Sequence[Hours], actor: Person) -> list[CrewShift]:
    """The crew's whole week in place of the one on file; an empty one means the usual hours again."""
    need_office(actor)
    crew = Crew.objects.select_for_update(of=("self",)).select_related("home").get(pk=crew.pk)
    faults = Faults()
    for one in hours:
        _check(faults, one, home_of(crew))
    ordered = sorted(hours, key=lambda h: (h.weekday, h.starts))
    _check_overlap(faults, ordered)
    faults.refuse()
    crew.shifts.all().delete()
    return CrewShift.objects.bulk_create(CrewShift(crew=crew, **one._asdict()) for one in ordered)


def _check_overlap(faults: Faults, ordered: Sequence[Hours]) -> None:
    """With overtime, and from the end of the week into its start."""
    spans = [(h, h.weekday * A_DAY + _minutes(h.starts), h.weekday * A_DAY + _minutes(h.ends)) for h in ordered]
    wrapped = [*spans, *((h, start + A_WEEK, end + A_WEEK) for h, start, end in spans[:1])]
    for (first, _, end), (second, start, _) in pairwise(wrapped):
        if start < end + max(0, first.overtime_minutes):
            words = "The shift before it ends after it starts, overtime counted"
            faults.add(_field(second), f"{words}; end that one sooner, allow less overtime, or start this one later.")


def _minutes(at: time) -> int:
    return at.hour * 60 + at.minute


def _field(hours: Hours) -> str:
    return f"ends_{hours.weekday}"


def _check(faults: Faults, one: Hours, home: CrewHome | None) -> None:
    if one.weekday not in dict(WEEKDAYS):
        raise BadInput(f"{one.weekday!r} is not a weekday; count from 0, Monday.", fields={"weekday": "unknown"})
    if one.ends <= one.starts:
        faults.add(_field(one), "The end must come after the start, on the same day.")
    if not 0 <= one.break_minutes <= LONGEST_BREAK_MINUTES:
        faults.add("break_minutes", f"Give 0 to {LONGEST_BREAK_MINUTES} minutes.")
    if not 0 <= one.overtime_minutes <= LONGEST_OVERTIME_MINUTES:
        faults.add("overtime_minutes", f"Give 0 to {LONGEST_OVERTIME_MINUTES} minutes.")
    for name in ("begins_from", "ends_back_at"):
        place = getattr(one, name)
        if place not in ShiftPlace.values:
            faults.add(
                f"{name}_{one.weekday}", f"{place!r} is not a place; use one of {', '.join(ShiftPlace.values)}."
            )
        elif place == ShiftPlace.HOME and home is None:
            faults.add(f"{name}_{one.weekday}", "The crew has no home on file; give its position first.")


@transaction.atomic
def set_home(*, crew: Crew, latitude: float, longitude: float, actor: Person) -> CrewHome:
    """Where the crew's truck stands overnight when it does not go to the yard."""
    need_office(actor)
    faults = Faults()
    check_position(faults, latitude, longitude, field="latitude")
    faults.refuse()
    home, _ = CrewHome.objects.update_or_create(crew=crew, defaults={"latitude": latitude, "longitude": longitude})
    return home


@transaction.atomic
def drop_home(*, crew: Crew, actor: Person) -> None:
    """The home is no more; refused while a shift begins or ends there."""
    need_office(actor)
    used = crew.shifts.filter(begins_from=ShiftPlace.HOME) | crew.shifts.filter(ends_back_at=ShiftPlace.HOME)
    if used.exists():
        raise Conflict(
            f"A shift of {crew.name} begins or ends at home; change that first.",
            code="home_in_use",
            fields={"latitude": "a shift begins or ends there"},
        )
    CrewHome.objects.filter(crew=crew).delete()


@transaction.atomic
def add_day_off(*, crew: Crew, on: date, today: date, actor: Person, reason: str = "") -> DayOff:
    """A day on which no plan sends the crew out. Visits that stand on it stay until a plan or a person moves
    them."""
    need_office(actor)
    faults = Faults()
    if on < today:
        faults.add("on", "That day is past; give a day from today on.")
    faults.refuse()
    if DayOff.objects.filter(crew=crew, on=on).exists():
        raise Conflict(f"{crew.name} has that day off already.", code="day_off_twice", fields={"on": "given before"})
    return DayOff.objects.create(crew=crew, on=on, reason=reason.strip(), set_by=actor)


@transaction.atomic
def end_day_off(*, day_off: DayOff, actor: Person) -> None:
    """The crew works that day after all."""
    need_office(actor)
    day_off.delete()
