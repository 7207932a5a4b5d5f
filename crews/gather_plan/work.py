"""What there is to do: visits ahead, wanted visits, and what an open job plainly still needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from crews.models import Visit, VisitKind, WantedVisit, breaks_ground
from tickets.models import Job
from tickets.selectors import facts_of, jobs_with_facts
from tickets.verdict import Facts
from tickets.verdict.emergency import open_emergency

# How long a visit takes when nobody has said. Common practice, no source.
USUAL_MINUTES: Mapping[str, int] = {
    VisitKind.WHITE_LINE: 30,
    VisitKind.PRIVATE_LOCATE: 60,
    VisitKind.CAMERA: 60,
    VisitKind.RE_MARK_CHECK: 30,
    VisitKind.DIG: 240,
    VisitKind.RESTORE: 120,
}
# A job's visits in the order in which they must be made; a camera inspection may come at any time.
RANK: Mapping[str, int] = {
    VisitKind.WHITE_LINE: 0,
    VisitKind.PRIVATE_LOCATE: 1,
    VisitKind.RE_MARK_CHECK: 2,
    VisitKind.DIG: 3,
    VisitKind.RESTORE: 4,
}


@dataclass(frozen=True, slots=True)
class Work:
    """One visit to plan. `visit` stands already; `wanted` was asked for; neither: the job plainly needs it."""

    key: str
    job: Job
    kind: str
    minutes: int
    facts: Facts
    visit: Visit | None = None
    wanted: WantedVisit | None = None

    @property
    def pinned(self) -> bool:
        return self.visit is not None and self.visit.pinned

    @property
    def surface_only(self) -> bool:
        said = self.visit or self.wanted
        return said is not None and said.surface_only

    @property
    def breaks_ground(self) -> bool:
        """Whether it is held to the lawful window."""
        return breaks_ground(self.kind, self.surface_only)


def visits_ahead(now: datetime) -> list[Visit]:
    """Every visit that is not over, begun or not."""
    found = Visit.objects.filter(cancelled_at=None, ends_at__gt=now).select_related("job__site", "crew", "wanted")
    return list(found.prefetch_related("wanted__more_promises").order_by("starts_at", "id"))


def gather_work(now: datetime, ahead: Sequence[Visit], until: datetime) -> list[Work]:
    """Work of the open jobs, in a fixed order; queries constant in their number."""
    found = jobs_with_facts().filter(closed_at=None)
    jobs = list(found.prefetch_related("visits", "wanted_visits__more_promises").order_by("pk"))
    sheets = facts_of(jobs)
    ahead_of: dict[int, list[Visit]] = {}
    for visit in ahead:
        ahead_of.setdefault(visit.job_id, []).append(visit)
    work: list[Work] = []
    for job in jobs:
        facts = sheets[job.pk].facts
        work += _named(_of_job(job, facts, ahead_of.get(job.pk, []), now, until))
    return work


def _of_job(job: Job, facts: Facts, ahead: Sequence[Visit], now: datetime, until: datetime) -> Iterable[Work]:
    for visit in ahead:
        if now <= visit.starts_at < until:
            minutes = round((visit.ends_at - visit.starts_at).total_seconds() / 60)
            yield Work("", job, visit.kind, minutes, facts, visit, getattr(visit, "wanted", None))
    wanted = [w for w in job.wanted_visits.all() if w.dropped_at is None]
    for one in wanted:
        if one.visit_id is None:
            yield Work("", job, one.kind, one.minutes, facts, None, one)
    kinds_ahead = {visit.kind for visit in ahead}
    if not wanted:
        for kind in plainly_needed(job, facts, now):
            if kind not in kinds_ahead:
                yield Work("", job, kind, USUAL_MINUTES[kind], facts)


def plainly_needed(job: Job, facts: Facts, now: datetime) -> list[str]:
    """What an open job still needs though nobody has asked for it: the dig, and before it the private locate
    where lines that no operator marks are likely."""
    if not facts.dig_areas or job.work_begun_at is not None:
        return []
    digs = [v for v in job.visits.all() if v.kind == VisitKind.DIG and v.cancelled_at is None]
    if digs and all(visit.starts_at < now for visit in digs):
        return []
    located = any(not locate.in_doubt(now) for locate in facts.locates)
    urgent = open_emergency(facts, now) is not None
    needed = [] if located or urgent or facts.private_lines_likely is False else [str(VisitKind.PRIVATE_LOCATE)]
    return needed if digs else [*needed, str(VisitKind.DIG)]


def _named(work: Iterable[Work]) -> list[Work]:
    """In the job's order, each with a key that a person can read; the second of a kind says so."""
    seen: dict[str, int] = {}
    named = []
    for one in sorted(work, key=lambda w: RANK.get(w.kind, 9)):
        words = f"{one.job.number} {VisitKind(one.kind).label.lower()}"
        seen[words] = seen.get(words, 0) + 1
        key = words if seen[words] == 1 else f"{words} {seen[words]}"
        named.append(Work(key, one.job, one.kind, one.minutes, one.facts, one.visit, one.wanted))
    return named
