"""Which planned visits the due days ahead hit, and the day to send each item away that costs the fewest."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q
from django.utils import timezone

from crews.equipment.away import Answer, Holding, Leaving, Need, propose
from crews.models import Equipment, EquipmentKind, Visit
from crews.register.availability import NEEDED, availability
from crews.register.overview import due_within

AHEAD_DAYS = 60
AWAY_DAYS = 5  # a week's work at a laboratory; common practice, no source


@dataclass(frozen=True, slots=True)
class Hit:
    """A planned visit whose crew would not have what it needs."""

    visit: Visit
    kinds: tuple[str, ...]

    @property
    def kind_words(self) -> tuple[str, ...]:
        names = dict(EquipmentKind.choices)
        return tuple(names[kind].lower() for kind in self.kinds)


@dataclass(frozen=True, slots=True)
class Sending:
    """When to send an item away, and which visits that costs."""

    item: Equipment
    leave_on: date
    lost: tuple[Visit, ...]


@dataclass(frozen=True, slots=True)
class AwayPlan:
    hits: tuple[Hit, ...]
    sendings: tuple[Sending, ...]
    lost: tuple[Visit, ...]
    proven: bool
    away_days: int


def away_plan(on: date, away_days: int = AWAY_DAYS) -> AwayPlan:
    """Looks AHEAD_DAYS ahead over visits that need an instrument, in a handful of queries."""
    end = on + timedelta(days=AHEAD_DAYS)
    visits = _visits(on, end)
    kinds = sorted({kind for visit in visits for kind in NEEDED[visit.kind]})
    # Only what the visits' crews hold and the yard's spares: another item costs no visit on any day.
    near = Q(crew__in={visit.crew_id for visit in visits}) | Q(place="yard")
    items = list(Equipment.objects.filter(near, kind__in=kinds).select_related("crew", "own_kind").order_by("id"))
    able = availability(items, on)
    usable = [item for item in items if able[item.pk].available and item.place in {"yard", "crew"}]
    due = set(due_within(on, AHEAD_DAYS).filter(near, kind__in=kinds).values_list("pk", flat=True))
    leaving = [_leaving(item, on, away_days) for item in usable if item.pk in due]
    staying = [Holding(i.kind, i.crew_id, _last_day(i)) for i in usable if i.pk not in due]
    needs = [Need(v.pk, _day(v).toordinal(), v.crew_id, NEEDED[v.kind]) for v in visits]
    answer = propose(leaving, needs, staying) if leaving else Answer((), (), frozenset(), True)
    by_pk, named = {v.pk: v for v in visits}, {i.pk: i for i in items}
    return AwayPlan(
        hits=_hits(visits, usable),
        sendings=tuple(
            Sending(named[p.item_id], date.fromordinal(p.day), tuple(by_pk[pk] for pk in p.lost))
            for p in answer.proposals
        ),
        lost=tuple(by_pk[pk] for pk in answer.lost if pk not in answer.anyway),
        proven=answer.proven,
        away_days=away_days,
    )


def _visits(start: date, end: date) -> list[Visit]:
    zone = timezone.get_default_timezone()
    found = Visit.objects.filter(
        kind__in=list(NEEDED),
        cancelled_at=None,
        starts_at__gte=datetime.combine(start, time.min, zone),
        starts_at__lt=datetime.combine(end, time.min, zone),
    )
    return list(found.select_related("job__site", "crew").order_by("starts_at", "id"))


def _day(visit: Visit) -> date:
    """The local day in the company's zone."""
    return timezone.localdate(visit.starts_at)


def _leaving(item: Equipment, on: date, away_days: int) -> Leaving:
    """It may leave tomorrow at the earliest and on its due day at the latest: from then it may not go out."""
    assert item.due_on is not None
    first = on + timedelta(days=1)
    last = max(item.due_on, first)
    days = tuple(day for day in range(first.toordinal(), last.toordinal() + 1) if date.fromordinal(day).weekday() < 5)
    return Leaving(item.pk, item.kind, item.crew_id, days or (first.toordinal(),), away_days)


def _last_day(item: Equipment) -> int | None:
    """The last day on which it may go out."""
    return None if item.due_on is None else item.due_on.toordinal() - 1


def _hits(visits: list[Visit], usable: list[Equipment]) -> tuple[Hit, ...]:
    """Visits for which the crew, and the yard after it, has no item of a needed kind good on that day."""
    found = []
    for visit in visits:
        day = _day(visit).toordinal()
        short = tuple(
            kind
            for kind in NEEDED[visit.kind]
            if not any(
                item.kind == kind
                and item.crew_id in {visit.crew_id, None}
                and ((last := _last_day(item)) is None or day <= last)
                for item in usable
            )
        )
        if short:
            found.append(Hit(visit, short))
    return tuple(found)
