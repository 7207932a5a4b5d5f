"""The list of jobs."""

from __future__ import annotations

from django.conf import settings
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from locates import clock
from tickets.pages.access import person_of
from tickets.pages.reading import jobs_list, with_verdicts
from tickets.states import State, choices

A_PAGE = 25


def jobs(request: HttpRequest) -> HttpResponse:
    """Every job that this person may see, filtered, with the verdict as it stands now."""
    now, asked = clock.now(), request.GET
    given = {name: asked.get(name, "").strip() for name in ("state", "words", "place")}
    closed = asked.get("closed") == "1"
    found = jobs_list(person_of(request), **given, closed=closed)
    page = Paginator(found, A_PAGE).get_page(asked.get("page"))
    kept = asked.copy()
    kept.pop("page", None)
    context = {
        "page": page,
        "rows": with_verdicts(list(page.object_list), now),
        "given": given,
        "closed": closed,
        "filtered": any(given.values()) or closed,
        "states": choices(State),
        "query": kept.urlencode(),
        "now": now,
        "office_zone": settings.TIME_ZONE,
    }
    part = getattr(request, "htmx", False) and request.htmx.target == "jobs"  # type: ignore[attr-defined]
    return render(request, "tickets/parts/jobs.html" if part else "tickets/jobs.html", context)
