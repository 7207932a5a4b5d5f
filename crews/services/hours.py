"""Writes of crews' hours and days off."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import pairwise

from django.db import transaction

from crews.gather_plan.shifts import Hours
from crews.models import WEEKDAYS, Crew, CrewShift, DayOff, Person
from tickets.services.refusals import BadInput, Conflict, Faults, need_office

LONGEST_BREAK_MINUTES, LONGEST_OVERTIME_MINUTES = 180, 480


@transaction.atomic
def set_hours(*, crew: Crew, hours: Sequence[Hours], actor: Person) -> list[CrewShift]:
    """The crew's whole week in place of the one on file; an empty one means the usual hours again."""
    need_office(actor)
    crew = Crew.objects.select_for_update().get(pk=crew.pk)
    faults = Faults()
    for one in hours:
        _check(faults, one)
    ordered = sorted(hours, key=lambda h: (h.weekday, h.starts))
    for first, second in pairwise(ordered):
        if first.weekday == second.weekday and second.starts < first.ends:
            faults.add(_field(second), "Two shifts of one day overlap; end the first before the second starts.")
    faults.refuse()
    crew.shifts.all().delete()
    return CrewShift.objects.bulk_create(CrewShift(crew=crew, **one._asdict()) for one in ordered)


def _field(hours: Hours) -> str:
    return f"ends_{hours.weekday}"


def _check(faults: Faults, one: Hours) -> None:
    if one.weekday not in dict(WEEKDAYS):
        raise BadInput(f"{one.weekday!r} is not a weekday; count from 0, Monday.", fields={"weekday": "unknown"})
    if one.ends <= one.starts:
        faults.add(_field(one), "The end must come after the start, on the same day.")
    if not 0 <= one.break_minutes <= LONGEST_BREAK_MINUTES:
        faults.add("break_minutes", f"Give 0 to {LONGEST_BREAK_MINUTES} minutes.")
    if not 0 <= one.overtime_minutes <= LONGEST_OVERTIME_MINUTES:
        faults.add("overtime_minutes", f"Give 0 to {LONGEST_OVERTIME_MINUTES} minutes.")


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
