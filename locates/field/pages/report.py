"""The locate report as PDF: plan, profile, tables, instruments, quality levels, limits, cautions."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.views.decorators.http import require_GET

from locates import cautions, clock
from locates.field.models import Run
from locates.field.pages.access import job_or_404
from locates.field.pages.job_view import job_context
from locates.field.pages.levels import LEVELS
from locates.field.pages.pipe_view import fall_view
from locates.field.pages.quality import stretch_views
from locates.field.pages.report_photos import Shown, picture, shown_of
from locates.field.pages.run_view import point_views
from locates.field.reckoning import VERSION
from locates.field.selectors import runs_of
from locates.field.words import method_of
from locates.ground.quality import Method

# What a method cannot do; common practice, no source, unless the words name one.
LIMITS = {
    Method.DIRECT: "Direct connection follows the metal it is clipped to, and whatever is bonded to that.",
    Method.CLAMP: "A clamp drives current only through a line grounded at both ends.",
    Method.INDUCTION: "Induction couples to every line near by; near the transmitter neither mark nor depth holds.",
    Method.PASSIVE_POWER: "Passive power finds loaded cables only, names no owner and gives no dependable depth.",
    Method.PASSIVE_RADIO: "Passive radio finds long metal only, names no owner and gives no dependable depth.",
    Method.SONDE: "A sonde shows where it lies itself; between its marks the pipe's course is assumed.",
    Method.RADAR: "Radar is blind in wet clay; an empty scan is not clear ground.",
    Method.EXPOSED: "A hole proves its own place only.",
    Method.RECORDS: "Records say what was meant or remembered, not what lies there.",
    Method.SAID: "What people say is a hint where to look.",
    Method.PAINT: "Marks found on site may be old, moved or another job's.",
}


@require_GET
def report(request: HttpRequest, pk: int) -> HttpResponse:
    """The report of a job's locates as it stands now."""
    job = job_or_404(request, pk)
    now = clock.now()
    runs = runs_of(job)
    context = {**job_context(job, now), **report_context(runs), "now": now, "svg_style": svg_style()}
    answer = HttpResponse(pdf(context), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="locates-{job.number}.pdf"'
    return answer


def report_context(runs: list[Run]) -> dict[str, Any]:
    """What the report says beyond the page."""
    methods = {method_of(run.method) for run in runs}
    photos = shown_of(runs)
    return {
        "detailed": [_detailed(run) | {"shown": photos.get(run.pk, Shown())} for run in runs],
        "levels": LEVELS,
        "limits": [words for method, words in LIMITS.items() if method in methods],
        "site_cautions": (*cautions.EVERY_PAGE, *cautions.AT_THE_SITE),
        "version": VERSION,
    }


def pdf(context: dict[str, Any]) -> bytes:
    """The report's bytes. Styles come from the app's own files, photos from the company's own store; nothing is
    fetched. The layout library takes a second to load, so it waits for the first report."""
    from weasyprint import CSS, HTML
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    photos = {photo.pk: photo for one in context["detailed"] for photo in one["shown"].photos}

    class Photos(URLFetcher):
        def fetch(self, url: str, headers: Any = None) -> URLFetcherResponse:
            return URLFetcherResponse(url, picture(url, photos), {"Content-Type": "image/jpeg"})

    html = render_to_string("field/report.html", context)
    sheets = [CSS(string=_style(name)) for name in ("look/tokens.css", "field/report.css")]
    made: bytes = HTML(string=html, url_fetcher=Photos()).write_pdf(stylesheets=sheets)
    return made


def svg_style() -> str:
    """The drawings' rules of the site's own style, its light colours written out: inside a drawing neither
    the page's styles nor their variables reach in print."""
    values = dict(re.findall(r"(--[\w-]+): ([^;]+);", _style("look/tokens.css").partition("@media")[0]))
    values |= {"--card": "#fff", "--ink": "#000", "--soft": "#555"}
    rules = [line for line in _style("field/field.css").splitlines() if line.startswith(".plan ")]
    text = re.sub(r"var\((--[\w-]+)\)", lambda m: values[m[1]], "\n".join(rules)).replace(".plan ", "")
    return f"{text}\ntext {{ stroke: none; font-family: DejaVu Sans; }}"


def _style(name: str) -> str:
    found = finders.find(name)
    return Path(str(found)).read_text(encoding="utf-8")


def _detailed(run: Run) -> dict[str, Any]:
    return {
        "run": run,
        "points": point_views(run),
        "must_say": _must_say(run),
        "stretches": stretch_views(run),
        "backings": [b for b in run.backings.all() if b.withdrawn_at is None],
        "fall": fall_view(run),
    }


def _must_say(run: Run) -> tuple[str, ...]:
    words = [w for s in (run.result or {}).get("quality", []) for w in s["must_say"]]
    return tuple(dict.fromkeys(words))
