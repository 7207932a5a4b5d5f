"""Writes of jobs and their dig areas."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Q

from locates.errors import FirstspadeError
from tickets import evidence
from tickets.models import Customer, DigArea, Job, Site
from tickets.services.customers import make_site
from tickets.services.refusals import Conflict, Faults, need_office, need_person
from tickets.services.writing import conclude, open_job
from tickets.states import JOB, Act, DigMethod, TicketKind, after
from tickets.verdict.areas import parse_area

AREA_FIELDS = frozenset({"name", "polygon", "planned_depth_m", "planned_width_m", "method"})
DEEPEST_M = 30.0
WIDEST_M = 200.0


@transaction.atomic
def create_job(
    *,
    actor: Any,
    now: datetime,
    customer: Customer,
    title: str,
    street: str = "",
    town: str = "",
    latitude: float | None = None,
    longitude: float | None = None,
    site: Site | None = None,
    site_name: str = "",
    county: str = "",
    state: str = "",
    time_zone: str = "",
    work: str = "",
    number: str = "",
    private_lines_likely: bool = True,
    dig_areas: Sequence[Mapping[str, Any]] = (),
) -> Job:
    """A new job at a known `site` or at a new one given by its fields.

    `state` and `time_zone` are found from the position when left empty. `number` is made when left empty.
    Each dig area has polygon (GeoJSON) and method, and may have name, planned_depth_m, planned_width_m.
    """
    need_office(actor)
    faults = Faults()
    _check_names(title, number.strip(), faults)
    if site is None:
        where = {"name": site_name, "street": street, "town": town, "county": county}
        place = {"state": state, "time_zone": time_zone}
        site = _new_site(customer, latitude, longitude, faults, **where, **place)
    areas = [_area(given, site, faults, f"dig_areas.{at}.") for at, given in enumerate(dig_areas)]
    faults.refuse()
    assert site is not None
    if site.pk is None:
        site.save()
    job = Job.objects.create(
        number=number.strip() or _next_number(now),
        customer=customer,
        site=site,
        title=title.strip(),
        work=work.strip(),
        private_lines_likely=private_lines_likely,
        created_at=now,
    )
    evidence.append(job=job, kind="job_created", actor=actor, at=now, payload=_job_payload(job))
    for area in areas:
        area.job = job
        area.save()
        evidence.append(job=job, kind="dig_area_drawn", actor=actor, at=now, payload=_area_payload(area))
    conclude(job=job, actor=actor, now=now)
    return job


def _check_names(title: str, number: str, faults: Faults) -> None:
    faults.need(title=title)
    if len(title) > 160:
        faults.add("title", "is longer than 160 characters.")
    if len(number) > 32:
        faults.add("number", "is longer than 32 characters.")
    elif number and Job.objects.filter(number__iexact=number).exists():
        faults.add("number", f"{number!r} is another job's; choose another or leave it empty.")


def _new_site(
    customer: Customer, latitude: float | None, longitude: float | None, faults: Faults, **words: str
) -> Site | None:
    if latitude is None or longitude is None:
        faults.add("latitude", "give the site's position, or choose a known site.")
        return None
    return make_site(customer=customer, latitude=latitude, longitude=longitude, faults=faults, **words)


def _next_number(now: datetime) -> str:
    """The next free number of the year; the first job is locked, so two writers take turns."""
    prefix = f"{now.year % 100:02d}-"
    Job.objects.select_for_update().order_by("pk").first()
    taken = Job.objects.filter(number__regex=rf"^{prefix}[0-9]{{4,}}$").values_list("number", flat=True)
    last = max((int(number[len(prefix) :]) for number in taken), default=0)
    return f"{prefix}{last + 1:04d}"


@transaction.atomic
def add_dig_area(
    *,
    job: Job,
    actor: Any,
    now: datetime,
    polygon: Mapping[str, Any],
    method: str,
    name: str = "",
    planned_depth_m: float | None = None,
    planned_width_m: float | None = None,
) -> DigArea:
    """Draw ground that the job opens."""
    need_office(actor)
    job = open_job(job, Act.CORRECT)
    faults = Faults()
    given = {
        "polygon": polygon,
        "method": method,
        "name": name,
        "planned_depth_m": planned_depth_m,
        "planned_width_m": planned_width_m,
    }
    area = _area(given, job.site, faults, "")
    faults.refuse()
    area.job = job
    area.save()
    evidence.append(job=job, kind="dig_area_drawn", actor=actor, at=now, payload=_area_payload(area))
    conclude(job=job, actor=actor, now=now)
    return area


@transaction.atomic
def remove_dig_area(*, area: DigArea, actor: Any, now: datetime, reason: str) -> None:
    """The ground is no longer part of the job. The row stays, for the log's sake."""
    need_office(actor)
    job = open_job(Job(pk=area.job_id), Act.CORRECT)
    faults = Faults()
    faults.need(reason=reason)
    faults.refuse()
    changed = DigArea.objects.filter(pk=area.pk, removed_at=None).update(removed_at=now)
    if changed != 1:
        raise Conflict("This dig area was removed before.")
    payload = {"dig_area": area.pk, "name": area.name, "reason": reason.strip()}
    evidence.append(job=job, kind="dig_area_removed", actor=actor, at=now, payload=payload)
    conclude(job=job, actor=actor, now=now)


