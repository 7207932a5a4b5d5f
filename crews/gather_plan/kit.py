"""Equipment as the planner wants it, and what a kind of visit needs where nothing else is said."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from crews.gather_plan.span import Span
from crews.gather_plan.work import Work
from crews.models import Crew, Equipment, EquipmentKind
from crews.planning.problem import Kit, KitNeed, Yard
from crews.register.availability import NEEDED, Availability, availability_over

AT_HAND = ("crew", "person", "yard")
_RECEIVER = str(EquipmentKind.RECEIVER)
_HEARD = frozenset({str(EquipmentKind.TRANSMITTER), str(EquipmentKind.SONDE)})


def items_for(work: Iterable[Work]) -> list[Equipment]:
    """The items of the kinds that the work needs, however long the register: on a truck, with somebody, or at a
    yard."""
    kinds = {kind for one in work for kind in kinds_needed(one)}
    found = Equipment.objects.filter(kind__in=kinds, place__in=AT_HAND).select_related("person")
    return list(found.order_by("pk")) if kinds else []


def kinds_needed(one: Work) -> tuple[str, ...]:
    """What was asked for; the usual kit of the kind where nothing was said."""
    return tuple(one.wanted.kit) if one.wanted is not None and one.wanted.kit else NEEDED.get(one.kind, ())


def gather_kit(
    items: Sequence[Equipment], crews: Sequence[Crew], yards: Sequence[Yard], span: Span
) -> tuple[Kit, ...]:
    """Items on a truck, or at a yard that is known; a person's item rides with the person's crew. On a day on
    which an item may not go out (due, out of service, no date on record) it is not there, unless the owner
    said otherwise for that day."""
    days = span.days()
    said = availability_over(items, days)
    known = {crew.pk: crew for crew in crews}
    found: list[Kit] = []
    for item in items:
        holder = item.crew_id if item.person is None else item.person.crew_id
        crew = known.get(holder) if holder is not None else None
        yard = _yard_of(item, yards) if item.place == "yard" else None
        if crew is not None or yard is not None:
            found.append(_kit(item, crew, yard, said[item.pk], days))
    return tuple(found)


def _yard_of(item: Equipment, yards: Sequence[Yard]) -> Yard | None:
    """The only yard, or the one that its spot names."""
    if len(yards) == 1:
        return yards[0]
    spot = item.spot.casefold()
    return next((yard for yard in yards if spot and yard.id.casefold() in spot), None)


def _kit(
    item: Equipment, crew: Crew | None, yard: Yard | None, said: dict[date, Availability], days: Sequence[date]
) -> Kit:
    return Kit(
        id=f"{item.name} ({item.serial})",
        kind=item.kind,
        crew_id=None if crew is None else crew.name,
        yard_id=None if crew is not None or yard is None else yard.id,
        frequencies_hz=frozenset(int(f) for f in item.frequencies_hz),
        out_of_service=bool(item.out_of_service_reason),
        movable=True,
        unfit_days=frozenset(number for number, day in enumerate(days) if not said[day].available),
    )


def needs_of(kinds: Sequence[str], frequency_hz: int | None, kit: Sequence[Kit]) -> tuple[KitNeed, ...]:
    """One item of each kind. A transmitter, and a sonde, must share a frequency with the receiver, where
    frequencies of both are on file."""
    tuned = {one.kind for one in kit if one.frequencies_hz}

    def partner(kind: str) -> str | None:
        heard = kind in _HEARD and {kind, _RECEIVER} <= tuned and _RECEIVER in kinds
        return _RECEIVER if heard else None

    return tuple(KitNeed(str(kind), frequency_hz if kind == _RECEIVER else None, partner(kind)) for kind in kinds)
