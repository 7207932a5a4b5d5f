"""The equipment register: what is overdue first. The owner keeps it; the office takes items out of service;
a crew member reads what the own crew holds."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from crews import selectors, services
from crews.models import Equipment, Role
from crews.pages.access import OFFICE, for_roles, person_of
from crews.pages.equipment_forms import (
    CertificateForm,
    FactsForm,
    HolderForm,
    NewEntryForm,
    OutOfServiceForm,
    RegisterFilter,
)
from crews.pages.item_facts import item_facts
from crews.pages.refusal import tell
from crews.pages.register import counts, narrowed, register, row
from locates import clock
from locates.errors import FirstspadeError

PAGE_SIZE = 25


@require_GET
def equipment(request: HttpRequest) -> HttpResponse:
    """The register, filtered and paged."""
    person = person_of(request)
    on = selectors.company_today(clock.now())
    items = register(person, on)
    form = RegisterFilter(request.GET, crews=selectors.crews_visible_to(person))
    wanted = form.cleaned_data if form.is_valid() else {}
    found = Paginator(narrowed(items, **wanted), PAGE_SIZE).get_page(request.GET.get("page"))
    kept = request.GET.copy()
    kept.pop("page", None)
    context = {
        "form": form,
        "counts": counts(items),
        "page": found,
        "rows": [row(item, on) for item in found],
        "kept": kept.urlencode(),
        "narrowed": any(wanted.values()),
        "standing": wanted.get("standing", ""),
        "office": person.runs_the_office,
        "owner": person.is_owner,
        "today": on,
    }
    part = bool(getattr(request, "htmx", False))
    template = "crews/equipment/register.html" if part else "crews/equipment/list.html"
    return render(request, template, context, status=200 if form.is_valid() else 400)


@require_GET
def item(request: HttpRequest, item_id: int) -> HttpResponse:
    """One item."""
    return _show(request, _find(request, item_id))


@require_http_methods(["GET", "POST"])
@for_roles(Role.OWNER)
def new(request: HttpRequest) -> HttpResponse:
    """Add an item."""
    form = NewEntryForm(request.POST or None)
    status = 200
    if request.method == "POST":
        status = 400
        if form.is_valid():
            try:
                made = services.add_equipment(**form.cleaned_data, actor=person_of(request))
            except FirstspadeError as refused:
                status = tell(form, refused)
            else:
                messages.success(request, f"{made.name} is in the register.")
                return redirect("equipment-item", made.pk)
    return render(request, "crews/equipment/new.html", {"form": form}, status=status)


@require_http_methods(["GET", "POST"])
@for_roles(Role.OWNER)
def edit(request: HttpRequest, item_id: int) -> HttpResponse:
    """Correct what is written about an item."""
    found = _find(request, item_id)
    start = {name: getattr(found, name) for name in FactsForm.base_fields}
    form = FactsForm(request.POST or None, initial=start)
    status = 200
    if request.method == "POST":
        status = 400
        if form.is_valid():
            try:
                services.change_equipment(item=found, actor=person_of(request), **form.cleaned_data)
            except FirstspadeError as refused:
                status = tell(form, refused)
            else:
                messages.success(request, "The entry is corrected.")
                return redirect("equipment-item", found.pk)
    return render(request, "crews/equipment/edit.html", {"form": form, "item": found}, status=status)


@require_POST
@for_roles(*OFFICE)
def hand_over(request: HttpRequest, item_id: int) -> HttpResponse:
    """Give the item to a crew, or back to the yard."""

    def write(found: Equipment, given: dict[str, Any]) -> str:
        services.hand_over_equipment(item=found, crew=given["crew"], actor=person_of(request))
        return f"{found.name} is now {'with ' + given['crew'].name if given['crew'] else 'at the yard'}."

    return _write(request, item_id, "holder_form", HolderForm(request.POST), write)


@require_POST
@for_roles(Role.OWNER)
def certificate(request: HttpRequest, item_id: int) -> HttpResponse:
    """Enter a new calibration certificate."""

    def write(found: Equipment, given: dict[str, Any]) -> str:
        services.set_calibration_due(item=found, due_on=given["due_on"], actor=person_of(request))
        return "The new calibration date is entered." if given["due_on"] else "The calibration date is removed."

    return _write(request, item_id, "certificate_form", CertificateForm(request.POST), write)


@require_POST
@for_roles(*OFFICE)
def take_out(request: HttpRequest, item_id: int) -> HttpResponse:
    """Take the item out of service, with the reason."""

    def write(found: Equipment, given: dict[str, Any]) -> str:
        services.take_out_of_service(item=found, reason=given["out_of_service_reason"], actor=person_of(request))
        return f"{found.name} is out of service."

    return _write(request, item_id, "service_form", OutOfServiceForm(request.POST), write)


@require_POST
@for_roles(*OFFICE)
def bring_back(request: HttpRequest, item_id: int) -> HttpResponse:
    """Return the item to service."""

    def write(found: Equipment, given: dict[str, Any]) -> str:
        services.return_to_service(item=found, actor=person_of(request))
        return f"{found.name} is back in service."

    return _write(request, item_id, "service_form", forms.Form(request.POST), write)


def _write(
    request: HttpRequest,
    item_id: int,
    name: str,
    form: forms.Form,
    write: Callable[[Equipment, dict[str, Any]], str],
) -> HttpResponse:
    """Runs one service with a checked form, or shows the item again with the form's errors."""
    found = _find(request, item_id)
    status = 400
    if form.is_valid():
        try:
            said = write(found, form.cleaned_data)
        except FirstspadeError as refused:
            status = tell(form, refused)
        else:
            messages.success(request, said)
            return redirect("equipment-item", found.pk)
    return _show(request, found, status=status, **{name: form})


def _find(request: HttpRequest, item_id: int) -> Equipment:
    items = register(person_of(request), selectors.company_today(clock.now()))
    return get_object_or_404(items, pk=item_id)


def _show(request: HttpRequest, found: Equipment, *, status: int = 200, **bound: forms.Form) -> HttpResponse:
    person = person_of(request)
    on = selectors.company_today(clock.now())
    context: dict[str, Any] = {
        "item": found,
        "row": row(found, on),
        **item_facts(found, on, person),
        "office": person.runs_the_office,
        "owner": person.is_owner,
        "service_form": OutOfServiceForm(),
    }
    if person.runs_the_office:
        context["holder_form"] = HolderForm(initial={"crew": found.crew_id})
    if person.is_owner:
        context["certificate_form"] = CertificateForm(initial={"due_on": found.calibration_due_on})
    return render(request, "crews/equipment/item.html", context | bound, status=status)
