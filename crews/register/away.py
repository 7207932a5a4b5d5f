"""Which planned visits the due days ahead hit, and the day to send each item away that costs the fewest."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from crews.equipment.away import Answer, Holding, Leaving, Need, lost_visits, propose
from crews.equipment.custody import Where
from crews.models import CALIBRATED, Equipment, Visit
from crews.register.availability import NEEDED, Fit, days_of, fit_spans
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
    near = _near(visits, needs)
    steady = _steady(near, end)
    items = _to_look_at(near, end)
    fit = fit_spans(items, on, end)
    going = [item for item in items if item.due_on is not None and item.due_on <= end]
    leaving = [_leaving(item, fit[item.pk], on, away_days) for item in going]
    gone = {item.pk for item in going}
    held = {item.pk: _holding(item, fit[item.pk]) for item in items}
    staying = [*steady, *(one for pk, one in held.items() if pk not in gone)]
    answer = propose(leaving, needs, staying) if leaving else Answer((), (), frozenset(), True)
    by_pk, named = {v.pk: v for v in visits}, {i.pk: i for i in items}
    return AwayPlan(
        hits=_hits(visits, needs, [*steady, *held.values()]),
        sendings=tuple(
            Sending(named[p.item_id], date.fromordinal(p.day), tuple(by_pk[pk] for pk in p.lost))
            for p in sorted(answer.proposals, key=lambda p: (p.day, p.item_id))
        ),
        lost=tuple(by_pk[pk] for pk in answer.lost if pk not in answer.anyway),
        proven=answer.proven,
        away_days=away_days,
    )


def _near(visits: list[Visit], needs: list[Need]) -> QuerySet[Equipment]:
    """What the visits' crews hold and the yard's spares, of the kinds needed: another item costs no visit on any
    day. What is out of service goes out on no day, and a due day of its own costs nothing."""
    kinds = sorted({kind for need in needs for kind in need.kinds})
    near = Q(crew__in={visit.crew_id for visit in visits}, place=Where.CREW) | Q(place=Where.YARD)
    return Equipment.objects.filter(near, kind__in=kinds, out_of_service_reason="")


def _good_throughout(end: date) -> Q:
    """No end within the days looked at, as `fit_spans` would say of the row."""
    dated = Q(care_unknown="") & ~Q(kind__in=CALIBRATED, calibration_due_on=None)
    return dated & (Q(due_on=None) | Q(due_on__gt=end))


def _steady(near: QuerySet[Equipment], end: date) -> list[Holding]:
    """Most of a register: good throughout, so that only their number counts."""
    rows = near.filter(_good_throughout(end)).order_by().values_list("kind", "crew_id")
    return [Holding(kind, crew_id, count=items) for kind, crew_id, items in rows.annotate(items=Count("id"))]


def _to_look_at(near: QuerySet[Equipment], end: date) -> list[Equipment]:
    """The others, row by row, with the columns that the days and the page want."""
    rows = near.exclude(_good_throughout(end)).order_by("id")
    return list(
        rows.only(
            *("kind", "name", "serial", "crew", "place", "due_on", "due_title", "calibration_due_on"),
            *("care_unknown", "out_of_service_reason"),
        )
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


def _hits(visits: list[Visit], needs: list[Need], holdings: list[Holding]) -> tuple[Hit, ...]:
    """Visits for which the crew, and the yard after it, has too few items of a needed kind good on that day."""
    short: dict[int, list[str]] = {}
    for kind in sorted({kind for need in needs for kind in need.kinds}):
        asked = [Need(n.visit_id, n.day, n.crew_id, tuple(k for k in n.kinds if k == kind)) for n in needs]
        for pk in lost_visits((), {}, asked, [one for one in holdings if one.kind == kind]):
            short.setdefault(pk, []).append(kind)
    return tuple(Hit(visit, tuple(short[visit.pk])) for visit in visits if visit.pk in short)
