"""Writes of where an item is. The row's place, the stay before and the new event change together."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from crews.equipment.custody import Event, Place, Step, Where, take
from crews.models import Crew, CustodyEvent, Equipment, Person
from crews.services.care_states import company_day, refresh_care
from tickets.services.refusals import BadInput, Conflict, Forbidden, need_person

# What a crew does by itself, with what it holds or takes from its yard.
CREWS_OWN = frozenset({Step.ISSUED, Step.RETURNED, Step.LOST, Step.STOLEN})


@transaction.atomic
def move_item(
    *,
    item: Equipment,
    step: str,
    actor: Person,
    now: datetime,
    crew: Crew | None = None,
    person: Person | None = None,
    spot: str = "",
    note: str = "",
) -> Equipment:
    """Take one step of custody. A crew member moves what the own crew holds, or takes from the yard."""
    need_person(actor)
    try:
        word = Step(step)
    except ValueError as wrong:
        words = f"{step!r} is not a step; use one of {', '.join(Step)}."
        raise BadInput(words, fields={"step": words}) from wrong
    item = locked_item(item)
    _may(actor, item, word, crew, person)
    _check_holder(crew, person)
    event = Event(now, word, crew.pk if crew else None, person.pk if person else None, spot.strip()[:80])
    record_event(item, event, actor, note=note, confirmed=_confirms(actor, crew, person))
    if word is Step.ISSUED and item.first_issued_on is None:
        item.first_issued_on = company_day(now)
        item.save(update_fields=["first_issued_on"])
    refresh_care(item, now)
    return item


@transaction.atomic
def confirm_hand_over(*, item: Equipment, actor: Person, now: datetime) -> Equipment:
    """The crew or the person it was issued to says: we have it."""
    need_person(actor)
    item = locked_item(item)
    if not item.unconfirmed:
        raise Conflict(f"{item.name} is confirmed already.")
    if not _holds(actor, item):
        raise Forbidden(f"{item.name} was issued to {item.place_words}; only they confirm it.")
    CustodyEvent.objects.filter(item=item, until=None).update(confirmed_at=now, confirmed_by=actor)
    item.unconfirmed = False
    item.save(update_fields=["unconfirmed"])
    return item


def enter_item(item: Equipment, actor: Person, now: datetime) -> None:
    """The first event of a new item: it is at the yard."""
    CustodyEvent.objects.create(
        item=item, sequence=1, step=Step.ENTERED, at=now, place=Where.YARD, spot=item.spot, by=actor
    )
    item.place_since = now
    item.save(update_fields=["place_since"])


def record_event(item: Equipment, event: Event, actor: Person, *, note: str = "", confirmed: bool = False) -> None:
    """One step on a locked item. Raises CustodyError when it cannot follow."""
    last = CustodyEvent.objects.get(item=item, until=None)
    place = take(Place(Where(item.place), item.crew_id, item.person_id, item.spot), event)
    if event.at < last.at:
        words = "Something later is entered already; look at the item's history."
        raise Conflict(words, fields={"at": words})
    last.until = event.at
    last.save(update_fields=["until"])
    held = place.where in {Where.CREW, Where.PERSON}
    CustodyEvent.objects.create(
        item=item,
        sequence=last.sequence + 1,
        step=event.step,
        at=event.at,
        place=place.where,
        crew_id=place.crew_id,
        person_id=place.person_id,
        spot=place.spot,
        note=note.strip()[:200],
        by=actor,
        confirmed_at=event.at if held and confirmed else None,
        confirmed_by=actor if held and confirmed else None,
    )
    item.place, item.crew_id, item.person_id = place.where, place.crew_id, place.person_id
    item.spot, item.place_since, item.unconfirmed = place.spot, event.at, held and not confirmed
    item.save(update_fields=["place", "crew", "person", "spot", "place_since", "unconfirmed"])


def locked_item(item: Equipment) -> Equipment:
    """The item as the database has it, locked to the end of the transaction."""
    return (
        Equipment.objects.select_for_update(of=("self",)).select_related("crew", "person", "own_kind").get(pk=item.pk)
    )


def _holds(actor: Person, item: Equipment) -> bool:
    return item.person_id == actor.pk or (item.crew_id is not None and item.crew_id == actor.crew_id)


def _confirms(actor: Person, crew: Crew | None, person: Person | None) -> bool:
    """Whoever takes an item for the own crew has it in the hand."""
    return (crew is not None and actor.crew_id == crew.pk) or (person is not None and actor.pk == person.pk)


def _may(actor: Person, item: Equipment, step: Step, crew: Crew | None, person: Person | None) -> None:
    if actor.runs_the_office:
        return
    takes = item.place == Where.YARD and step is Step.ISSUED and _confirms(actor, crew, person)
    gives = _holds(actor, item) and step in CREWS_OWN - {Step.ISSUED}
    if not (takes or gives):
        raise Forbidden("A crew takes from the yard and gives back what it holds; ask the dispatcher for the rest.")


def _check_holder(crew: Crew | None, person: Person | None) -> None:
    if crew is not None and not crew.active:
        raise Conflict(
            f"{crew.name} is not active; choose another crew.", code="crew_inactive", fields={"crew": "not active"}
        )
    if person is not None and not person.is_active:
        raise Conflict(f"{person} has no live log-in; choose another.", fields={"person": "log-in has ended"})
