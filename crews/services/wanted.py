"""Writes of wanted visits: what a plan is to find a day for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import datetime
from typing import Any

from django.db import transaction

from crews.gather_plan.shifts import active_crews, longest_minutes
from crews.models import (
    EquipmentKind,
    Person,
    PromisedWindow,
    SparePart,
    VisitKind,
    WantedPriority,
    WantedVisit,
)
from tickets.models import Job
from tickets.services.refusals import BadInput, Conflict, Faults, need_office

SHORTEST_MINUTES, LONGEST_MINUTES = 5, 24 * 60
MOST_GAP_HOURS, MOST_PIECES, MOST_PROMISES = 24 * 60, 999, 5
Stretch = tuple[datetime, datetime]


@dataclass(frozen=True, slots=True)
class Wish:
    """What is wanted of a visit. `kit` are kinds of equipment, empty for the usual ones of the kind; `parts` are
    pieces by the part's name; the gaps count from the end of the job's visit before it."""

    kind: str
    minutes: int
    priority: str = WantedPriority.NORMAL
    skills: Sequence[str] = ()
    kit: Sequence[str] = ()
    frequency_hz: int | None = None
    parts: Mapping[str, int] = field(default_factory=dict)
    surface_only: bool = False
    promised_from: datetime | None = None
    promised_until: datetime | None = None
    more_promises: Sequence[Stretch] = ()
    gap_least_hours: int = 0
    gap_most_hours: int | None = None


@transaction.atomic
def want_visit(*, job: Job, actor: Person, now: datetime, **wish: Any) -> WantedVisit:
    """Ask for a visit, with the fields of `Wish`. Once a job has a wanted visit, plans take what is asked for and
    add nothing of their own. Refused whole: the first word beside each field that cannot be used."""
    need_office(actor)
    wanted = WantedVisit(job=job, asked_by=actor, asked_at=now)
    return _store(wanted, _wish(wish), now)


@transaction.atomic
def change_wanted(*, wanted: WantedVisit, actor: Person, now: datetime, **changes: Any) -> WantedVisit:
    """Ask for something else; what is not named stays."""
    need_office(actor)
    wanted = _locked(wanted)
    unknown = set(changes) - {one.name for one in fields(Wish)}
    if unknown:
        name = min(unknown)
        raise BadInput(f"{name!r} is no part of a wanted visit.", fields={name: "unknown"})
    return _store(wanted, replace(wish_of(wanted), **changes), now)


def wish_of(wanted: WantedVisit) -> Wish:
    """What is asked for now."""
    plain = [one.name for one in fields(Wish) if one.name != "more_promises"]
    more = tuple((row.opens_at, row.closes_at) for row in wanted.more_promises.all())
    return Wish(**{name: getattr(wanted, name) for name in plain}, more_promises=more)


def _wish(given: Mapping[str, Any]) -> Wish:
    try:
        return Wish(**given)
    except TypeError:
        known = {one.name for one in fields(Wish)}
        name = min((set(given) - known) or ({"kind", "minutes"} - set(given)))
        said = "unknown" if name not in known else "fill this in."
        raise BadInput(f"{name.replace('_', ' ')}: {said}", fields={name: said}) from None


def _store(wanted: WantedVisit, wish: Wish, now: datetime) -> WantedVisit:
    job = wanted.job
    if job.closed_at is not None:
        raise Conflict(f"Job {job.number} is closed; reopen it first.", code="job_closed", fields={"job": "closed"})
    wish = replace(
        wish,
        skills=[word.strip() for word in wish.skills if word.strip()],
        kit=list(wish.kit),
        parts=dict(wish.parts),
    )
    faults = Faults()
    _check_work(faults, wish)
    _check_needs(faults, wish)
    _check_times(faults, wish, now)
    faults.refuse()
    for one in fields(Wish):
        if one.name != "more_promises":
            setattr(wanted, one.name, getattr(wish, one.name))
    wanted.save()
    wanted.more_promises.all().delete()
    rows = [PromisedWindow(wanted=wanted, opens_at=start, closes_at=end) for start, end in wish.more_promises]
    PromisedWindow.objects.bulk_create(rows)
    return wanted


def _check_work(faults: Faults, wish: Wish) -> None:
    if wish.kind not in VisitKind.values:
        faults.add("kind", f"{wish.kind!r} is not a kind of visit; use one of {', '.join(VisitKind.values)}.")
    if wish.priority not in WantedPriority.values:
        faults.add("priority", f"{wish.priority!r} is not known; use one of {', '.join(WantedPriority.values)}.")
    if wish.surface_only and wish.kind != VisitKind.RESTORE:
        faults.add("surface_only", "Only a restoration can be said to stay on the surface.")
    if not SHORTEST_MINUTES <= wish.minutes <= LONGEST_MINUTES:
        faults.add("minutes", f"Give {SHORTEST_MINUTES} to {LONGEST_MINUTES} minutes.")
        return
    longest = longest_minutes(active_crews())
    if longest is not None and wish.minutes > longest:
        words = f"{wish.minutes} minutes are longer than any crew's shift ({longest} minutes with overtime)"
        faults.add("minutes", f"{words}; split it into visits that fit.")


def _check_needs(faults: Faults, wish: Wish) -> None:
    unknown = [kind for kind in wish.kit if kind not in EquipmentKind.values]
    if unknown:
        faults.add("kit", f"{unknown[0]!r} is not a kind of equipment.")
    if wish.frequency_hz is not None and not 1 <= wish.frequency_hz <= 1_000_000:
        faults.add("frequency_hz", "Give hertz from 1 to 1,000,000.")
    known = set(SparePart.objects.filter(name__in=wish.parts).values_list("name", flat=True))
    for name, pieces in wish.parts.items():
        if name not in known:
            faults.add("parts", f"{name!r} is not among the spare parts; add it there first.")
        elif isinstance(pieces, bool) or not isinstance(pieces, int) or not 1 <= pieces <= MOST_PIECES:
            faults.add("parts", f"{name}: give 1 to {MOST_PIECES} pieces.")


def _check_times(faults: Faults, wish: Wish, now: datetime) -> None:
    start, end = wish.promised_from, wish.promised_until
    if (start is None) != (end is None):
        faults.add("promised_until", "Give both ends of the promised window, or neither.")
    elif start is not None and end is not None:
        _check_promise(faults, "promised_until", start, end, now)
    if wish.more_promises and start is None:
        faults.add("more_promises", "Give the first promised window before more of them.")
    if len(wish.more_promises) > MOST_PROMISES:
        faults.add("more_promises", f"At most {MOST_PROMISES} more promised windows.")
    for one, other in wish.more_promises:
        _check_promise(faults, "more_promises", one, other, now)
    least, most = wish.gap_least_hours, wish.gap_most_hours
    if not 0 <= least <= MOST_GAP_HOURS:
        faults.add("gap_least_hours", f"Give 0 to {MOST_GAP_HOURS} hours.")
    if most is not None and most < least:
        faults.add("gap_most_hours", "At most must not be less than at least.")
    elif most is not None and most > MOST_GAP_HOURS:
        faults.add("gap_most_hours", f"Give at most {MOST_GAP_HOURS} hours.")


def _check_promise(faults: Faults, name: str, start: datetime, end: datetime, now: datetime) -> None:
    if start.tzinfo is None or end.tzinfo is None:
        faults.add(name, "has no time zone; give the offset too.")
    elif end <= start:
        faults.add(name, "The end must come after the start.")
    elif end < now:
        faults.add(name, "The promised window is past.")


def _locked(wanted: WantedVisit) -> WantedVisit:
    wanted = WantedVisit.objects.select_for_update(of=("self",)).select_related("job").get(pk=wanted.pk)
    if wanted.visit_id is not None:
        raise Conflict("It is on a crew's day already; change or cancel the visit there.", code="wanted_is_placed")
    if wanted.dropped_at is not None:
        raise Conflict("It is not wanted any more; ask for a new one.", code="wanted_is_dropped")
    return wanted


@transaction.atomic
def drop_wanted(*, wanted: WantedVisit, actor: Person, now: datetime) -> WantedVisit:
    """The visit is not wanted any more. One that has become a visit is cancelled as a visit."""
    need_office(actor)
    wanted = _locked(wanted)
    wanted.dropped_at = now
    wanted.save(update_fields=["dropped_at"])
    return wanted
