"""Points of a run into a file, and from one."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from locates import clock
from locates.errors import FirstspadeError
from locates.field import exchange, services
from locates.field.models import Run
from locates.field.pages.access import run_or_404
from tickets.pages.access import person_of
from tickets.pages.fields import PageForm

LARGEST_BYTES = 5_000_000
BEST_SHOWN = 20


class FileForm(PageForm):
    """A file of points, and in which coordinates it is."""

    file = forms.FileField(label="File", help_text="CSV or GeoJSON, 5 MB at most.")
    grid = forms.TypedChoiceField(
        label="Coordinates of a CSV file",
        coerce=int,
        help_text="GeoJSON is in degrees always.",
    )

    def __init__(self, *args: Any, run: Run, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site = run.job.site
        grids = exchange.grids_at(site.latitude, site.longitude)
        self.fields["grid"].choices = [(g.epsg, g.words) for g in grids]  # type: ignore[attr-defined]

    def clean_file(self) -> Any:
        given = self.cleaned_data["file"]
        if given.size > LARGEST_BYTES:
            raise forms.ValidationError(f"The file has {given.size / 1e6:.1f} MB; 5 MB is the most. Split it.")
        if not given.name.lower().endswith((".csv", ".geojson", ".json")):
            raise forms.ValidationError(f"{given.name} is neither .csv nor .geojson. Save it as one of them.")
        return given


@require_http_methods(["GET", "POST"])
def files(request: HttpRequest, pk: int) -> HttpResponse:
    """Take points from a file; the links to take them away."""
    run = run_or_404(request, pk)
    faults: list[str] = []
    if request.method == "GET":
        return _show(request, run, FileForm(zone=run.job.site.time_zone, run=run), faults)
    form = FileForm(request.POST, request.FILES, zone=run.job.site.time_zone, run=run)
    if form.is_valid():
        given = form.cleaned_data["file"]
        try:
            marks = exchange.read(given.name, given.read().decode("utf-8"), form.cleaned_data["grid"])
            count = services.add_marks(run=run, marks=marks, actor=person_of(request), now=clock.now())
        except UnicodeDecodeError:
            form.add_error("file", "The file is not UTF-8 text. Save it as UTF-8 and choose it again.")
        except FirstspadeError as refused:
            form.add_error("file", refused.message)
            faults = [words for words in refused.fields.values() if words != refused.message][:BEST_SHOWN]
        else:
            messages.success(request, f"{count} points were taken from {given.name}.")
            return redirect("locate-run", pk=pk)
    return _show(request, run, form, faults, status=400)


@require_GET
def points_csv(request: HttpRequest, pk: int) -> HttpResponse:
    """The standing points as CSV, in the grid asked for."""
    run = run_or_404(request, pk)
    site = run.job.site
    asked = request.GET.get("grid", "0")
    known = {str(g.epsg): g.epsg for g in exchange.grids_at(site.latitude, site.longitude)}
    text = exchange.to_csv(run.points.all(), known.get(asked, 0))
    answer = HttpResponse(text, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="run-{run.pk}-points.csv"'
    return answer


@require_GET
def points_geojson(request: HttpRequest, pk: int) -> HttpResponse:
    """The standing points and the line through them as GeoJSON."""
    run = run_or_404(request, pk)
    answer = JsonResponse(exchange.to_geojson(run, run.points.all()), content_type="application/geo+json")
    answer["Content-Disposition"] = f'attachment; filename="run-{run.pk}.geojson"'
    return answer


def _show(request: HttpRequest, run: Run, form: FileForm, faults: list[str], status: int = 200) -> HttpResponse:
    site = run.job.site
    context = {
        "run": run,
        "job": run.job,
        "form": form,
        "faults": faults,
        "grids": exchange.grids_at(site.latitude, site.longitude),
    }
    return render(request, "field/files.html", context, status=status)
