"""Plans: asked for, watched, looked at, accepted whole; and the owner's weights."""

from __future__ import annotations

from dataclasses import fields

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from crews import services
from crews.models import OPEN_STATES, Plan, PlanState, PlanWeights, Role, StopKind
from crews.pages.access import OFFICE, for_roles, person_of
from crews.pages.refusal import tell
from crews.planning.problem import Weights
from crews.plans.attempt import attempt
from crews.plans.forms import WEIGHT_WORDS, AskForm, WeightsForm
from crews.plans.lay import drive_words, lay_chart, lay_days, staying_of, stop_words, stops_of, sums
from crews.services.plan_accept import ready_stops
from crews.services.plan_notes import is_notice
from crews.services.plans import SILENT, weights_used_now
from locates import clock
from locates.errors import FirstspadeError

PLANS_A_PAGE = 20


@require_http_methods(["GET", "HEAD", "POST"])
@for_roles(*OFFICE)
def plans(request: HttpRequest) -> HttpResponse:
    """Ask for a plan; the plans so far."""
    form = AskForm(request.POST if request.method == "POST" else None)
    asked, status = attempt(
        form, lambda: services.ask_plan(actor=person_of(request), now=clock.now(), **form.cleaned_data)
    )
    if asked is not None:
        return redirect("plan", asked.pk)
    rows = Plan.objects.select_related("asked_by")
    page = Paginator(rows, PLANS_A_PAGE).get_page(request.GET.get("page"))
    content = {
        "form": form,
        "page": page,
        "under_way": Plan.objects.filter(state__in=OPEN_STATES).first(),
        "company_zone": timezone.get_default_timezone_name(),
    }
    return render(request, "crews/plans/plans.html", content, status=status)


@require_safe
@for_roles(*OFFICE)
def plan(request: HttpRequest, plan_id: int) -> HttpResponse:
    """One plan: how far it is, or the proposal. The same part serves the page and its renewal."""
    return _show(request, _plan(plan_id))


def _plan(plan_id: int) -> Plan:
    return get_object_or_404(Plan.objects.select_related("asked_by"), pk=plan_id)


def _show(request: HttpRequest, found: Plan, refusal: str = "", status: int = 200) -> HttpResponse:
    now = clock.now()
    content = {
        "plan": found,
        "refusal": refusal,
        "company_zone": timezone.get_default_timezone_name(),
        "open": found.state in OPEN_STATES,
        "proposed": found.state == PlanState.PROPOSED,
        "silent": found.told_at is not None and now - found.told_at > SILENT,
        "left": None if found.left_s is None else round(found.left_s),
    }
    if found.computed_at is not None:
        stops = stops_of(found)
        visits = [stop for stop in stops if stop.stop == StopKind.VISIT]
        visits.sort(key=lambda s: (s.starts_at, s.pk))
        content |= {
            "chart": lay_chart(found, [*stops, *staying_of(found)], now),
            "lines": [(stop, stop_words(stop), drive_words(stop.drive_s)) for stop in visits],
            "sums": sums(found),
            "ready": ready_stops(visits),
            "moves": [(stop, stop_words(stop)) for stop in visits if stop.moved],
            "left_out": [gone for gone in found.unplanned if not gone["stands"]],
            "staying": [gone for gone in found.unplanned if gone["stands"]],
            "notices": [note for note in found.notes if is_notice(note)],
            "notes": [note for note in found.notes if not is_notice(note)],
            "now": now,
        }
    part = request.htmx and not request.htmx.history_restore_request  # type: ignore[attr-defined]
    answer: HttpResponse = render(
        request, "crews/plans/part.html" if part else "crews/plans/plan.html", content, status=status
    )
    patch_vary_headers(answer, ["HX-Request"])
    return answer


@require_safe
@for_roles(*OFFICE)
def days(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Each crew's day of the proposal: order, driving, a sketch to scale."""
    found = _plan(plan_id)
    return render(
        request, "crews/plans/days.html", {"plan": found, "days": lay_days([*stops_of(found), *staying_of(found)])}
    )


@require_POST
@for_roles(*OFFICE)
def call_off(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Stop the computing."""
    try:
        services.call_off_plan(plan=_plan(plan_id), actor=person_of(request))
    except FirstspadeError as refused:
        return _show(request, _plan(plan_id), refused.message, 409)
    messages.success(request, "Called off. Nothing has changed on any crew's day.")
    return redirect("plan", plan_id)


@require_POST
@for_roles(*OFFICE)
def set_aside(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The proposal is not wanted."""
    try:
        services.set_aside_plan(plan=_plan(plan_id), actor=person_of(request))
    except FirstspadeError as refused:
        return _show(request, _plan(plan_id), refused.message, 409)
    messages.success(request, "Set aside. What was accepted of it stays.")
    return redirect("plans")


@require_POST
@for_roles(*OFFICE)
def accept(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The whole proposal or nothing; what needs a renewal first stays proposed."""
    try:
        done = services.accept_plan(plan=_plan(plan_id), actor=person_of(request), now=clock.now())
    except FirstspadeError as refused:
        return _show(request, _plan(plan_id), refused.message, 409)
    messages.success(request, f"Accepted: {done.done} visit{'' if done.done == 1 else 's'} on the crews' days.")
    if done.waiting:
        messages.warning(request, f"Still proposed until the ticket is renewed: {', '.join(done.waiting)}.")
    return redirect("plan", plan_id)


@require_http_methods(["GET", "HEAD", "POST"])
@for_roles(*OFFICE)
def weights(request: HttpRequest) -> HttpResponse:
    """What plans are weighed by: the office sees it, the owner changes it."""
    person = person_of(request)
    now = weights_used_now()
    start = {field.name: getattr(now, field.name) for field in fields(Weights)}
    form = WeightsForm(request.POST if request.method == "POST" else None, initial=start)
    status = 200
    if form.is_bound:
        status = 400
        if form.is_valid():
            try:
                services.set_weights(actor=person, now=clock.now(), **form.cleaned_data)
            except FirstspadeError as refused:
                status = 403 if refused.code == "forbidden" else tell(form, refused)
            else:
                messages.success(request, "Kept. Plans asked for from now on use these weights.")
                return redirect("plan-weights")
    content = {
        "form": form,
        "rows": [(WEIGHT_WORDS[name][0], value, WEIGHT_WORDS[name][1]) for name, value in start.items()],
        "may_change": person.role == Role.OWNER,
        "kept": PlanWeights.objects.select_related("set_by").first(),
        "company_zone": timezone.get_default_timezone_name(),
    }
    return render(request, "crews/plans/weights.html", content, status=status)
