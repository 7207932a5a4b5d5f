"""Who logs in: the owner's list of people."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from crews import selectors, services
from crews.models import Person, Role
from crews.pages.access import for_roles, person_of
from crews.pages.people_forms import NewPersonForm, PasswordForm, PersonForm
from crews.pages.refusal import tell
from locates.errors import FirstspadeError

PAGE_SIZE = 50


@require_GET
@for_roles(Role.OWNER)
def people(request: HttpRequest) -> HttpResponse:
    """Everybody with a log-in, those whose log-in has ended last."""
    everybody = selectors.people().order_by("-is_active", "username")
    page = Paginator(everybody, PAGE_SIZE).get_page(request.GET.get("page"))
    return render(request, "crews/people/list.html", {"page": page})


@require_http_methods(["GET", "POST"])
@for_roles(Role.OWNER)
def new(request: HttpRequest) -> HttpResponse:
    """Add a person with a first password."""
    form = NewPersonForm(request.POST or None)
    status = 200
    if request.method == "POST":
        status = 400
        if form.is_valid():
            try:
                made = services.add_person(**form.cleaned_data, actor=person_of(request))
            except FirstspadeError as refused:
                status = tell(form, refused)
            else:
                messages.success(request, f"{made} can log in as {made.username}.")
                return redirect("people")
    return render(request, "crews/people/new.html", {"form": form}, status=status)


@require_http_methods(["GET", "POST"])
@for_roles(Role.OWNER)
def person(request: HttpRequest, person_id: int) -> HttpResponse:
    """Change role, crew or what is known of a person."""
    found = _find(person_id)
    if request.method == "GET":
        return _show(request, found)
    form = PersonForm(request.POST, initial={"crew": found.crew_id})
    status = 400
    if form.is_valid():
        try:
            services.change_person(person=found, actor=person_of(request), **form.cleaned_data)
        except FirstspadeError as refused:
            status = tell(form, refused)
        else:
            messages.success(request, f"{found.username}: the changes are saved.")
            return redirect("person", found.pk)
    return _show(request, found, status=status, form=form)


@require_POST
@for_roles(Role.OWNER)
def password(request: HttpRequest, person_id: int) -> HttpResponse:
    """Set a new password; the person's other sessions end."""
    found = _find(person_id)
    form = PasswordForm(request.POST)
    status = 400
    if form.is_valid():
        try:
            services.set_password(person=found, password=form.cleaned_data["password"], actor=person_of(request))
        except FirstspadeError as refused:
            status = tell(form, refused)
        else:
            if found.pk == person_of(request).pk:
                update_session_auth_hash(request, found)
            messages.success(request, f"{found.username} has a new password.")
            return redirect("person", found.pk)
    return _show(request, found, status=status, password_form=form)


@require_POST
@for_roles(Role.OWNER)
def log_in_ends(request: HttpRequest, person_id: int) -> HttpResponse:
    """End the log-in, or let it live again. Nobody is deleted: the records go on naming them."""
    found = _find(person_id)
    form = forms.Form(request.POST)
    form.full_clean()
    live = request.POST.get("active") == "yes"
    try:
        services.change_person(person=found, actor=person_of(request), is_active=live)
    except FirstspadeError as refused:
        status = tell(form, refused)
        return _show(request, found, status=status, end_form=form)
    messages.success(request, f"{found.username} {'can log in again' if live else 'can no longer log in'}.")
    return redirect("person", found.pk)


def _find(person_id: int) -> Person:
    return get_object_or_404(selectors.people(), pk=person_id)


def _show(request: HttpRequest, found: Person, *, status: int = 200, **bound: forms.Form) -> HttpResponse:
    start = {name: getattr(found, name) for name in PersonForm.base_fields} | {"crew": found.crew_id}
    context: dict[str, Any] = {
        "person": found,
        "form": PersonForm(initial=start),
        "password_form": PasswordForm(),
    }
    return render(request, "crews/people/person.html", context | bound, status=status)
