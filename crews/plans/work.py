"""What plans are made of: wanted visits, crews' hours and days off."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from crews.gather_plan.shifts import hours_of
from crews.models import WEEKDAYS, Crew, DayOff, WantedVisit
from crews.pages.access import OFFICE, for_roles, person_of
from crews.pages.refusal import tell
from crews.plans.work_forms import DayOffForm, HoursForm, WantForm
from crews.selectors import today_of
from crews.services.hours import add_day_off, end_day_off, set_hours
from crews.services.wanted import drop_wanted, want_visit
from crews.words import span_words
from locates import clock
from locates.errors import FirstspadeError

ROWS_A_PAGE = 50


@require_http_methods(["GET", "HEAD", "POST"])
@for_roles(*OFFICE)
def wanted(request: HttpRequest) -> HttpResponse:
    """Wanted visits that have no day yet, and the form for one more."""
    form = WantForm(request.POST if request.method == "POST" else None)
    status = 200
    if form.is_bound:
        status = 400
        if form.is_valid():
            try:
                made = want_visit(**form.wanted(), actor=person_of(request), now=clock.now())
            except FirstspadeError as refused:
                status = tell(form, refused)
            else:
                messages.success(request, f"Wanted: {made.get_kind_display().lower()} on job {made.job.number}.")
                return redirect("wanted-visits")
    rows = WantedVisit.objects.filter(visit=None, dropped_at=None).select_related("job__site")
    page = Paginator(rows.order_by("job__number", "pk"), ROWS_A_PAGE).get_page(request.GET.get("page"))
    content = {"form": form, "page": page, "rows": [(one, _promise(one)) for one in page]}
    return render(request, "crews/plans/wanted.html", content, status=status)


def _promise(one: WantedVisit) -> str:
    if one.promised_from is None or one.promised_until is None:
        return ""
    return span_words(one.promised_from, one.promised_until, one.job.site.time_zone)


@require_POST
@for_roles(*OFFICE)
def drop(request: HttpRequest, wanted_id: int) -> HttpResponse:
    """Not wanted any more."""
    one = get_object_or_404(WantedVisit, pk=wanted_id, dropped_at=None)
    try:
        drop_wanted(wanted=one, actor=person_of(request), now=clock.now())
    except FirstspadeError as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, "Not wanted any more.")
    return redirect("wanted-visits")


@require_http_methods(["GET", "HEAD"])
@for_roles(*OFFICE)
def crews(request: HttpRequest) -> HttpResponse:
    """Every active crew's week."""
    names = dict(WEEKDAYS)
    rows = []
    for crew in Crew.objects.filter(active=True).prefetch_related("shifts").order_by("name"):
        week = [f"{names[h.weekday]} {h.starts:%H:%M} to {h.ends:%H:%M}" for h in hours_of(crew)]
        rows.append((crew, week, bool(crew.shifts.all())))
    return render(request, "crews/plans/hours.html", {"rows": rows})


@require_http_methods(["GET", "HEAD", "POST"])
@for_roles(*OFFICE)
def crew(request: HttpRequest, crew_id: int) -> HttpResponse:
    """One crew's week and days off."""
    found = get_object_or_404(Crew, pk=crew_id)
    form = HoursForm(request.POST if request.method == "POST" else None, crew=found)
    status = 200
    if form.is_bound:
        status = 400
        if form.is_valid():
            try:
                set_hours(crew=found, hours=form.hours(), actor=person_of(request))
            except FirstspadeError as refused:
                status = tell(form, refused)
            else:
                messages.success(request, f"Kept the hours of {found.name}.")
                return redirect("crew-hours", found.pk)
    return _crew(request, found, form, DayOffForm(), status)


def _crew(request: HttpRequest, found: Crew, form: HoursForm, off_form: DayOffForm, status: int) -> HttpResponse:
    ahead = found.days_off.filter(on__gte=today_of(found, clock.now()))
    content = {"crew": found, "form": form, "off_form": off_form, "days_off": ahead}
    return render(request, "crews/plans/crew_hours.html", content, status=status)


@require_POST
@for_roles(*OFFICE)
def day_off(request: HttpRequest, crew_id: int) -> HttpResponse:
    """One more day off."""
    found = get_object_or_404(Crew, pk=crew_id)
    form = DayOffForm(request.POST)
    status = 400
    if form.is_valid():
        today = today_of(found, clock.now())
        try:
            add_day_off(crew=found, **form.cleaned_data, today=today, actor=person_of(request))
        except FirstspadeError as refused:
            status = tell(form, refused)
        else:
            messages.success(request, f"{found.name} is off that day.")
            return redirect("crew-hours", found.pk)
    return _crew(request, found, HoursForm(crew=found), form, status)


@require_POST
@for_roles(*OFFICE)
def day_on(request: HttpRequest, day_off_id: int) -> HttpResponse:
    """Not off after all."""
    one = get_object_or_404(DayOff, pk=day_off_id)
    end_day_off(day_off=one, actor=person_of(request))
    messages.success(request, "The crew works that day.")
    return redirect("crew-hours", one.crew_id)
