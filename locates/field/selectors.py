"""Every read of locates that spans rows."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db.models import Count, Prefetch, Q, QuerySet

from locates.field.models import Backing, Device, Observation, Photo, Point, Run, SoilFinding
from tickets.models import DigArea, Job, PrivateLocate, Ticket
from tickets.selectors import jobs_visible_to


def runs_visible_to(person: Any) -> QuerySet[Run]:
    """The office sees every run, a crew member those at jobs of the own crew."""
    found = Run.objects.select_related("job__site", "begun_by", "finished_by")
    if person.runs_the_office:
        return found
    return found.filter(job__in=jobs_visible_to(person).values("pk"))


def run_detail(pk: int, person: Any) -> Run:
    """A run with devices and standing points. Raises Run.DoesNotExist where it is not this person's."""
    return runs_visible_to(person).prefetch_related(*_parts()).get(pk=pk)


def _parts() -> tuple[str | Prefetch, ...]:
    """What is read of a run beside itself."""
    seen = Observation.objects.filter(taken_out_at=None).select_related("by").order_by("counter_m", "id")
    return (
        "devices",
        standing_points(),
        Prefetch("backings", Backing.objects.select_related("by", "other_run").order_by("id")),
        Prefetch("observations", seen),
    )


def standing_points() -> Prefetch:
    """The points that were not taken out, as `points.all()`."""
    return Prefetch("points", Point.objects.filter(taken_out_at=None).order_by("number"))


def locate_jobs(person: Any) -> QuerySet[Job]:
    """Open jobs this person may see, those with private lines likely first, with how many runs each has."""
    return (
        jobs_visible_to(person)
        .filter(closed_at=None)
        .select_related("site")
        .annotate(
            run_count=Count("locate_runs"),
            open_run_count=Count("locate_runs", filter=Q(locate_runs__finished_at=None)),
        )
        .order_by("-private_lines_likely", "-created_at", "-pk")
    )


def located_job(pk: int, person: Any) -> Job:
    """A job with its ground and its private locates. Raises Job.DoesNotExist."""
    soil = SoilFinding.objects.select_related("by").order_by("-found_at", "-id")
    return (
        jobs_visible_to(person)
        .select_related("site")
        .prefetch_related(
            Prefetch("dig_areas", DigArea.objects.filter(removed_at=None).order_by("id")),
            Prefetch("dig_areas__soil_findings", soil),
            Prefetch("tickets", Ticket.objects.filter(cancelled_at=None).order_by("received_at", "id")),
            Prefetch("private_locates", PrivateLocate.objects.select_related("by")),
        )
        .get(pk=pk)
    )


def runs_of(job: Job) -> list[Run]:
    """Every run at a job in the order made, with devices and standing points."""
    found = Run.objects.filter(job=job).select_related("job__site", "begun_by", "finished_by")
    return list(found.prefetch_related(*_parts()).order_by("begun_at", "id"))


def photos_of(runs: Iterable[Run]) -> list[Photo]:
    """The photos of all these runs, run by run in the order taken in."""
    return list(Photo.objects.filter(run__in=[run.pk for run in runs]).select_related("by").order_by("run_id", "id"))


def other_runs(run: Run) -> list[Run]:
    """The other runs at the job, in the order made."""
    return list(Run.objects.filter(job=run.job_id).exclude(pk=run.pk).order_by("begun_at", "id"))


def known_devices(kinds: Iterable[str]) -> list[Device]:
    """The latest record of every device used so far, by kind and name: the next run starts from it."""
    latest: dict[tuple[str, str], Device] = {}
    for device in Device.objects.filter(kind__in=list(kinds)).order_by("-id")[:500]:
        latest.setdefault((device.kind, device.serial), device)
    return sorted(latest.values(), key=lambda d: (d.kind, d.name))


def private_locates_made_with(
    *, serial: str = "", equipment_id: int | None = None, since: datetime | None = None
) -> QuerySet[PrivateLocate]:
    """The recorded locates that rest on one instrument: those in doubt once it fails its check."""
    used = Q(equipment_id=equipment_id) if equipment_id is not None else Q(serial=serial)
    runs = Run.objects.filter(devices__in=Device.objects.filter(used).values("pk"))
    if since is not None:
        runs = runs.filter(begun_at__gte=since)
    jobs = runs.values("job_id")
    own = PrivateLocate.objects.filter(locate_runs__in=runs.values("pk"))
    # a run finished before the one that closed the locate counts with it
    later = PrivateLocate.objects.filter(job_id__in=jobs, locate_runs__isnull=False)
    return (own | later).distinct()
