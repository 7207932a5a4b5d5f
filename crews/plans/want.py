"""Wanted visits and spare parts: what plans are to find crews and hours for, and what the visits use up."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from crews.models import Crew, SparePart, WantedVisit
from crews.pages.access import OFFICE, for_roles, person_of
from crews.plans.attempt import attempt
from crews.plans.want_forms import PartForm, StockForm, WantForm, WishForm, wish_initial
from crews.services.parts import add_part, drop_part, set_stock
from crews.services.wanted import change_wanted, drop_wanted, want_visit
from crews.words import span_words
from locates import clock
from locates.errors import FirstspadeError

ROWS_A_PAGE = 50


@require_http_methods(["GET", "HEAD", "POST"])
@for_roles(*OFFICE)
def wanted(request: HttpRequest) -> HttpResponse:
    """Wanted visits that have no day yet, and the form for one more."""
    form = WantForm(request.POST if request.method == "POST" else None)

    def want() -> WantedVisit:
        zone = form.cleaned_data["job"].site.time_zone
        return want_visit(**form.wish(zone), actor=person_of(request), now=clock.now())

    made, status = attempt(form, want)
    if made is not None:
        messages.success(request, f"Wanted: {made.get_kind_display().lower()} on job {made.job.number}.")
        return redirect("wanted-visits")
    rows = WantedVisit.objects.filter(visit=None, dropped_at=None).select_related("job__site")
    rows = rows.prefetch_related("more_promises").order_by("job__number", "pk")
    page = Paginator(rows, ROWS_A_PAGE).get_page(request.GET.get("page"))
    content = {"form": form, "page": page, "rows": [(one, _promises(one), _needs(one)) for one in page]}
    return render(request, "crews/plans/wanted.html", content, status=status)


def _promises(one: WantedVisit) -> str:
    if one.promised_from is None or one.promised_until is None:
        return ""
    spans = [(one.promised_from, one.promised_until)]
    spans += [(more.opens_at, more.closes_at) for more in one.more_promises.all()]
    return " or ".join(span_words(start, end, one.job.site.time_zone) for start, end in spans)


def _needs(one: WantedVisit) -> str:
    """Skills, kit, parts and gaps in words."""
    parts = [*one.skills, *(kind.replace("_", " ") for kind in one.kit)]
    parts += [f"{pieces} {name}" for name, pieces in one.parts.items()]
    parts += [f"{one.frequency_hz} Hz"] if one.frequency_hz else []
    least, most = one.gap_least_hours, one.gap_most_hours
    if least or most is not None:
        parts.append(f"{least} to {most} h after" if most is not None else f"at least {least} h after")
    parts += ["on the surface"] if one.surface_only else []
    return ", ".join(parts)


@require_http_methods(["GET", "HEAD", "POST"])
@for_roles(*OFFICE)
def change(request: HttpRequest, wanted_id: int) -> HttpResponse:
    """Ask for something else."""
    one = get_object_or_404(WantedVisit.objects.select_related("job__site"), pk=wanted_id, dropped_at=None)
    form = WishForm(request.POST if request.method == "POST" else None, initial=wish_initial(one))

    def change_it() -> WantedVisit:
        wish = form.wish(one.job.site.time_zone)
        return change_wanted(wanted=one, **wish, actor=person_of(request), now=clock.now())

    changed, status = attempt(form, change_it)
    if changed is not None:
        messages.success(request, f"Kept what is wanted on job {one.job.number}.")
        return redirect("wanted-visits")
    return render(request, "crews/plans/wish.html", {"form": form, "wanted": one}, status=status)


@require_POST
@for_roles(*OFFICE)
def drop(request: HttpRequest, wanted_id: int) -> HttpResponse:
    """Not wanted any more."""
    one = get_object_or_404(WantedVisit, pk=wanted_id, dropped_at=None)
    try:
        drop_wanted(wanted=one, actor=person_of(request), now=clock.now())
    except FirstspadeError as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, "Not wanted any more.")
    return redirect("wanted-visits")


@require_http_methods(["GET", "HEAD", "POST"])
@for_roles(*OFFICE)
def parts(request: HttpRequest) -> HttpResponse:
    """Every spare part with where it is, and the form for one more."""
    form = PartForm(request.POST if request.method == "POST" else None)
    made, status = attempt(form, lambda: add_part(**form.cleaned_data, actor=person_of(request)))
    if made is not None:
        messages.success(request, f"On the list: {made.name}. Say where it is.")
        return redirect("spare-part", made.pk)
    rows = SparePart.objects.prefetch_related("on_trucks__crew", "at_yards")
    page = Paginator(rows, ROWS_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "crews/plans/parts.html", {"form": form, "page": page}, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@for_roles(*OFFICE)
def part(request: HttpRequest, part_id: int) -> HttpResponse:
    """Where one part is."""
    found = get_object_or_404(SparePart, pk=part_id)
    crews = list(Crew.objects.filter(active=True).order_by("name"))
    form = StockForm(request.POST if request.method == "POST" else None, part=found, crews=crews)
    kept, status = attempt(form, lambda: set_stock(part=found, **form.stock(), actor=person_of(request)))
    if kept is not None:
        messages.success(request, f"Kept where {found.name} is.")
        return redirect("spare-parts")
    return render(request, "crews/plans/part_stock.html", {"form": form, "part": found}, status=status)


@require_POST
@for_roles(*OFFICE)
def part_drop(request: HttpRequest, part_id: int) -> HttpResponse:
    """Off the list."""
    found = get_object_or_404(SparePart, pk=part_id)
    try:
        drop_part(part=found, actor=person_of(request))
    except FirstspadeError as refused:
        messages.error(request, refused.message)
        return redirect("spare-part", part_id)
    messages.success(request, f"Off the list: {found.name}.")
    return redirect("spare-parts")
