"""A crew's calendar at a private address: accepted visits as events of an iCalendar feed (RFC 5545)."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe
from icalendar import Calendar, Event

from crews.models import Crew, CrewFeed, Visit
from crews.pages.access import OFFICE, for_roles, person_of
from crews.selectors import visits_between
from crews.services.crew_feeds import renew_crew_feed
from locates import clock

BACK, AHEAD = timedelta(days=14), timedelta(days=120)
CAUTION = "A calendar is no permission to dig: open the site's page on the day and read the verdict first."


@require_safe
@login_not_required
def crew_calendar(request: HttpRequest, token: str) -> HttpResponse:
    """The feed itself. Whoever has the address can read it; a wrong one tells nothing."""
    feed = get_object_or_404(CrewFeed.objects.select_related("crew"), token=token)
    now = clock.now()
    body = calendar_of(feed.crew, list(visits_between(now - BACK, now + AHEAD, feed.crew)), now)
    answer = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="crew.ics"'
    answer["Cache-Control"] = "private, max-age=300"
    answer["Referrer-Policy"] = "no-referrer"
    answer["X-Robots-Tag"] = "noindex"
    return answer


def calendar_of(crew: Crew, visits: list[Visit], now: datetime) -> bytes:
    """Instants in UTC, so that no calendar program has to know a zone; the site's own words in the text."""
    calendar = Calendar()
    calendar.add("prodid", "-//Firstspade//Crew calendar//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", f"Firstspade: {crew.name}")
    for visit in visits:
        site, job = visit.job.site, visit.job
        event = Event()
        event.add("uid", f"visit-{visit.pk}@firstspade")
        event.add("dtstamp", now)
        event.add("dtstart", visit.starts_at)
        event.add("dtend", visit.ends_at)
        event.add("summary", f"{visit.get_kind_display()}, {job.number} {job.title}")
        event.add("location", f"{site.street}, {site.town}, {site.state}")
        event.add("geo", (site.latitude, site.longitude))
        event.add("description", "\n".join(part for part in (visit.note, CAUTION) if part))
        calendar.add_component(event)
    return bytes(calendar.to_ical())


@require_safe
@for_roles(*OFFICE)
def crew_calendars(request: HttpRequest) -> HttpResponse:
    """Each active crew's private address."""
    crews = Crew.objects.filter(active=True).select_related("feed").order_by("name")
    rows = [(crew, _address(request, crew)) for crew in crews]
    return render(request, "crews/plans/calendars.html", {"rows": rows})


def _address(request: HttpRequest, crew: Crew) -> str:
    feed = getattr(crew, "feed", None)
    return "" if feed is None else request.build_absolute_uri(reverse("crew-calendar", args=[feed.token]))


@require_POST
@for_roles(*OFFICE)
def renew(request: HttpRequest, crew_id: int) -> HttpResponse:
    """Make the address, or a new one in place of the old."""
    crew = get_object_or_404(Crew, pk=crew_id)
    renew_crew_feed(crew=crew, actor=person_of(request), now=clock.now())
    messages.success(request, f"{crew.name} has a new calendar address; one given out before is dead.")
    return redirect("crew-calendars")
