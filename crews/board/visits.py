"""Placing, moving and cancelling a visit by hand. A refusal says why and offers the first lawful instant."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, cast

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST
from django_htmx.http import HttpResponseLocation

from crews.board.forms import USUAL_MINUTES, CancelForm, PlaceForm, minutes_of
from crews.board.when import purpose_of
from crews.models import Person, Visit
from crews.selectors import visits_visible_to
from crews.services import cancel_visit, move_visit, schedule_visit
from crews.words import span_words, zone_of
from locates import clock
from locates.errors import FirstspadeError
from tickets.models import Job
from tickets.pages.words import texture_of
from tickets.selectors import WindowRow, job_detail, window_rows
from tickets.services import WindowRefused
from tickets.verdict import first_lawful_start
from tickets.verdict.words import instant_words

FIRST_HOUR, LAST_HOUR = 7, 17  # a start offered in the form lies between these; common practice, no source
# What a service calls a field, and what the form does.
_FORM_FIELDS = {"starts_at": "start", "ends_at": "length", "crew": "crew", "kind": "kind", "start": "start"}


@require_http_methods(["GET", "HEAD", "POST"])
def place(request: HttpRequest, job_id: int) -> HttpResponse:
    """Put a crew on a job: the form, and the form sent."""
    person, now = _office(request), clock.now()
    job = _job(job_id, person)
    spell = f"p{job.pk}-"
    row = window_rows([job], now)[0]
    if request.method != "POST":
        form = PlaceForm(zone=job.site.time_zone, spell=spell, initial=_usual(row, now))
        return _show_place(request, row, form, None)
    form = PlaceForm(request.POST, zone=job.site.time_zone, spell=spell)
    refused: FirstspadeError | None = None
    if form.is_valid():
        try:
            starts_at = _start(request, form)
            visit = schedule_visit(
                job=job,
                crew=form.cleaned_data["crew"],
                **purpose_of(form.cleaned_data["kind"]),
                starts_at=starts_at,
                ends_at=starts_at + form.duration(),
                actor=person,
                now=now,
            )
        except FirstspadeError as problem:
            refused = problem
        else:
            return _done(request, job.pk, f"Placed: {_said(visit)}.")
    return _show_place(request, row, form, refused)


@require_http_methods(["GET", "HEAD"])
def visit_page(request: HttpRequest, pk: int) -> HttpResponse:
    """One visit, to move it or take it off the day."""
    visit = _visit(request, pk)
    return _show_visit(request, visit, _move_form(visit), CancelForm(), None)


@require_POST
def move(request: HttpRequest, pk: int) -> HttpResponse:
    """Another time, another crew, or both."""
    person, now = _office(request), clock.now()
    visit = _visit(request, pk)
    form = _move_form(visit, _whole(request, visit))
    refused: FirstspadeError | None = None
    if form.is_valid():
        try:
            starts_at = _start(request, form)
            moved = move_visit(
                visit=visit,
                actor=person,
                now=now,
                starts_at=starts_at,
                ends_at=starts_at + form.duration(),
                crew=form.cleaned_data["crew"],
            )
        except FirstspadeError as problem:
            refused = problem
        else:
            return _done(request, moved.job_id, f"Moved: {_said(moved)}.")
    return _show_visit(request, visit, form, CancelForm(), refused)


@require_POST
def cancel(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a visit off the day, with the reason."""
    person, now = _office(request), clock.now()
    visit = _visit(request, pk)
    form = CancelForm(request.POST)
    refused: FirstspadeError | None = None
    if form.is_valid():
        try:
            cancel_visit(visit=visit, reason=form.cleaned_data["reason"], actor=person, now=now)
        except FirstspadeError as problem:
            refused = problem
        else:
            return _done(request, visit.job_id, f"Cancelled: {_said(visit)}.")
    return _show_visit(request, visit, _move_form(visit), form, refused)


def _office(request: HttpRequest) -> Person:
    person = cast(Person, request.user)
    if not person.runs_the_office:
        raise PermissionDenied("Only the owner or a dispatcher places visits. Ask one of them.")
    return person


def _job(pk: int, person: Person) -> Job:
    try:
        return job_detail(pk, person)
    except Job.DoesNotExist:
        raise Http404 from None


def _visit(request: HttpRequest, pk: int) -> Visit:
    return get_object_or_404(visits_visible_to(_office(request)), pk=pk)


def _usual(row: WindowRow, now: datetime) -> dict[str, Any]:
    """What the form shows first: a dig at the first lawful start that falls into a working day."""
    length = timedelta(minutes=USUAL_MINUTES)
    zone = zone_of(row.job.site.time_zone)
    wanted = _working(now.astimezone(zone))
    for _ in range(3):
        first = first_lawful_start(row.windows, wanted, length)
        if first is None or first <= wanted:
            break
        wanted = _working(first.astimezone(zone))
    return {
        "kind": "dig",
        "day": wanted.date(),
        "start": wanted.time(),
        "length": USUAL_MINUTES,
    }


