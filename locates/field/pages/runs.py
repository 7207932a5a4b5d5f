"""Jobs to locate at, beginning a run, the run's page on the phone, finishing it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from locates import clock
from locates.errors import FirstspadeError
from locates.field import selectors, services
from locates.field.models import Point, Run
from locates.field.pages.access import job_or_404, local_day, run_or_404
from locates.field.pages.point_form import FinishForm, PointForm
from locates.field.pages.run_form import NAMES, RunForm, initial_from
from locates.field.pages.run_view import CAUTIONS, point_shapes, run_context
from tickets.pages.access import person_of

PAGE = 25


@require_GET
def locates(request: HttpRequest) -> HttpResponse:
    """Open jobs, those with private lines likely first."""
    pages = Paginator(selectors.locate_jobs(person_of(request)), PAGE)
    return render(request, "field/jobs.html", {"page": pages.get_page(request.GET.get("page"))})


@require_http_methods(["GET", "POST"])
def run_new(request: HttpRequest, pk: int) -> HttpResponse:
    """Begin a run at a job."""
    job = job_or_404(request, pk)
    now = clock.now()
    by = {"zone": job.site.time_zone, "person": person_of(request), "on": local_day(job, now)}
    if request.method == "GET":
        runs = selectors.runs_of(job)
        form = RunForm(initial=initial_from(runs[-1] if runs else None), **by)
        return render(request, "field/run_new.html", {"job": job, "form": form})
    form = RunForm(request.POST, **by)
    if form.is_valid():
        try:
            run = services.start_run(
                job=job,
                client_id=form.cleaned_data["client_id"],
                given=form.given(),
                actor=person_of(request),
                now=now,
            )
        except FirstspadeError as refused:
            form.take(refused, NAMES)
        else:
            return redirect("locate-run", pk=run.pk)
    return render(request, "field/run_new.html", {"job": job, "form": form}, status=400)


@require_GET
def unsent(request: HttpRequest, pk: int) -> HttpResponse:
    """Where points are taken for a run that is on the phone only: a form for each shape of run, for the script."""
    job = job_or_404(request, pk)
    context = {"job": job, "point_form": PointForm(zone=job.site.time_zone), "shapes": point_shapes()}
    return render(request, "field/unsent.html", {**context, "cautions": CAUTIONS})


@require_GET
def run(request: HttpRequest, pk: int) -> HttpResponse:
    """The run: the next point, what was read, what it is worth."""
    return _show(request, run_or_404(request, pk))


@require_GET
def run_points(request: HttpRequest, pk: int) -> HttpResponse:
    """The part of the page that lists the points."""
    return render(request, "field/parts/points.html", run_context(run_or_404(request, pk)))


@require_POST
def point_new(request: HttpRequest, pk: int) -> HttpResponse:
    """The next point, for a browser without the script."""
    found = run_or_404(request, pk)
    form = PointForm(request.POST, zone=found.job.site.time_zone)
    if form.is_valid():
        try:
            services.add_point(
                run=found, client_id=form.id_or_new(), given=form.given(), actor=person_of(request), now=clock.now()
            )
        except FirstspadeError as refused:
            form.take(refused, {"position": "latitude"})
        else:
            return redirect("locate-run", pk=pk)
    return _show(request, found, point_form=form, status=400)


@require_POST
def point_out(request: HttpRequest, pk: int, point_pk: int) -> HttpResponse:
    """Take a wrong point out."""
    found = run_or_404(request, pk)
    point = get_object_or_404(Point.objects.select_related("run__job"), pk=point_pk, run=found)
    try:
        services.take_out_point(
            point=point, words=request.POST.get("words", ""), actor=person_of(request), now=clock.now()
        )
    except FirstspadeError as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, f"Point {point.number} no longer counts. It stays on file.")
    return redirect("locate-run", pk=pk)


@require_POST
def run_finish(request: HttpRequest, pk: int) -> HttpResponse:
    """No more points; the locate as a whole when the person says so."""
    found = run_or_404(request, pk)
    form = FinishForm(request.POST, zone=found.job.site.time_zone)
    if form.is_valid():
        try:
            services.finish_run(run=found, actor=person_of(request), now=clock.now(), **form.cleaned_data)
        except FirstspadeError as refused:
            form.take(refused)
        else:
            whole = form.cleaned_data["locate_complete"]
            more = " The private locate is recorded." if whole else " Begin the next run when you are ready."
            messages.success(request, f"{found.label} is finished.{more}")
            return redirect("locate-job", pk=found.job_id)
    return _show(request, found, finish_form=form, status=400)


def _show(request: HttpRequest, run: Run, *, status: int = 200, **forms: Any) -> HttpResponse:
    zone = run.job.site.time_zone
    context = {
        "point_form": PointForm(zone=zone),
        "finish_form": FinishForm(zone=zone),
        **run_context(run),
        **forms,
    }
    return render(request, "field/run.html", context, status=status)
