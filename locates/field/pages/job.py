"""Everything located at one job."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from locates import clock
from locates.field.pages.access import job_or_404
from locates.field.pages.job_view import job_context


@require_GET
def job(request: HttpRequest, pk: int) -> HttpResponse:
    """The lines found, what they are worth, and what they mean for the dig."""
    return render(request, "field/job.html", job_context(job_or_404(request, pk), clock.now()))