def _working(local: datetime) -> datetime:
    """The next quarter hour from `local` on inside the hours at which work starts."""
    late = timedelta(minutes=-local.minute % 15, seconds=-local.second, microseconds=-local.microsecond)
    if local.second or local.microsecond:
        late += timedelta(minutes=0 if local.minute % 15 else 15)
    local += late
    if local.hour < FIRST_HOUR:
        return local.replace(hour=FIRST_HOUR, minute=0)
    if local.hour >= LAST_HOUR:
        return (local + timedelta(days=1)).replace(hour=FIRST_HOUR, minute=0)
    return local


def _start(request: HttpRequest, form: PlaceForm) -> datetime:
    """The start in the form, or the one that the last refusal offered when its button was pressed."""
    offered = request.POST.get("start_instead", "")
    if offered:
        try:
            at = datetime.fromisoformat(offered)
        except ValueError:
            at = None
        if at is not None and at.tzinfo is not None:
            return at
    return form.starts_at()


def _move_form(visit: Visit, given: Any = None) -> PlaceForm:
    zone = visit.job.site.time_zone
    local = visit.starts_at.astimezone(zone_of(zone))
    initial = {"crew": visit.crew_id, "day": local.date(), "start": local.time(), "length": minutes_of(visit)}
    return PlaceForm(given, zone=zone, spell=f"v{visit.pk}-", visit=visit, initial=initial)


def _whole(request: HttpRequest, visit: Visit) -> Any:
    """What was sent; crew and length stay as they are when only the time was (a card that was dragged)."""
    given = request.POST.copy()
    given.setdefault("crew", str(visit.crew_id))
    given.setdefault("length", str(minutes_of(visit)))
    return given


def _said(visit: Visit) -> str:
    span = span_words(visit.starts_at, visit.ends_at, visit.job.site.time_zone)
    return f"{visit.crew.name}, {visit.get_kind_display().lower()} on job {visit.job.number}, {span}"


def _back(request: HttpRequest) -> str:
    """The chart as the person left it; only an address of the chart itself is taken."""
    asked = request.POST.get("back") or request.GET.get("back") or ""
    safe = url_has_allowed_host_and_scheme(asked, allowed_hosts=None)
    return asked if safe and (asked == "/" or asked.startswith("/?")) else "/"


def _done(request: HttpRequest, job_id: int, words: str) -> HttpResponse:
    messages.success(request, words)
    if request.htmx:  # type: ignore[attr-defined]
        return HttpResponseLocation(_back(request), target="#board", swap="outerHTML")
    return redirect(f"{_back(request)}#job-{job_id}")


def _refusal(refused: FirstspadeError | None, form: PlaceForm | CancelForm, zone: str) -> dict[str, Any] | None:
    """The refusal in words for the template; puts each fault beside its field."""
    if refused is None:
        return None
    if isinstance(refused, WindowRefused):
        first = refused.first_lawful_at
        return {
            "words": refused.message if first is None else "A dig cannot be planned then.",
            "reasons": () if first is None else refused.reasons,
            "instead": None if first is None else first.isoformat(),
            "instead_words": "" if first is None else instant_words(first, zone),
        }
    beside = False
    for name, words in refused.fields.items():
        field = _FORM_FIELDS.get(name, name)
        if field in form.fields:
            form.add_error(field, words)
            beside = True
    plain = refused.message if not beside or refused.code not in {"bad_input", "bad_instant"} else ""
    return {"words": plain, "reasons": (), "instead": None, "instead_words": ""} if plain else None


def _show_place(
    request: HttpRequest, row: WindowRow, form: PlaceForm, refused: FirstspadeError | None
) -> HttpResponse:
    zone = row.job.site.time_zone
    content = {
        "job": row.job,
        "verdict": row.verdict,
        "texture": texture_of(row.verdict.state),
        "form": form,
        "zone": zone,
        "refusal": _refusal(refused, form, zone),
        "back": _back(request),
    }
    name = "crews/board/place_form.html" if request.htmx else "crews/board/place.html"  # type: ignore[attr-defined]
    return render(request, name, content, status=422 if form.is_bound else 200)


def _show_visit(
    request: HttpRequest, visit: Visit, form: PlaceForm, cancel_form: CancelForm, refused: FirstspadeError | None
) -> HttpResponse:
    now, zone = clock.now(), visit.job.site.time_zone
    cancelling = cancel_form.is_bound
    content = {
        "visit": visit,
        "job": visit.job,
        "span": span_words(visit.starts_at, visit.ends_at, zone),
        "stands": visit.cancelled_at is None and visit.ends_at > now,
        "form": form,
        "cancel_form": cancel_form,
        "zone": zone,
        "refusal": _refusal(refused, cancel_form if cancelling else form, zone),
        "cancelling": cancelling,
        "back": _back(request),
    }
    name = "crews/board/move_form.html" if request.htmx else "crews/board/visit.html"  # type: ignore[attr-defined]
    return render(request, name, content, status=422 if form.is_bound or cancelling else 200)
