"""Crews' hours, homes and days off."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from crews.gather_plan.shifts import Hours, home_of, hours_of
from crews.models import WEEKDAYS, Crew, DayOff, ShiftPlace
from crews.pages.access import OFFICE, for_roles, person_of
from crews.pages.refusal import tell
from crews.plans.attempt import attempt
from crews.plans.work_forms import DayOffForm, HomeForm, HoursForm
from crews.selectors import today_of
from crews.services.hours import add_day_off, drop_home, end_day_off, set_home, set_hours
from locates import clock
from locates.errors import FirstspadeError


@require_http_methods(["GET", "HEAD"])
@for_roles(*OFFICE)
def crews(request: HttpRequest) -> HttpResponse:
    """Every active crew's week."""
    names = dict(WEEKDAYS)
    rows = []
    for crew in Crew.objects.filter(active=True).prefetch_related("shifts").order_by("name"):
        week = [f"{names[h.weekday]} {h.starts:%H:%M} to {h.ends:%H:%M}{_from_home(h)}" for h in hours_of(crew)]
        rows.append((crew, week, bool(crew.shifts.all())))
    return render(request, "crews/plans/hours.html", {"rows": rows})


def _from_home(hours: Hours) -> str:
    ends = [("from", hours.begins_from), ("back to", hours.ends_back_at)]
    said = [f"{words} home" for words, place in ends if place == ShiftPlace.HOME]
    return f" ({', '.join(said)})" if said else ""


@require_http_methods(["GET", "HEAD", "POST"])
@for_roles(*OFFICE)
def crew(request: HttpRequest, crew_id: int) -> HttpResponse:
    """One crew's week and days off."""
    found = _found(crew_id)
    form = HoursForm(request.POST if request.method == "POST" else None, crew=found)
    kept, status = attempt(form, lambda: set_hours(crew=found, hours=form.hours(), actor=person_of(request)))
    if kept is not None:
        messages.success(request, f"Kept the hours of {found.name}.")
        return redirect("crew-hours", found.pk)
    return _crew(request, found, status, form=form)


def _found(crew_id: int) -> Crew:
    return get_object_or_404(Crew.objects.select_related("home"), pk=crew_id)


def _crew(
    request: HttpRequest,
    found: Crew,
    status: int,
    form: HoursForm | None = None,
    off_form: DayOffForm | None = None,
    home_form: HomeForm | None = None,
) -> HttpResponse:
    home = home_of(found)
    at_home = None if home is None else {"latitude": home.latitude, "longitude": home.longitude}
    content = {
        "crew": found,
        "home": home,
        "form": form or HoursForm(crew=found),
        "off_form": off_form or DayOffForm(),
        "home_form": home_form or HomeForm(initial=at_home),
        "days_off": found.days_off.filter(on__gte=today_of(found, clock.now())),
    }
    return render(request, "crews/plans/crew_hours.html", content, status=status)


@require_POST
@for_roles(*OFFICE)
def home(request: HttpRequest, crew_id: int) -> HttpResponse:
    """Where the truck stands overnight, or with the second button nowhere but at the yard."""
    found = _found(crew_id)
    leaving = "leave" in request.POST
    form = HomeForm(None if leaving else request.POST)
    status = 400
    if leaving or form.is_valid():
        try:
            if leaving:
                drop_home(crew=found, actor=person_of(request))
            else:
                set_home(crew=found, **form.cleaned_data, actor=person_of(request))
        except FirstspadeError as refused:
            if leaving:
                messages.error(request, refused.message)
                return redirect("crew-hours", found.pk)
            status = tell(form, refused)
        else:
            messages.success(request, f"Kept where the truck of {found.name} stands overnight.")
            return redirect("crew-hours", found.pk)
    return _crew(request, found, status, home_form=form)


@require_POST
@for_roles(*OFFICE)
def day_off(request: HttpRequest, crew_id: int) -> HttpResponse:
    """One more day off."""
    found = _found(crew_id)
    form = DayOffForm(request.POST)
    today = today_of(found, clock.now())
    added, status = attempt(
        form, lambda: add_day_off(crew=found, **form.cleaned_data, today=today, actor=person_of(request))
    )
    if added is not None:
        messages.success(request, f"{found.name} is off that day.")
        return redirect("crew-hours", found.pk)
    return _crew(request, found, status, off_form=form)


@require_POST
@for_roles(*OFFICE)
def day_on(request: HttpRequest, day_off_id: int) -> HttpResponse:
    """Not off after all."""
    one = get_object_or_404(DayOff, pk=day_off_id)
    end_day_off(day_off=one, actor=person_of(request))
    messages.success(request, "The crew works that day.")
    return redirect("crew-hours", one.crew_id)
