"""A followed pipe: its size and code, its fall, and the ground over what the camera saw."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from locates import clock
from locates.errors import FirstspadeError
from locates.field import services
from locates.field.models import Observation, Run
from locates.field.pages.access import job_or_404, run_or_404
from locates.field.pages.pipe_view import fall_view, spot_views
from locates.field.plan import spots_of
from locates.field.services import PipeGiven
from locates.field.words import PLUMBING_WORDS, method_of, pairs
from locates.ground.lengths import feet_inches
from locates.ground.quality import Method
from tickets.pages.access import person_of
from tickets.pages.fields import LengthField, PageForm


class ObservationForm(PageForm):
    """What the camera saw, and at which reading of its counter."""

    client_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)
    counter = forms.CharField(
        label="Camera counter",
        max_length=30,
        help_text="In feet unless you say more, as 43 or 13.1 m.",
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    words = forms.CharField(label="What is there", max_length=120, help_text="As break, roots, dropped joint.")


class PipeForm(PageForm):
    """What the fall and the counter hang on."""

    pipe_size = LengthField(label="Nominal size of the pipe", required=False, help_text="As 4 in.")
    plumbing_code = forms.ChoiceField(label="Least fall by", choices=pairs(PLUMBING_WORDS))
    flows_away = forms.TypedChoiceField(
        label="It should fall",
        choices=[("yes", "In the order of the points"), ("no", "Against the order of the points")],
        coerce=lambda word: word == "yes",
    )
    sonde_behind_lens = LengthField(
        label="Sonde behind the camera's lens", required=False, help_text="As 8 in. Empty: at the lens."
    )

    def given(self) -> PipeGiven:
        """What the service takes; call it when the form is valid."""
        data = self.cleaned_data
        return PipeGiven(data["pipe_size"], data["plumbing_code"], data["flows_away"], data["sonde_behind_lens"])


@require_http_methods(["GET", "POST"])
def pipe(request: HttpRequest, pk: int) -> HttpResponse:
    """The pipe's page; a post adds what the camera saw."""
    run = _sonde_run(request, pk)
    if request.method == "GET":
        return _show(request, run)
    form = ObservationForm(request.POST)
    if form.is_valid():
        given = form.cleaned_data
        try:
            services.add_observation(run=run, actor=person_of(request), now=clock.now(), **given)
        except FirstspadeError as refused:
            form.take(refused)
        else:
            return redirect("locate-pipe", pk=pk)
    return _show(request, run, status=400, form=form)


@require_POST
def pipe_described(request: HttpRequest, pk: int) -> HttpResponse:
    """Size, code, direction and sonde's place."""
    run = _sonde_run(request, pk)
    form = PipeForm(request.POST)
    if form.is_valid():
        try:
            services.describe_pipe(run=run, given=form.given(), actor=person_of(request), now=clock.now())
        except FirstspadeError as refused:
            form.take(refused)
        else:
            messages.success(request, "The pipe is written down.")
            return redirect("locate-pipe", pk=pk)
    return _show(request, run, status=400, pipe_form=form)


@require_POST
def observation_out(request: HttpRequest, pk: int, observation_pk: int) -> HttpResponse:
    """Take out what was entered wrongly."""
    run = _sonde_run(request, pk)
    found = get_object_or_404(Observation.objects.select_related("run__job"), pk=observation_pk, run=run)
    try:
        services.take_out_observation(
            observation=found, words=request.POST.get("words", ""), actor=person_of(request), now=clock.now()
        )
    except FirstspadeError as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, f"{found.words} no longer counts. It stays on file.")
    return redirect("locate-pipe", pk=pk)


def _sonde_run(request: HttpRequest, pk: int) -> Run:
    run = run_or_404(request, pk)
    if method_of(run.method) is not Method.SONDE:
        raise Http404
    return run


def _show(request: HttpRequest, run: Run, status: int = 200, **forms_given: Any) -> HttpResponse:
    job = job_or_404(request, run.job_id)
    size, behind = run.pipe_size_m, run.sonde_behind_lens_m
    initial = {
        "pipe_size": "" if size is None else feet_inches(size, 8),
        "plumbing_code": run.plumbing_code,
        "flows_away": "yes" if run.flows_away else "no",
        "sonde_behind_lens": "" if behind is None else feet_inches(behind, 8),
    }
    context = {
        "run": run,
        "job": job,
        "zone": job.site.time_zone,
        "open_job": job.closed_at is None,
        "fall": fall_view(run),
        "spots": spot_views(run, spots_of(job, run)),
        "counted": sum(1 for p in run.points.all() if p.counter_m is not None),
        "form": ObservationForm(),
        "pipe_form": PipeForm(initial=initial),
        **forms_given,
    }
    return render(request, "field/pipe.html", context, status=status)
