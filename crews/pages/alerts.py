"""Reminders on people's own devices: which there are, turning on and off, a trial."""

from __future__ import annotations

import logging
from pathlib import Path

from django import forms
from django.contrib import messages
from django.contrib.staticfiles import finders
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from crews import services
from crews.models import PushDevice
from crews.pages.access import person_of
from crews.services.push import sender_point
from locates import clock
from locates.errors import FirstspadeError
from locates.push.refusal import PushError

log = logging.getLogger(__name__)


class DeviceForm(forms.Form):
    """What a browser hands over when it subscribes."""

    endpoint = forms.CharField(max_length=1_000)
    p256dh = forms.CharField(max_length=120)
    auth = forms.CharField(max_length=40)
    name = forms.CharField(required=False, max_length=80)


@require_GET
def alerts(request: HttpRequest) -> HttpResponse:
    """The person's devices."""
    devices = PushDevice.objects.filter(person=person_of(request), ended_at=None)
    try:
        key = sender_point()
    except (OSError, PushError):  # no place to keep a key, or one that cannot be read: the letters still come
        log.exception("no push key: set VAPID_PRIVATE_KEY, or make DATA_DIR writable")
        key = ""
    return render(request, "crews/alerts/alerts.html", {"devices": devices, "key": key})


@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """The script that shows a reminder; asked for anew each time, so that no device keeps an old one."""
    found = finders.find("look/alerts-worker.js")
    if not found:
        raise Http404
    answer = HttpResponse(Path(str(found)).read_bytes(), content_type="text/javascript")
    answer["Cache-Control"] = "no-cache"
    return answer


@require_POST
def add(request: HttpRequest) -> JsonResponse:
    """This browser wants reminders. The page's script asks, and shows the words."""
    form = DeviceForm(request.POST)
    if not form.is_valid():
        return JsonResponse({"words": "The browser gave no subscription that can be used; try again."}, status=400)
    try:
        device = services.add_push_device(**form.cleaned_data, actor=person_of(request), now=clock.now())
    except FirstspadeError as refused:
        return JsonResponse({"words": refused.message}, status=409 if getattr(refused, "conflict", False) else 400)
    messages.success(request, f"Reminders come to this device from now on: {device.name}.")
    return JsonResponse({"id": device.pk}, status=201)


@require_POST
def stop(request: HttpRequest, device_id: int) -> HttpResponse:
    """No more reminders there."""
    device = get_object_or_404(PushDevice, pk=device_id, person=person_of(request))
    services.end_push_device(device=device, actor=person_of(request), now=clock.now())
    messages.success(request, f"No more reminders to {device.name}.")
    return redirect("alerts")


@require_POST
def trial(request: HttpRequest, device_id: int) -> HttpResponse:
    """Send one now."""
    device = get_object_or_404(PushDevice, pk=device_id, person=person_of(request))
    try:
        services.ask_push_trial(device=device, actor=person_of(request), now=clock.now())
    except FirstspadeError as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, f"A trial is on its way to {device.name}; it takes up to a minute.")
    return redirect("alerts")
