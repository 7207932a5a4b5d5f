"""The evidence log of a job, and whether its chain holds."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from locates import clock
from tickets.evidence import verify
from tickets.pages.access import job_or_404
from tickets.pages.payload import facts_of_payload
from tickets.pages.reading import evidence_of

A_PAGE = 40


def evidence(request: HttpRequest, pk: int) -> HttpResponse:
    """The log from its beginning, paged; the whole chain is computed again each time it is looked at."""
    job = job_or_404(request, pk)
    page = Paginator(evidence_of(job), A_PAGE).get_page(request.GET.get("page"))
    zone = job.site.time_zone
    context = {
        "job": job,
        "zone": zone,
        "page": page,
        "query": "",
        "entries": [(entry, facts_of_payload(entry.payload, zone)) for entry in page.object_list],
        "broken": verify(job),
        "now": clock.now(),
    }
    return render(request, "tickets/evidence.html", context)
