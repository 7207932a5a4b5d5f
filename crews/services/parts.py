"""Writes of spare parts: what they are called, how many ride on each truck, which yards keep them."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from django.db import transaction

from crews.models import Crew, Person, SparePart, TruckStock, WantedVisit, YardStock
from tickets.services.refusals import Conflict, Faults, need_office

MOST_PIECES = 999


@transaction.atomic
def add_part(*, name: str, actor: Person) -> SparePart:
    """A part that visits may ask for."""
    need_office(actor)
    name = " ".join(name.split())
    faults = Faults()
    if not name or len(name) > 60:
        faults.add("name", "Give a name of 1 to 60 characters.")
    faults.refuse()
    if SparePart.objects.filter(name__iexact=name).exists():
        raise Conflict(f"{name} is on the list already.", code="part_twice", fields={"name": "on the list already"})
    return SparePart.objects.create(name=name)


@transaction.atomic
def set_stock(
    *, part: SparePart, on_trucks: Mapping[int, int], at_yards: Collection[str], actor: Person
) -> SparePart:
    """The part's whole stock in place of the one on file: pieces by crew (its key), and the yards that keep it."""
    need_office(actor)
    part = SparePart.objects.select_for_update().get(pk=part.pk)
    crews = Crew.objects.filter(active=True)
    known, yards = {crew.pk for crew in crews}, {crew.yard_name for crew in crews}
    faults = Faults()
    for crew_id, pieces in on_trucks.items():
        if crew_id not in known:
            faults.add("on_trucks", f"{crew_id} is no active crew.")
        elif isinstance(pieces, bool) or not isinstance(pieces, int) or not 0 <= pieces <= MOST_PIECES:
            faults.add(f"pieces_{crew_id}", f"Give 0 to {MOST_PIECES} pieces.")
    for yard in sorted(set(at_yards) - yards):
        faults.add("at_yards", f"{yard!r} is no yard of an active crew.")
    faults.refuse()
    part.on_trucks.all().delete()
    part.at_yards.all().delete()
    TruckStock.objects.bulk_create(
        TruckStock(part=part, crew_id=crew_id, pieces=pieces) for crew_id, pieces in on_trucks.items() if pieces
    )
    YardStock.objects.bulk_create(YardStock(part=part, yard_name=yard) for yard in sorted(set(at_yards)))
    return part


@transaction.atomic
def drop_part(*, part: SparePart, actor: Person) -> None:
    """Off the list, unless a wanted visit asks for it."""
    need_office(actor)
    asking = WantedVisit.objects.filter(visit=None, dropped_at=None, parts__has_key=part.name).select_related("job")
    first = asking.first()
    if first is not None:
        raise Conflict(f"A visit wanted on job {first.job.number} asks for {part.name}.", code="part_is_wanted")
    part.delete()
