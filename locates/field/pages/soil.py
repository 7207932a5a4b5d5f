"""The soil of a dig area: what was found, and what the excavation takes in each class."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from locates import clock
from locates.errors import FirstspadeError
from locates.field import services
from locates.field.excavation import Excavation, by_soil
from locates.field.pages.access import job_or_404, local_day
from locates.field.pages.dig_view import excavation_view
from locates.field.plan import SitePlan, site_plan
from locates.field.services import SoilGiven
from locates.field.words import SOIL_WORDS, pairs
from locates.ground.lengths import feet_inches
from locates.ground.trench import Soil
from tickets.models import DigArea, Job
from tickets.pages.access import person_of
from tickets.pages.fields import PageForm, depends

SIGNS = [("", "Not examined"), ("no", "No sign of a cave-in"), ("yes", "Signs of a cave-in: cracks, slides, bulging")]


class SoilForm(PageForm):
    """The competent person's finding. What is not said counts against the trench, never for it."""

    client_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)
    competent_person = forms.CharField(label="Competent person", max_length=80)
    soil = forms.ChoiceField(label="Soil", choices=pairs(SOIL_WORDS), initial=Soil.UNKNOWN)
    visual_words = depends(
        forms.CharField(
            label="Visual test",
            max_length=120,
            required=False,
            help_text="What was seen: clods, cracks, layers, water, traffic, old trenches.",
        )
    )
    manual_words = depends(
        forms.CharField(
            label="Manual test",
            max_length=120,
            required=False,
            help_text="As thumb goes in to the nail; thread of 1/8 in holds 2 in long.",
        )
    )
    disturbed = forms.TypedChoiceField(
        label="Dug before, or beside an older trench",
        choices=[("yes", "Yes, or not known"), ("no", "No: never dug")],
        coerce=lambda word: word == "yes",
        help_text="Over every existing line it was.",
    )
    water_or_seepage = forms.BooleanField(label="Water stands in it or seeps in", required=False)
    cave_in_sign = forms.TypedChoiceField(
        label="Under 5 ft: the sides", choices=SIGNS, required=False, coerce=lambda w: w == "yes", empty_value=None
    )
    open_hours = forms.FloatField(label="Hours that it stays open", required=False)

    def given(self) -> SoilGiven:
        """What the service takes; call it when the form is valid."""
        data = {k: v for k, v in self.cleaned_data.items() if k != "client_id"}
        return SoilGiven(**data)


@dataclass(frozen=True)
class ClassRow:
    """What the same hole takes in one class of soil."""

    soil: str
    slope: str
    top: str
    fits: str
    loads: str


@require_http_methods(["GET", "POST"])
def soil(request: HttpRequest, pk: int, area_pk: int) -> HttpResponse:
    """The finding's form beside what the excavation takes now."""
    job = job_or_404(request, pk)
    area = next((a for a in job.dig_areas.all() if a.pk == area_pk), None)
    if area is None:
        raise Http404
    zone = job.site.time_zone
    if request.method == "GET":
        return _show(request, job, area, SoilForm(zone=zone, initial=_initial(request, area)))
    form = SoilForm(request.POST, zone=zone)
    if form.is_valid():
        try:
            services.record_soil(
                area=area,
                client_id=form.cleaned_data["client_id"],
                given=form.given(),
                actor=person_of(request),
                now=clock.now(),
            )
        except FirstspadeError as refused:
            form.take(refused)
        else:
            messages.success(request, "The finding is recorded. The competent person looks again after any change.")
            return redirect("locate-soil", pk=pk, area_pk=area_pk)
    return _show(request, job, area, form, status=400)


def _initial(request: HttpRequest, area: DigArea) -> dict[str, Any]:
    """Name and class of the last finding; its tests are made anew each time."""
    last = next(iter(area.soil_findings.all()), None)
    if last is None:
        return {"competent_person": person_of(request).get_full_name(), "disturbed": "yes"}
    return {
        "competent_person": last.competent_person,
        "soil": last.soil,
        "disturbed": "yes" if last.disturbed else "no",
    }


def _show(request: HttpRequest, job: Job, area: DigArea, form: SoilForm, status: int = 200) -> HttpResponse:
    now = clock.now()
    plan = site_plan(job, [], now)
    opened = next((d.excavation for d in plan.digs if d.area.pk == area.pk), None)
    context = {
        "job": job,
        "area": area,
        "zone": job.site.time_zone,
        "open_job": job.closed_at is None,
        "one": None if opened is None else excavation_view(opened, local_day(job, now)),
        "rows": [] if opened is None else _rows(opened, plan),
        "findings": list(area.soil_findings.all()),
        "form": form,
    }
    return render(request, "field/soil.html", context, status=status)


def _rows(opened: Excavation, plan: SitePlan) -> list[ClassRow]:
    rows = []
    for kind, takes, fit in by_soil(opened, plan.covers):
        fits = "Not known" if fit is None else ("Trench and spoil" if fit.fits and fit.spoil_fits else "Trench only")
        if fit is not None and not fit.fits:
            fits = "No"
        rows.append(
            ClassRow(
                soil=str(kind)[:1].upper() + str(kind)[1:],
                slope="An engineer designs it" if takes.slope is None else f"{takes.slope:g} to 1",
                top="" if takes.top_width_m is None else feet_inches(takes.top_width_m),
                fits=fits,
                loads="" if takes.truck_loads is None else str(takes.truck_loads),
            )
        )
    return rows
