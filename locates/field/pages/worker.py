"""The script that keeps run pages on the phone. Served at /locates/, so that it may serve everything below."""

from __future__ import annotations

from pathlib import Path

from django.contrib.staticfiles import finders
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_GET


@require_GET
def script(request: HttpRequest) -> HttpResponse:
    """The service worker; asked for anew each time, so that a phone never keeps an old one."""
    found = finders.find("field/worker.js")
    if not found:
        raise Http404
    answer = HttpResponse(Path(str(found)).read_bytes(), content_type="text/javascript")
    answer["Cache-Control"] = "no-cache"
    return answer
