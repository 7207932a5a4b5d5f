"""The crew's page of the day. It reads selectors, calls one service a write, and renders; the same part
answers a whole page and its htmx swap."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any, cast
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from crews import selectors
from crews.models import Crew, Person, Visit
from crews.phone.day import phone_day
from crews.phone.forms import AskedDayForm, SightingForm, first_error
from crews.phone.seen import say_read
from locates import clock
from locates.errors import FirstspadeError
from tickets.services import BadInput, note_work_begun, record_sighting
from tickets.states import WORDS, SightingKind


@require_GET
def today(request: HttpRequest) -> HttpResponse:
    """A crew member's own day; owner and dispatcher choose a crew."""
    person, now = _person(request), clock.now()
    form = AskedDayForm(request.GET)
    valid = form.is_valid()
    asked = form.cleaned_data
    crew = _asked_crew(person, asked.get("crew"))
    if crew is None:
        return render(request, "crews/phone/no_crew.html", {"office": person.runs_the_office})
    on = asked.get("date") or selectors.today_of(crew, now)
    return _show(request, crew, on, now, status=200 if valid else 400, chooser_error=first_error(form))


@require_POST
def marks(request: HttpRequest, visit_id: int) -> HttpResponse:
    """What the crew saw of the marks; the verdict follows from it at once."""

    def write(visit: Visit, now: datetime) -> str:
        form = SightingForm(request.POST, job=visit.job)
        if not form.is_valid():
            raise BadInput(first_error(form))
        given = form.cleaned_data
        record_sighting(job=visit.job, actor=_person(request), now=now, **given)
        of = f", {given['operator'].name}" if given["operator"] else ""
        return f"Recorded: {WORDS[SightingKind(given['kind'])]}{of}."

    return _write(request, visit_id, write)


@require_POST
def begun(request: HttpRequest, visit_id: int) -> HttpResponse:
    """Work goes on at the site: noted as a fact, whatever the verdict says, so that the log stays true."""

    def write(visit: Visit, now: datetime) -> str:
        note_work_begun(job=visit.job, actor=_person(request), at=now, now=now)
        return "Recorded: work begun."

    return _write(request, visit_id, write)


@require_POST
def read(request: HttpRequest, visit_id: int) -> HttpResponse:
    """The person's word that the verdict was read."""

    def write(visit: Visit, now: datetime) -> str:
        say_read(job=visit.job, digest=request.POST.get("digest", ""), actor=_person(request), now=now)
        return "Recorded: you have read this verdict."

    return _write(request, visit_id, write)


def _write(request: HttpRequest, visit_id: int, write: Callable[[Visit, datetime], str]) -> HttpResponse:
    now = clock.now()
    person = _person(request)
    visit = get_object_or_404(selectors.visits_visible_to(person).filter(cancelled_at=None), pk=visit_id)
    on = _asked_date(request, visit)
    try:
        said = write(visit, now)
    except FirstspadeError as refused:
        status = 409 if getattr(refused, "conflict", False) else 400
        return _show(request, visit.crew, on, now, status=status, acted=visit.pk, refusal=refused.message)
    if _is_part(request):
        return _show(request, visit.crew, on, now, acted=visit.pk, said=said)
    messages.success(request, said)
    return HttpResponseRedirect(f"{day_address(visit.crew, on)}#visit-{visit.pk}")


def _show(
    request: HttpRequest, crew: Crew, on: date, now: datetime, *, status: int = 200, **extra: Any
) -> HttpResponse:
    person = _person(request)
    address = day_address(crew, on)
    context = {"day": phone_day(person, crew, on, now), "address": address, "office": person.runs_the_office, **extra}
    if _is_part(request):
        return render(request, "crews/phone/day.html", context, status=status)
    if person.runs_the_office:
        context["crews"] = selectors.crews_visible_to(person).filter(active=True)
    return render(request, "crews/phone/page.html", context, status=status)


def day_address(crew: Crew, on: date) -> str:
    """The page's address with crew and day."""
    return f"{reverse('today')}?{urlencode({'crew': crew.pk, 'date': on.isoformat()})}"


def _asked_crew(person: Person, wanted: int | None) -> Crew | None:
    """The crew asked for (404 when the person may not see it), else the own one, else the first active."""
    crews = selectors.crews_visible_to(person)
    if wanted is not None:
        return get_object_or_404(crews, pk=wanted)
    if person.crew_id is not None:
        return crews.filter(pk=person.crew_id).first()
    return crews.filter(active=True).first()


def _asked_date(request: HttpRequest, visit: Visit) -> date:
    form = AskedDayForm(request.GET)
    asked = form.cleaned_data.get("date") if form.is_valid() else None
    return asked or selectors.today_of(visit.crew, visit.starts_at)


def _person(request: HttpRequest) -> Person:
    return cast(Person, request.user)


def _is_part(request: HttpRequest) -> bool:
    return bool(getattr(request, "htmx", False))
