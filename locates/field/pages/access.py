"""The job or the run that a page is about; 404 also when it is not this person's to see."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.http import Http404, HttpRequest

from locates.field.models import Run
from locates.field.selectors import located_job, run_detail
from tickets.models import Job
from tickets.pages.access import person_of


def job_or_404(request: HttpRequest, pk: int) -> Job:
    """The job with its ground and everything located on it."""
    try:
        return located_job(pk, person_of(request))
    except Job.DoesNotExist:
        raise Http404 from None


def run_or_404(request: HttpRequest, pk: int) -> Run:
    """The run with devices and standing points."""
    try:
        return run_detail(pk, person_of(request))
    except Run.DoesNotExist:
        raise Http404 from None


def local_day(job: Job, at: datetime) -> date:
    """The day at the site."""
    return at.astimezone(ZoneInfo(job.site.time_zone)).date()
