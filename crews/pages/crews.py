"""The crews: the owner adds, renames and retires them, and gives each its truck."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from crews import services
from crews.equipment.custody import Where
from crews.models import Crew, EquipmentKind, Role, VisitKind
from crews.pages.access import for_roles, person_of
from crews.pages.crews_forms import CrewForm, TruckForm
from crews.pages.refusal import tell
from crews.register.availability import availability
from crews.selectors import company_today
from locates import clock
from locates.errors import FirstspadeError

KNOWN_SKILLS = frozenset(VisitKind.values)


@require_GET
@for_roles(Role.OWNER)
def crews(request: HttpRequest) -> HttpResponse:
    """Every crew, those that rest last."""
    found = Crew.objects.annotate(
        members=Count("people", filter=Q(people__is_active=True), distinct=True),
        trucks=Count("equipment", filter=Q(equipment__kind=EquipmentKind.TRUCK), distinct=True),
        shifts_a_week=Count("shifts", distinct=True),
    )
    return render(request, "crews/crews/list.html", {"crews": found.order_by("-active", "name", "id")})


@require_http_methods(["GET", "POST"])
@for_roles(Role.OWNER)
def new(request: HttpRequest) -> HttpResponse:
    """Add a crew."""
    form = CrewForm(request.POST or None)
    status = 200
    if request.method == "POST":
        status = 400
        if form.is_valid():
            try:
                made = services.add_crew(**form.cleaned_data, actor=person_of(request))
            except FirstspadeError as refused:
                status = tell(form, refused)
            else:
                messages.success(request, f"{made.name} is there. Give it hours, people and a truck.")
                return redirect("crew", made.pk)
    return render(request, "crews/crews/new.html", {"form": form}, status=status)


@require_http_methods(["GET", "POST"])
@for_roles(Role.OWNER)
def crew(request: HttpRequest, crew_id: int) -> HttpResponse:
    """Rename a crew, move its yard, change what it can do."""
    found = get_object_or_404(Crew, pk=crew_id)
    if request.method == "GET":
        return _show(request, found)
    form = CrewForm(request.POST)
    status = 400
    if form.is_valid():
        try:
            services.change_crew(crew=found, actor=person_of(request), now=clock.now(), **form.cleaned_data)
        except FirstspadeError as refused:
            status = tell(form, refused)
        else:
            messages.success(request, "The changes are saved.")
            return redirect("crew", found.pk)
    return _show(request, found, status=status, form=form)


@require_POST
@for_roles(Role.OWNER)
def rest(request: HttpRequest, crew_id: int) -> HttpResponse:
    """The crew goes out no more, or does again. It is never deleted: the records go on naming it."""
    found = get_object_or_404(Crew, pk=crew_id)
    form, active = forms.Form(request.POST), request.POST.get("active") == "yes"
    form.full_clean()
    try:
        services.change_crew(crew=found, actor=person_of(request), now=clock.now(), active=active)
    except FirstspadeError as refused:
        return _show(request, found, status=tell(form, refused), rest_form=form)
    messages.success(request, f"{found.name} {'goes out again' if active else 'goes out no more'}.")
    return redirect("crew", found.pk)


@require_POST
@for_roles(Role.OWNER)
def truck(request: HttpRequest, crew_id: int) -> HttpResponse:
    """Hand the crew a truck."""
    found = get_object_or_404(Crew, pk=crew_id)
    form = TruckForm(request.POST, crew_id=found.pk)
    status = 400
    if form.is_valid():
        chosen = form.cleaned_data["truck"]
        try:
            services.hand_over_equipment(item=chosen, crew=found, actor=person_of(request), now=clock.now())
        except FirstspadeError as refused:
            status = tell(form, refused)
        else:
            messages.success(request, f"{chosen.name} is with {found.name}; the crew confirms it on its phone.")
            return redirect("crew", found.pk)
    return _show(request, found, status=status, truck_form=form)


def _show(request: HttpRequest, found: Crew, *, status: int = 200, **bound: forms.Form) -> HttpResponse:
    start: dict[str, Any] = {name: getattr(found, name) for name in CrewForm.base_fields if name != "more_skills"}
    start["more_skills"] = ", ".join(word for word in found.skills if word not in KNOWN_SKILLS)
    trucks = list(found.equipment.filter(kind=EquipmentKind.TRUCK).order_by("name", "id"))
    able = availability(trucks, company_today(clock.now()))
    context: dict[str, Any] = {
        "crew": found,
        "form": CrewForm(initial=start),
        "truck_form": TruckForm(crew_id=found.pk),
        "trucks": [(item, able[item.pk]) for item in trucks],
        "people": found.people.filter(is_active=True).order_by("username"),
        "shifts": found.shifts.all(),
        "items": found.equipment.filter(place=Where.CREW).count(),
    }
    return render(request, "crews/crews/crew.html", context | bound, status=status)
