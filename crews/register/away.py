"""Which planned visits the due days ahead hit, and the day to send each item away that costs the fewest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q
from django.utils import timezone

from crews.equipment.away import Answer, Holding, Leaving, Need, lost_visits, propose
from crews.equipment.custody import Where
from crews.models import Equipment, Visit
from crews.register.availability import NEEDED, Fit, days_of, fit_spans
from crews.register.overview import due_within
from crews.register.visit_kit import KIND_WORDS, kinds_needed

AHEAD_DAYS = 60
AWAY_DAYS = 5  # a week's work at a laboratory; common practice, no source
LONGEST_AWAY_DAYS = 60
SATURDAY = 5


@dataclass(frozen=True, slots=True)
class Hit:
    """A planned visit whose crew would not have what it needs."""

    visit: Visit
    kinds: tuple[str, ...]

    @property
    def kind_words(self) -> tuple[str, ...]:
        return tuple(KIND_WORDS.get(kind, kind) for kind in self.kinds)


@dataclass(frozen=True, slots=True)
class Sending:
    """When to send an item away, and which visits that costs."""

    item: Equipment
    leave_on: date
    lost: tuple[Visit, ...]


@dataclass(frozen=True, slots=True)
class AwayPlan:
    """`hits` with nothing sent away; `lost` what the proposed days cost beside what is lost anyway."""

    hits: tuple[Hit, ...]
    sendings: tuple[Sending, ...]
    lost: tuple[Visit, ...]
    proven: bool
    away_days: int


def away_plan(on: date, away_days: int = AWAY_DAYS) -> AwayPlan:
    """Looks AHEAD_DAYS ahead over visits that need an instrument, in a handful of queries."""
    end = on + timedelta(days=AHEAD_DAYS)
    visits = _visits(on, end)
    needs = [
        Need(visit.pk, day.toordinal(), visit.crew_id, kinds_needed(visit))
        for visit in visits
        for day in days_of(visit.starts_at, visit.ends_at, visit.crew.time_zone)
        if on <= day < end
    ]
    kinds = sorted({kind for need in needs for kind in need.kinds})
    # Only what the visits' crews hold and the yard's spares: another item costs no visit on any day.
    near = Q(crew__in={visit.crew_id for visit in visits}, place=Where.CREW) | Q(place=Where.YARD)
    items = list(
        Equipment.objects.filter(near, kind__in=kinds).select_related("crew", "person", "own_kind").order_by("id")
    )
    fit = fit_spans(items, on, end)
    due = set(due_within(on, AHEAD_DAYS).filter(near, kind__in=kinds).values_list("pk", flat=True))
    going = [item for item in items if item.pk in due and not item.out_of_service_reason]
    leaving = [_leaving(item, fit[item.pk], on, away_days) for item in going]
    gone = {item.pk for item in going}
    staying = [_holding(item, fit[item.pk]) for item in items if item.pk not in gone]
    answer = propose(leaving, needs, staying) if leaving else Answer((), (), frozenset(), True)
    by_pk, named = {v.pk: v for v in visits}, {i.pk: i for i in items}
    return AwayPlan(
        hits=_hits(visits, needs, items, fit),
        sendings=tuple(
            Sending(named[p.item_id], date.fromordinal(p.day), tuple(by_pk[pk] for pk in p.lost))
            for p in sorted(answer.proposals, key=lambda p: (p.day, p.item_id))
        ),
        lost=tuple(by_pk[pk] for pk in answer.lost if pk not in answer.anyway),
        proven=answer.proven,
        away_days=away_days,
    )


def _visits(start: date, end: date) -> list[Visit]:
    """Those that need an instrument, by their own kit or by their kind."""
    zone, slack = timezone.get_default_timezone(), timedelta(days=1)
    found = Visit.objects.filter(
        Q(kind__in=list(NEEDED)) | Q(wanted__isnull=False),
        cancelled_at=None,
        ends_at__gt=datetime.combine(start, time.min, zone) - slack,
        starts_at__lt=datetime.combine(end, time.min, zone) + slack,
    )
    rows = found.select_related("job__site", "crew", "wanted").order_by("starts_at", "id")
    return [
        visit
        for visit in rows
        if kinds_needed(visit)
        and any(start <= day < end for day in days_of(visit.starts_at, visit.ends_at, visit.crew.time_zone))
    ]


def _leaving(item: Equipment, fit: Fit, on: date, away_days: int) -> Leaving:
    """It may leave tomorrow at the earliest, and on its due day at the latest, for from then it may not go out;
    later while the owner's word lets it go out. Sent on a working day."""
    assert item.due_on is not None
    first = on + timedelta(days=1)
    last = max(item.due_on, first, *(day + timedelta(days=1) for day in fit.also))
    span = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    days = tuple(day.toordinal() for day in span if day.weekday() < SATURDAY)
    if not days:  # a weekend and nothing else: the next working day
        days = (next(d for n in range(1, 4) if (d := last + timedelta(days=n)).weekday() < SATURDAY).toordinal(),)
    return Leaving(item.pk, item.kind, item.crew_id, days, away_days, _ordinal(fit.last_day), _ordinals(fit))


def _holding(item: Equipment, fit: Fit) -> Holding:
    return Holding(item.kind, item.crew_id, _ordinal(fit.last_day), _ordinals(fit))


def _ordinal(day: date | None) -> int | None:
    return None if day is None else day.toordinal()


def _ordinals(fit: Fit) -> frozenset[int]:
    return frozenset(day.toordinal() for day in fit.also)


def _hits(visits: list[Visit], needs: list[Need], items: list[Equipment], fit: Mapping[int, Fit]) -> tuple[Hit, ...]:
    """Visits for which the crew, and the yard after it, has too few items of a needed kind good on that day."""
    holdings = [_holding(item, fit[item.pk]) for item in items]
    short: dict[int, list[str]] = {}
    for kind in sorted({kind for need in needs for kind in need.kinds}):
        asked = [Need(n.visit_id, n.day, n.crew_id, tuple(k for k in n.kinds if k == kind)) for n in needs]
        for pk in lost_visits((), {}, asked, [one for one in holdings if one.kind == kind]):
            short.setdefault(pk, []).append(kind)
    return tuple(Hit(visit, tuple(short[visit.pk])) for visit in visits if visit.pk in short)
