"""Equipment as the planner wants it, and what a kind of visit needs where nothing else is said."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta

from crews.gather_plan.span import Span
from crews.models import Crew, Equipment, EquipmentKind, VisitKind
from crews.planning.problem import Kit, KitNeed, Yard
from crews.words import zone_of

# What a crew cannot do the work without. Common practice, no source.
USUAL_KIT: dict[str, tuple[str, ...]] = {
    VisitKind.PRIVATE_LOCATE: (EquipmentKind.RECEIVER, EquipmentKind.TRANSMITTER),
    VisitKind.CAMERA: (EquipmentKind.CAMERA_REEL,),
}
NEVER_FIT_S = -1  # no day on record until which its readings may be trusted: unknown is not fit
_PLACES_NOT_AT_HAND = frozenset({"person", "repair", "lost", "stolen", "retired"})


def gather_kit(
    items: Sequence[Equipment], crews: Sequence[Crew], yards: Sequence[Yard], span: Span
) -> tuple[Kit, ...]:
    """Items on a truck, or at a yard that is known; what a person holds or is away is nowhere for a plan."""
    known = {crew.pk: crew for crew in crews}
    found: list[Kit] = []
    for item in items:
        if getattr(item, "place", "") in _PLACES_NOT_AT_HAND:
            continue
        crew = known.get(item.crew_id) if item.crew_id is not None else None
        yard = _yard_of(item, yards) if item.crew_id is None else None
        if crew is not None or yard is not None:
            found.append(_kit(item, crew, yard, span))
    return tuple(found)


def _yard_of(item: Equipment, yards: Sequence[Yard]) -> Yard | None:
    """The only yard, or the one that its spot names."""
    if len(yards) == 1:
        return yards[0]
    spot = str(getattr(item, "spot", "")).casefold()
    return next((yard for yard in yards if spot and yard.id.casefold() in spot), None)


def _kit(item: Equipment, crew: Crew | None, yard: Yard | None, span: Span) -> Kit:
    return Kit(
        id=f"{item.name} ({item.serial})",
        kind=item.kind,
        crew_id=None if crew is None else crew.name,
        yard_id=None if yard is None else yard.id,
        frequencies_hz=frozenset(int(f) for f in getattr(item, "frequencies_hz", ())),
        fit_until_s=_fit_until(item, crew, span),
        out_of_service=bool(item.out_of_service_reason),
        movable=True,
    )


def _fit_until(item: Equipment, crew: Crew | None, span: Span) -> int | None:
    """To the end of its due day; the earliest of all cares that stop it."""
    due = getattr(item, "due_on", None) or item.calibration_due_on
    if item.lacks_date():
        return NEVER_FIT_S
    if due is None:
        return None
    zone = zone_of(crew.time_zone) if crew is not None else UTC
    return span.seconds(datetime.combine(due + timedelta(days=1), time.min, zone))


def needs_of(kinds: Sequence[str], frequency_hz: int | None, kit: Sequence[Kit]) -> tuple[KitNeed, ...]:
    """One item of each kind. A receiver and a transmitter must share a frequency, where frequencies of both
    are on file."""
    tuned = {kind for kind in ("receiver", "transmitter") if any(k.kind == kind and k.frequencies_hz for k in kit)}
    pair = len(tuned) == 2 and {"receiver", "transmitter"} <= set(kinds)
    return tuple(
        KitNeed(
            str(kind),
            frequency_hz if kind == EquipmentKind.RECEIVER else None,
            "receiver" if pair and kind == EquipmentKind.TRANSMITTER else None,
        )
        for kind in kinds
    )
