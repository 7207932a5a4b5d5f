"""Photos of a run: adding one, and showing it to those who may see the run."""

from __future__ import annotations

import uuid

from django import forms
from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from locates import clock
from locates.errors import FirstspadeError
from locates.field import services
from locates.field.models import Photo
from locates.field.pages.access import run_or_404
from tickets.pages.access import person_of
from tickets.pages.fields import PageForm


class PhotoForm(PageForm):
    """One photo, what it shows, and at which point."""

    client_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)
    photo = forms.FileField(
        label="Photo",
        help_text="JPEG, PNG or WebP, 15 MB at most. What the camera wrote into it is left out.",
        widget=forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
    words = forms.CharField(label="What it shows", max_length=200, required=False)
    point_number = forms.IntegerField(label="At point", min_value=1, required=False)


@require_http_methods(["GET", "POST"])
def photos(request: HttpRequest, pk: int) -> HttpResponse:
    """The photos of a run, and one more."""
    run = run_or_404(request, pk)
    form = PhotoForm(zone=run.job.site.time_zone)
    status = 200
    if request.method == "POST":
        form = PhotoForm(request.POST, request.FILES, zone=run.job.site.time_zone)
        status = 400
        if form.is_valid():
            given = form.cleaned_data
            try:
                services.add_photo(
                    run=run,
                    client_id=given["client_id"],
                    content=given["photo"].read(services.LARGEST_BYTES + 1),
                    words=given["words"],
                    point_number=given["point_number"],
                    actor=person_of(request),
                    now=clock.now(),
                )
            except FirstspadeError as refused:
                form.take(refused)
            else:
                messages.success(request, "The photo is kept.")
                return redirect("locate-photos", pk=pk)
    context = {"run": run, "job": run.job, "form": form, "photos": Photo.objects.filter(run=run).select_related("by")}
    return render(request, "field/photos.html", {**context, "zone": run.job.site.time_zone}, status=status)


@require_GET
def photo(request: HttpRequest, pk: int, photo_pk: int) -> HttpResponseBase:
    """The picture itself."""
    found = get_object_or_404(Photo, pk=photo_pk, run=run_or_404(request, pk))
    answer = FileResponse(found.file.open("rb"), content_type="image/jpeg")
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Cache-Control"] = "private, max-age=86400"
    return answer