def _area(given: Mapping[str, Any], site: Site | None, faults: Faults, path: str) -> DigArea:
    unknown = set(given) - AREA_FIELDS
    if unknown:
        faults.add(f"{path}{min(unknown)}", f"is not known; a dig area has {', '.join(sorted(AREA_FIELDS))}.")
    near = None if site is None else (site.latitude, site.longitude)
    try:
        parse_area(given.get("polygon"), field=f"{path}polygon", near=near)
    except FirstspadeError as refused:
        faults.take(refused)
    method = faults.word(f"{path}method", str(given.get("method", "")), DigMethod)
    for field, most in (("planned_depth_m", DEEPEST_M), ("planned_width_m", WIDEST_M)):
        value = given.get(field)
        if value is not None and not 0 < value <= most:
            faults.add(f"{path}{field}", f"{value} m; give metres above 0 and up to {most:g}.")
    return DigArea(
        name=str(given.get("name") or "").strip()[:80],
        polygon=given.get("polygon"),
        method=method or "",
        planned_depth_m=given.get("planned_depth_m"),
        planned_width_m=given.get("planned_width_m"),
    )


@transaction.atomic
def change_job(*, job: Job, actor: Any, now: datetime, reason: str, **changes: Any) -> Job:
    """Correct title, work or private_lines_likely, with the reason."""
    need_office(actor)
    unknown = set(changes) - {"title", "work", "private_lines_likely"}
    if unknown:
        raise TypeError(f"not a field that can be changed: {', '.join(sorted(unknown))}")
    job = open_job(job, Act.CORRECT)
    faults = Faults()
    faults.need(reason=reason)
    if "title" in changes:
        faults.need(title=changes["title"])
    faults.refuse()
    before = {name: getattr(job, name) for name in changes}
    for name, value in changes.items():
        setattr(job, name, value.strip() if isinstance(value, str) else bool(value))
    job.save(update_fields=list(changes))
    payload = {"reason": reason.strip(), "before": before, "after": {n: getattr(job, n) for n in changes}}
    evidence.append(job=job, kind="job_corrected", actor=actor, at=now, payload=payload)
    conclude(job=job, actor=actor, now=now)
    return job


@transaction.atomic
def note_work_begun(*, job: Job, actor: Any, at: datetime, now: datetime) -> Job:
    """Work went on at `at`: the first time it begins the tickets that are good then, later it keeps them
    from lapsing. Call it for every day of work."""
    need_person(actor)
    job = open_job(job, Act.BEGIN_WORK)
    faults = Faults()
    faults.instant("at", at, not_before=(job.created_at, "the job was entered"), not_after=(now, "now"), needed=True)
    faults.refuse()
    on = at.astimezone(ZoneInfo(job.site.time_zone)).date()
    job.work_begun_at = min(at, job.work_begun_at or at)
    job.last_worked_on = max(on, job.last_worked_on or on)
    job.save(update_fields=["work_begun_at", "last_worked_on"])
    good = job.tickets.filter(
        Q(closes_at=None) | Q(closes_at__gt=at),
        Q(work_begun_at=None) | Q(work_begun_at__gt=at),
        kind__in=[TicketKind.NORMAL, TicketKind.RENEWAL],
        cancelled_at=None,
        opens_at__lte=at,
    )
    begun = list(good.order_by("pk").values_list("number", flat=True))
    good.update(work_begun_at=at)
    payload = {"worked_at": at, "local_day": on, "begins_tickets": begun}
    evidence.append(job=job, kind="work_noted", actor=actor, at=now, payload=payload)
    conclude(job=job, actor=actor, now=now)
    return job


@transaction.atomic
def close_job(*, job: Job, actor: Any, now: datetime) -> Job:
    """The work is over. An open emergency must be closed first."""
    need_office(actor)
    job = open_job(job, Act.CLOSE)
    if job.emergencies.filter(closed_at=None).exists():
        raise Conflict(
            "An emergency dig is open on this job; close it first.", fields={"closed_at": "emergency open"}
        )
    job.closed_at = now
    job.save(update_fields=["closed_at"])
    evidence.append(job=job, kind="job_closed", actor=actor, at=now, payload={"closed_at": now})
    conclude(job=job, actor=actor, now=now)
    return job


@transaction.atomic
def reopen_job(*, job: Job, actor: Any, now: datetime, reason: str) -> Job:
    """Work goes on after all."""
    need_office(actor)
    faults = Faults()
    faults.need(reason=reason)
    faults.refuse()
    job = evidence.lock_job(job.pk)
    after(JOB, job.life, Act.REOPEN, what=f"Job {job.number}")
    job.closed_at = None
    job.save(update_fields=["closed_at"])
    evidence.append(job=job, kind="job_reopened", actor=actor, at=now, payload={"reason": reason.strip()})
    conclude(job=job, actor=actor, now=now)
    return job


def _job_payload(job: Job) -> dict[str, Any]:
    site = job.site
    return {
        "title": job.title,
        "work": job.work,
        "customer": job.customer.name,
        "private_lines_likely": job.private_lines_likely,
        "site": {
            "street": site.street,
            "town": site.town,
            "county": site.county,
            "state": site.state,
            "latitude": site.latitude,
            "longitude": site.longitude,
            "time_zone": site.time_zone,
            "place_source": site.place_source,
        },
    }


def _area_payload(area: DigArea) -> dict[str, Any]:
    return {
        "dig_area": area.pk,
        "name": area.name,
        "polygon": area.polygon,
        "method": area.method,
        "planned_depth_m": area.planned_depth_m,
        "planned_width_m": area.planned_width_m,
    }
