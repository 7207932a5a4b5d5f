"""One visit of a proposal: why it stands there, move it, pin it, accept it alone."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseLocation

from crews import services
from crews.models import Crew, PlanState, PlanStop, StopKind
from crews.pages.access import OFFICE, for_roles, person_of
from crews.planning.elsewhere import Elsewhere, why_here
from crews.plans.forms import MoveForm
from crews.plans.lay import drive_words, stop_words
from crews.services.plan_guards import regather
from crews.services.plan_result import tours_of_rows
from crews.services.plan_times import plan_of
from crews.services.plan_travel import travel_of
from crews.words import zone_of
from locates import clock
from locates.errors import FirstspadeError
from tickets.services import WindowRefused
from tickets.verdict.words import instant_words

MOST_ELSEWHERE = 8


@require_safe
@for_roles(*OFFICE)
def stop(request: HttpRequest, stop_id: int) -> HttpResponse:
    """One visit of the proposal."""
    found = _stop(stop_id)
    return _show(request, found, MoveForm(stop=found), None)


@require_POST
@for_roles(*OFFICE)
def move(request: HttpRequest, stop_id: int) -> HttpResponse:
    """Another crew or hour; refused on the spot when it would not be lawful or would not fit."""
    found = _stop(stop_id)
    given = request.POST.copy()
    given.setdefault("crew", str(found.crew_id))
    form = MoveForm(_on_site_clock(given, found) if "dragged" in given else given, stop=found)
    refused: FirstspadeError | None = None
    if form.is_valid():
        try:
            moved = services.move_stop(
                stop=found,
                crew=form.cleaned_data["crew"],
                starts_at=form.starts_at(),
                actor=person_of(request),
                now=clock.now(),
            )
        except FirstspadeError as problem:
            refused = problem
        else:
            words = f"Moved in the proposal: {moved.key}, {moved.crew.name}, {stop_words(moved)}."
            return _done(request, moved, words)
    return _show(request, _stop(stop_id), form, refused)


def _on_site_clock(given: QueryDict, found: PlanStop) -> QueryDict:
    """What a card sends that was dragged: an hour on the clock of the crew's line where it was let go."""
    taken = given.copy()
    onto = str(taken["crew"])
    crew = Crew.objects.filter(pk=int(onto)).first() if onto.isdecimal() else None
    try:
        at = datetime.fromisoformat(f"{taken.get('day')}T{taken.get('start')}")
    except ValueError:
        return taken
    if crew is not None and found.job is not None:
        local = at.replace(tzinfo=zone_of(crew.time_zone)).astimezone(zone_of(found.job.site.time_zone))
        taken["day"], taken["start"] = f"{local:%Y-%m-%d}", f"{local:%H:%M}"
    return taken


@require_POST
@for_roles(*OFFICE)
def pin(request: HttpRequest, stop_id: int) -> HttpResponse:
    """Pin the visit where it stands, or take the pin off."""
    found = _stop(stop_id)
    wanted = request.POST.get("pinned") == "yes"
    try:
        services.pin_stop(stop=found, pinned=wanted, actor=person_of(request))
    except FirstspadeError as refused:
        return _show(request, found, MoveForm(stop=found), refused)
    messages.success(request, f"{found.key}: {'pinned' if wanted else 'not pinned any more'}.")
    return redirect("plan-stop", stop_id)


@require_POST
@for_roles(*OFFICE)
def accept(request: HttpRequest, stop_id: int) -> HttpResponse:
    """Accept this visit alone."""
    found = _stop(stop_id)
    try:
        services.accept_stop(stop=found, actor=person_of(request), now=clock.now())
    except FirstspadeError as refused:
        return _show(request, _stop(stop_id), MoveForm(stop=found), refused)
    messages.success(request, f"Accepted: {found.key}, {found.crew.name}, {stop_words(found)}.")
    return redirect("plan", found.plan_id)


def _stop(stop_id: int) -> PlanStop:
    rows = PlanStop.objects.filter(stop=StopKind.VISIT).select_related("plan", "job__site", "crew", "visit")
    return get_object_or_404(rows, pk=stop_id)


def _done(request: HttpRequest, moved: PlanStop, words: str) -> HttpResponse:
    messages.success(request, words)
    if request.htmx:  # type: ignore[attr-defined]
        return HttpResponseLocation(reverse("plan", args=[moved.plan_id]), target="#plan", swap="outerHTML")
    return redirect("plan", moved.plan_id)


def _show(request: HttpRequest, found: PlanStop, form: MoveForm, refused: FirstspadeError | None) -> HttpResponse:
    assert found.job is not None
    open_ = found.plan.state == PlanState.PROPOSED and found.accepted_at is None
    content = {
        "stop": found,
        "plan": found.plan,
        "job": found.job,
        "span": stop_words(found),
        "drive": drive_words(found.drive_s),
        "open": open_,
        "form": form,
        "refusal": _words(refused, found),
    }
    htmx = bool(request.htmx)  # type: ignore[attr-defined]
    if open_ and not htmx:
        content["elsewhere"] = _elsewhere(found)
    name = "crews/plans/stop_form.html" if htmx else "crews/plans/stop.html"
    return render(request, name, content, status=422 if refused or form.errors else 200)


def _words(refused: FirstspadeError | None, found: PlanStop) -> str:
    if refused is None:
        return ""
    assert found.job is not None
    if isinstance(refused, WindowRefused) and refused.first_lawful_at is not None:
        first = instant_words(refused.first_lawful_at, found.job.site.time_zone)
        return f"{' '.join(refused.reasons)} The first lawful start is {first}."
    return refused.message


def _elsewhere(found: PlanStop) -> list[Elsewhere]:
    """What every other shift would cost, cheapest first; empty when a shift of the plan is no more."""
    gathered = regather(found.plan)
    if found.key not in {visit.id for visit in gathered.problem.visits}:
        return []
    travel = travel_of(found.plan, gathered.problem)
    tours = tours_of_rows(found.plan.stops.all(), gathered, travel)
    if tours is None:
        return []
    return list(why_here(gathered.problem, travel, plan_of(tours, gathered), found.key))[:MOST_ELSEWHERE]
