"""Pieces of a truck's parts that visits use which no plan moves."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from crews.gather_plan.span import Span
from crews.models import Visit
from crews.words import zone_of

PartsGone = Mapping[tuple[str, int], Mapping[str, int]]


def visits_over(now: datetime) -> list[Visit]:
    """Visits that ended in the last day and may have used up parts; a truck is made up again each night only."""
    found = Visit.objects.filter(cancelled_at=None, ends_at__lte=now, ends_at__gt=now - timedelta(days=1))
    return list(found.exclude(wanted=None).exclude(wanted__parts={}).select_related("wanted", "crew"))


def parts_gone(visits: Iterable[Visit], span: Span) -> PartsGone:
    """Pieces by crew and day of the plan, on the crew's own calendar."""
    gone: dict[tuple[str, int], dict[str, int]] = {}
    for visit in visits:
        wanted = getattr(visit, "wanted", None)
        if wanted is None or not wanted.parts:
            continue
        day = (visit.starts_at.astimezone(zone_of(visit.crew.time_zone)).date() - span.first).days
        if day < 0:
            continue
        used = gone.setdefault((visit.crew.name, day), {})
        for name, count in wanted.parts.items():
            used[str(name)] = used.get(str(name), 0) + int(count)
    return gone
