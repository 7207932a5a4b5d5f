"""What is done with one item: custody, results, rules, the owner's word, papers, confirming on the phone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from crews import selectors, services
from crews.equipment.care import Care
from crews.models import Equipment, Override, Paper, Person, Role
from crews.pages.access import OFFICE, for_roles, person_of
from crews.pages.care_forms import LocateForm, OverrideForm, PaperForm, ResultForm, RuleForm, StepForm
from crews.pages.refusal import tell
from crews.register.doubt import locates_to_name
from crews.register.rules import rules_of
from crews.services import Laboratory
from locates import clock
from locates.errors import FirstspadeError

BY_THE_CREW = frozenset({Care.FUNCTION_CHECK, Care.BUMP_TEST, Care.INSPECTION, Care.BATTERY})
LAB = ("laboratory", "certificate_number", "as_found", "as_left", "uncertainty", "stated_due_on", "cost")


@require_GET
def by_code(request: HttpRequest, code: str) -> HttpResponse:
    """What a label's code leads to: the item, on whatever phone is logged in."""
    found = get_object_or_404(Equipment.objects.select_related("crew", "person", "own_kind"), code=code.upper())
    person = person_of(request)
    if person.runs_the_office:
        return redirect("equipment-item", found.pk)
    today = selectors.company_today(clock.now())
    own = found.crew_id is not None and found.crew_id == person.crew_id
    context = {
        "item": found,
        "flag": selectors.flag_of(found, today),
        "own": own,
        "confirm": own and found.unconfirmed,
        "take": found.place == "yard" and person.crew is not None,
    }
    return render(request, "crews/equipment/scanned.html", context)


@require_POST
def tap(request: HttpRequest, code: str) -> HttpResponse:
    """One tap on the phone: we have it, we take it, we gave it back."""
    found = get_object_or_404(Equipment, code=code.upper())
    person, now, act = person_of(request), clock.now(), request.POST.get("act", "")
    try:
        if act == "confirm":
            services.confirm_hand_over(item=found, actor=person, now=now)
            said = f"You have {found.name}."
        elif act == "take":
            services.move_item(item=found, step="issued", crew=person.crew, actor=person, now=now)
            said = f"{found.name} is with {person.crew}."
        else:
            services.move_item(item=found, step="returned", actor=person, now=now)
            said = f"{found.name} is back at the yard."
    except FirstspadeError as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, said)
    return redirect("equipment-scan", found.code)


@require_http_methods(["GET", "POST"])
def result(request: HttpRequest, item_id: int) -> HttpResponse:
    """Enter what a check found; a crew its daily checks, the office all."""
    found, person = find(request, item_id), person_of(request)
    rules = rules_of(found, found.care_rules.all())
    keys = [(r.key, _check_words(r)) for r in rules if person.runs_the_office or r.care in BY_THE_CREW]
    start = {"key": request.GET.get("key"), "done_on": selectors.company_today(clock.now())}
    given = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    form = ResultForm(*given, keys=keys, short=not person.runs_the_office, initial=start)

    def write(data: dict[str, Any]) -> str:
        lab = Laboratory(**{name: data[name] for name in LAB if data.get(name)})
        wanted = {name: data[name] for name in ("key", "done_on", "passed", "known_value", "readings", "note")}
        made = services.record_result_with_paper(
            item=found,
            certificate=data["file"].read() if data.get("file") else None,
            **wanted,
            laboratory=lab,
            actor=person,
            now=clock.now(),
        )
        if made.result.passed:
            return f"{made.result.title}: passed."
        doubted = len(made.in_doubt)
        return f"{made.result.title}: failed. {found.name} is out of service; {doubted} locates are in doubt."

    return _page(request, found, form, write, "crews/equipment/result.html", {"rules": rules})


def _check_words(rule: Any) -> str:
    return f"{rule.title} (with readings)" if rule.tolerance else rule.title


@require_http_methods(["GET", "POST"])
@for_roles(*OFFICE)
def step(request: HttpRequest, item_id: int) -> HttpResponse:
    """Issued, returned, moved, sent away, lost, found, retired."""
    return _plain_page(request, item_id, StepForm, _move, "crews/equipment/step.html")


def _move(item: Equipment, data: dict[str, Any], actor: Person, now: datetime) -> str:
    services.move_item(item=item, **data, actor=actor, now=now)
    moved = Equipment.objects.select_related("crew", "person").get(pk=item.pk)
    return f"{moved.name}: {moved.place_words}."


