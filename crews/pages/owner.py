"""The owner's pages over the whole register: what is due, who holds what, sending away, kits, labels' list."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from crews import selectors, services
from crews.equipment.fit import Piece, misfits
from crews.models import Kit, OwnKind, Role
from crews.pages.access import OFFICE, for_roles, person_of
from crews.pages.care_forms import AwayForm, KitForm, OwnKindForm, RuleForm
from crews.pages.refusal import tell
from crews.register.away import AHEAD_DAYS, AWAY_DAYS, away_plan
from crews.register.overview import due_within, overview
from locates import clock
from locates.errors import FirstspadeError

PAGE_SIZE = 25
MOST_DAYS = 366


@require_GET
@for_roles(*OFFICE)
def care(request: HttpRequest) -> HttpResponse:
    """What is due, custody, use and money at a glance."""
    on = selectors.company_today(clock.now())
    context = {"view": overview(on), "today": on, "zone": settings.TIME_ZONE}
    return render(request, "crews/equipment/care.html", context)


@require_GET
@for_roles(*OFFICE)
def due(request: HttpRequest) -> HttpResponse:
    """Everything due within so many days, paged."""
    on = selectors.company_today(clock.now())
    given = request.GET.get("days", "90")
    days = min(int(given), MOST_DAYS) if given.isdigit() else 90
    page = Paginator(due_within(on, days), PAGE_SIZE).get_page(request.GET.get("page"))
    return render(
        request, "crews/equipment/due.html", {"page": page, "days": days, "today": on, "kept": f"days={days}"}
    )


@require_GET
@for_roles(*OFFICE)
def away(request: HttpRequest) -> HttpResponse:
    """Visits that upcoming due days hit, and when to send each item."""
    on = selectors.company_today(clock.now())
    form = AwayForm(request.GET or None)
    days = form.cleaned_data["away_days"] if form.is_valid() else None
    plan = away_plan(on, days or AWAY_DAYS)
    context = {"plan": plan, "today": on, "ahead": AHEAD_DAYS, "form": form if form.is_bound else AwayForm()}
    return render(request, "crews/equipment/away.html", context, status=400 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(*OFFICE)
def kits(request: HttpRequest) -> HttpResponse:
    """Sets of items, and whether they fit together."""
    is_kind = request.POST.get("what") == "kind"
    form = KitForm(request.POST if request.method == "POST" and not is_kind else None)
    kind_form = OwnKindForm(request.POST if is_kind else None, auto_id="id_kind_%s")
    status, given = 200, kind_form if is_kind else form
    if request.method == "POST":
        status = 400
        if given.is_valid():
            write = services.add_own_kind if is_kind else services.add_kit
            try:
                made = write(**given.cleaned_data, actor=person_of(request))
            except FirstspadeError as refused:
                status = tell(given, refused)
            else:
                messages.success(request, f"{made.name} is there. Choose it on the items' own pages.")
                return redirect("equipment-kits")
    found = Kit.objects.prefetch_related("items__crew", "items__person")
    page = Paginator(found, PAGE_SIZE).get_page(request.GET.get("page"))
    rows = [{"kit": kit, "items": list(kit.items.all()), "misfits": kit_misfits(kit)} for kit in page]
    return render(
        request,
        "crews/equipment/kits.html",
        {
            "rows": rows,
            "page": page,
            "form": form,
            "kind_form": kind_form,
            "own_kinds": list(OwnKind.objects.all()[:100]),
            "owner": person_of(request).is_owner,
        },
        status=status,
    )


@require_http_methods(["GET", "POST"])
@for_roles(Role.OWNER)
def own_kind(request: HttpRequest, kind_id: int) -> HttpResponse:
    """A kind of the company's own: its rules, and the form for one."""
    found = get_object_or_404(OwnKind, pk=kind_id)
    form = RuleForm(request.POST or None)
    status = 200
    if request.method == "POST":
        status = 400
        if form.is_valid():
            try:
                given = services.RuleGiven(**form.cleaned_data)
                made = services.set_own_kind_rule(
                    own_kind=found, given=given, actor=person_of(request), now=clock.now()
                )
            except FirstspadeError as refused:
                status = tell(form, refused)
            else:
                messages.success(request, f"{made.title}: the rule holds for every {found.name}.")
                return redirect("equipment-own-kind", found.pk)
    context = {"kind": found, "form": form, "rules": found.care_rules.select_related("set_by")}
    return render(request, "crews/equipment/own_kind.html", {**context, "items": found.items.count()}, status=status)


def kit_misfits(kit: Kit) -> tuple[str, ...]:
    """What of a loaded kit does not fit, holders included."""
    items = list(kit.items.all())
    found = misfits(Piece(item.name, item.kind, frozenset(item.frequencies_hz), item.voltage_class) for item in items)
    places = {item.place_words for item in items}
    return (*found, f"It is in {len(places)} places: {', '.join(sorted(places))}.") if len(places) > 1 else found
