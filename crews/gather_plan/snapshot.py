"""A digest of every fact that a plan rests on, so that what has changed since can be named."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from crews.gather_plan.shifts import Team, home_of, hours_of
from crews.gather_plan.span import Span
from crews.gather_plan.work import Work
from crews.models import Crew, Visit, YardStock
from crews.planning.problem import Kit
from crews.words import span_words

Snapshot = dict[str, dict[str, Any]]


def _digest(*parts: object) -> str:
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:32]


def snapshot_of(
    crews: Sequence[Crew],
    stock: Sequence[YardStock],
    kit: Sequence[Kit],
    ahead: Sequence[Visit],
    work: Sequence[Work],
) -> Snapshot:
    """By what each fact is of: its digest, and the crew and the job that it bears on."""
    found: Snapshot = {}
    for crew in crews:
        found[f"crew:{crew.pk}"] = {"digest": _crew(crew, stock, kit), "crew": crew.pk, "job": None}
    for visit in ahead:
        found[f"visit:{visit.pk}"] = {"digest": _visit(visit), "crew": visit.crew_id, "job": visit.job_id}
    for one in work:
        site = one.job.site
        digest = _digest(one.facts, site.latitude, site.longitude)
        found[f"job:{one.job.pk}"] = {"digest": digest, "crew": None, "job": one.job.pk}
        if one.wanted is not None:
            found[f"wanted:{one.wanted.pk}"] = {"digest": _wanted(one), "crew": None, "job": one.job.pk}
    return found


def _crew(crew: Crew, stock: Sequence[YardStock], kit: Sequence[Kit]) -> str:
    off = sorted(day.on for day in crew.days_off.all())
    within_reach = [
        (item.id, item.kind, sorted(item.frequencies_hz), item.out_of_service, sorted(item.unfit_days))
        for item in kit
        if item.crew_id == crew.name or item.yard_id is not None
    ]
    parts = sorted((row.part.name, row.pieces) for row in crew.parts.all())
    parts_at_yard = sorted(row.part.name for row in stock if row.yard_name == crew.yard_name)
    place = (crew.yard_latitude, crew.yard_longitude, crew.time_zone, str(home_of(crew) or ""))
    hours = [tuple(map(str, one)) for one in hours_of(crew)]
    return _digest(place, sorted(crew.skills), hours, off, within_reach, parts, parts_at_yard)


def _visit(visit: Visit) -> str:
    what = (visit.crew_id, visit.job_id, visit.kind, visit.surface_only)
    return _digest(*what, visit.starts_at, visit.ends_at, visit.pinned)


def _wanted(one: Work) -> str:
    w = one.wanted
    assert w is not None
    promises = [(w.promised_from, w.promised_until)]
    promises += [(more.opens_at, more.closes_at) for more in w.more_promises.all()]
    gaps = (w.gap_least_hours, w.gap_most_hours)
    needs = (sorted(w.skills), w.kit, w.frequency_hz, sorted(w.parts.items()))
    return _digest(w.kind, w.surface_only, w.minutes, w.priority, needs, promises, gaps)


def changes_since(
    then: Mapping[str, Mapping[str, Any]],
    now: Snapshot,
    names: Mapping[str, str],
    *,
    own_visits: Iterable[int],
    crew_id: int | None = None,
    job_id: int | None = None,
) -> list[str]:
    """What has changed, in sentences. `own_visits` are those that accepting this very plan made or moved; with
    a crew and a job only what bears on either counts."""
    own = {f"visit:{pk}" for pk in own_visits}
    accepted_wanted = {key for key in then if key.startswith("wanted:") and key not in now} if own else set()
    said: list[str] = []
    for key in sorted({*then, *now} - own - accepted_wanted):
        old, new = then.get(key), now.get(key)
        about = new or old
        assert about is not None
        bears = crew_id is None or about["crew"] == crew_id or about["job"] == job_id
        if not bears or (old is not None and new is not None and old["digest"] == new["digest"]):
            continue
        words = _words(key, old is None, new is None, names)
        if words:
            said.append(words)
    return said


def _words(key: str, is_new: bool, is_gone: bool, names: Mapping[str, str]) -> str:
    sort, _, _ = key.partition(":")
    name = names.get(key, "")
    if sort == "visit":
        if is_gone:
            return "A visit that the plan counted on has begun, is over or was cancelled."
        return f"{name} was placed since." if is_new else f"{name} was moved or changed since."
    if is_new:
        return ""  # a new job or crew is not part of the plan
    if sort == "job":
        return (
            "A job of the plan was closed or needs no visit any more."
            if is_gone
            else f"Tickets, answers, marks or ground of job {name} have changed."
        )
    if sort == "crew":
        return "A crew of the plan is not active any more." if is_gone else f"Hours, skills or kit of {name} changed."
    return "What was asked for on a job of the plan has changed."


def names_of(team: Team, ahead: Sequence[Visit], work: Sequence[Work], span: Span) -> dict[str, str]:
    """What to call each fact."""
    names = {f"crew:{crew.pk}": crew.name for crew in team.crews.values()}
    names |= {f"job:{one.job.pk}": one.job.number for one in work}
    return names | {f"visit:{v.pk}": _visit_name(v, span.now) for v in ahead}


def _visit_name(visit: Visit, now: datetime) -> str:
    when = span_words(visit.starts_at, visit.ends_at, visit.job.site.time_zone)
    return f"The visit of {visit.crew.name} to job {visit.job.number}, {when},"