@require_http_methods(["GET", "POST"])
@for_roles(Role.OWNER)
def rule(request: HttpRequest, item_id: int) -> HttpResponse:
    """Another interval for this item."""
    return _plain_page(request, item_id, RuleForm, _set_rule, "crews/equipment/rule.html")


def _set_rule(item: Equipment, data: dict[str, Any], actor: Person, now: datetime) -> str:
    made = services.set_item_rule(item=item, given=services.RuleGiven(**data), actor=actor, now=now)
    return f"{made.title}: the item's own rule is set."


@require_http_methods(["GET", "POST"])
@for_roles(Role.OWNER)
def override(request: HttpRequest, item_id: int) -> HttpResponse:
    """The owner lets an item that is due go out."""
    return _plain_page(request, item_id, OverrideForm, _allow, "crews/equipment/override.html")


def _allow(item: Equipment, data: dict[str, Any], actor: Person, now: datetime) -> str:
    services.allow_despite_due(item=item, **data, actor=actor, now=now)
    return f"{item.name} may go out on your word."


@require_POST
@for_roles(Role.OWNER)
def end_override(request: HttpRequest, override_id: int) -> HttpResponse:
    """Take the word back."""
    found = get_object_or_404(Override, pk=override_id)
    try:
        services.end_override(override=found, actor=person_of(request), now=clock.now())
    except FirstspadeError as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, "The word is taken back.")
    return redirect("equipment-item", found.item_id)


@require_http_methods(["GET", "POST"])
def locate(request: HttpRequest, item_id: int) -> HttpResponse:
    """Write down that a private locate was made with the item."""
    found, person = find(request, item_id), person_of(request)
    form = LocateForm(request.POST or None, locates=locates_to_name(found, person))

    def write(data: dict[str, Any]) -> str:
        made = data["locate"]
        doubted = services.add_instrument(locate=made, item=found, actor=person, now=clock.now())
        said = f"The locate of job {made.job.number} was made with {found.name}."
        return f"{said} It is in doubt: the item was not to be trusted that day." if doubted else said

    return _page(request, found, form, write, "crews/equipment/locate.html")


@require_http_methods(["GET", "POST"])
def paper_new(request: HttpRequest, item_id: int) -> HttpResponse:
    """Add a photograph or document."""
    found = find(request, item_id)
    form = PaperForm(request.POST, request.FILES) if request.method == "POST" else PaperForm()

    def write(data: dict[str, Any]) -> str:
        content = data.pop("file").read()
        made = services.add_paper(item=found, content=content, **data, actor=person_of(request), now=clock.now())
        return f"{made.title} is kept."

    return _page(request, found, form, write, "crews/equipment/paper.html")


@require_GET
def paper(request: HttpRequest, paper_id: int) -> FileResponse:
    """The file itself, to whoever may see its item; never run by the browser as anything else."""
    mine = selectors.equipment_visible_to(person_of(request))
    found = get_object_or_404(Paper.objects.filter(item__in=mine.values("pk")), pk=paper_id)
    answer = FileResponse(found.file.open("rb"), content_type=found.media_type, filename=f"{found.title}")
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Security-Policy"] = "default-src 'none'; img-src 'self'; sandbox"
    answer["Cache-Control"] = "private, no-store"
    return answer


def find(request: HttpRequest, item_id: int) -> Equipment:
    """The item, if the person may see it."""
    mine = selectors.equipment_visible_to(person_of(request)).select_related("crew", "person", "own_kind", "kit")
    return get_object_or_404(mine, pk=item_id)


def _plain_page(
    request: HttpRequest,
    item_id: int,
    form_class: type[forms.Form],
    write: Callable[[Equipment, dict[str, Any], Person, datetime], str],
    template: str,
) -> HttpResponse:
    """As `_page`, for a form that asks nothing of the item or the person before it is shown."""
    item = find(request, item_id)
    form = form_class(request.POST or None)
    return _page(request, item, form, lambda data: write(item, data, person_of(request), clock.now()), template)


def _page(
    request: HttpRequest,
    item: Equipment,
    form: forms.Form,
    write: Callable[[dict[str, Any]], str],
    template: str,
    more: dict[str, Any] | None = None,
) -> HttpResponse:
    """A form of its own page: shown, or checked and written, then back to the item."""
    status = 200
    if request.method == "POST":
        status = 400
        if form.is_valid():
            try:
                said = write(form.cleaned_data)
            except FirstspadeError as refused:
                status = tell(form, refused)
            else:
                messages.success(request, said)
                return redirect("equipment-item", item.pk)
    return render(request, template, {"item": item, "form": form, **(more or {})}, status=status)
