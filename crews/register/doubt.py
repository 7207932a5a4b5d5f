"""Which private locates were made with an item since its last good check."""

from __future__ import annotations

from datetime import date, datetime, time

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from crews.equipment.care import Care
from crews.models import (
    CareResult,
    CustodyEvent,
    Equipment,
    EquipmentKind,
    LocateInstrument,
    Person,
    Visit,
    VisitKind,
)
from locates.field.selectors import private_locates_made_with
from tickets.models import PrivateLocate
from tickets.states import LocateKind

# Kinds that a locate rests on; a failed ladder puts no locate in doubt.
LOCATES_WITH = frozenset(
    {
        EquipmentKind.RECEIVER,
        EquipmentKind.TRANSMITTER,
        EquipmentKind.SONDE,
        EquipmentKind.CLAMP,
        EquipmentKind.CAMERA_REEL,
    }
)
LISTED = 50  # of the latest locates, to choose from
TRUSTED_BY = (Care.CALIBRATION, Care.FUNCTION_CHECK)


def last_good_check(item: Equipment, before: date) -> date | None:
    """The day of the last good calibration or function check up to that day."""
    good = CareResult.objects.filter(item=item, passed=True, care__in=TRUSTED_BY, done_on__lte=before)
    return good.order_by("-done_on").values_list("done_on", flat=True).first()


def locates_in_doubt(item: Equipment, failed_on: date) -> QuerySet[PrivateLocate]:
    """The locates made with the item from the day of its last good check on, that day included, for nobody
    knows the hour. A locate for which no instrument was written down counts when the person's crew, or a
    crew with a private-locate visit to the job that day, held the item at that instant."""
    if item.kind not in LOCATES_WITH:
        return PrivateLocate.objects.none()
    since = last_good_check(item, failed_on)
    made = PrivateLocate.objects.filter(kind=LocateKind.LOCATED)
    if since is not None:
        made = made.filter(made_at__gte=_midnight(since))
    written = LocateInstrument.objects.filter(locate=OuterRef("pk"))
    by_run = [private_locates_made_with(serial=item.serial), private_locates_made_with(equipment_id=item.pk)]
    mine = Q(Exists(written.filter(item=item)))
    for read_with in by_run:
        mine |= Q(pk__in=read_with.order_by().values("pk"))
    nobody_says = ~Q(Exists(written)) & Q(locate_runs=None)
    held = CustodyEvent.objects.filter(item=item, at__lte=OuterRef("made_at")).filter(
        Q(until=None) | Q(until__gt=OuterRef("made_at"))
    )
    by_holder = Q(Exists(held.filter(Q(crew=OuterRef("by__crew")) | Q(person=OuterRef("by")))))
    there = Visit.objects.filter(
        kind=VisitKind.PRIVATE_LOCATE,
        cancelled_at=None,
        job=OuterRef("job"),
        starts_at__lte=OuterRef("made_at"),
        crew__in=CustodyEvent.objects.filter(item=item).exclude(crew=None).values("crew"),
    )
    return made.filter(mine | (nobody_says & (by_holder | Q(Exists(there))))).select_related("job__site", "by")


def locates_to_name(item: Equipment, person: Person) -> QuerySet[PrivateLocate]:
    """The latest locates of which the person may say that they were made with the item; the office of any, everybody
    of the own."""
    if item.kind not in LOCATES_WITH:
        return PrivateLocate.objects.none()
    named = LocateInstrument.objects.filter(locate=OuterRef("pk"), item=item)
    found = PrivateLocate.objects.filter(~Q(Exists(named)), kind=LocateKind.LOCATED)
    if not person.runs_the_office:
        found = found.filter(by=person)
    latest = found.order_by("-made_at", "-pk").values("pk")[:LISTED]
    rows = PrivateLocate.objects.filter(pk__in=list(latest.values_list("pk", flat=True)))
    return rows.select_related("job__site").order_by("-made_at", "-pk")


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time.min, timezone.get_default_timezone())
