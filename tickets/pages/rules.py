"""The company's stricter local rules: the office reads them, the owner adds and retires them."""

from __future__ import annotations

from collections import Counter
from difflib import get_close_matches
from functools import lru_cache
from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from locates import clock
from locates.errors import FirstspadeError
from locates.law.load import jurisdiction
from locates.law.rule import Begins, Ends, Unit
from locates.place.counties import shapes
from tickets import services
from tickets.models import LocalRule
from tickets.pages.access import office_only, owner_only, person_of
from tickets.pages.act_forms import ActForm
from tickets.pages.job_form import state_choices
from tickets.pages.reading import local_rules

A_PAGE = 50
UNITS = ((Unit.HOURS, "hours"), (Unit.WORKING_DAYS, "working days"), (Unit.CALENDAR_DAYS, "calendar days"))
BEGINS = (
    (Begins.NOTICE_INSTANT, "from the notice"),
    (Begins.NEXT_DAY, "from the next day"),
    (Begins.NEXT_WORKING_DAY, "from the next working day"),
)
ENDS = (
    (Ends.SAME_CLOCK, "dig once they have run out"),
    (Ends.LAST_DAY, "dig on the last of them"),
    (Ends.DAY_AFTER, "dig from the day after the last"),
    (Ends.NEXT_WORKING_DAY, "dig from the working day after the last"),
)


class RuleForm(ActForm):
    """A requirement, a longer wait, or both."""

    name = forms.CharField(label="Name", max_length=120, help_text="As: street opening permit.")
    state = forms.ChoiceField(label="State")
    county = forms.CharField(
        label="County",
        required=False,
        max_length=80,
        help_text="With its kind, as Washington County. Empty: the whole state.",
    )
    town = forms.CharField(label="Town", required=False, max_length=80, help_text="Empty: the whole county.")
    requirement = forms.CharField(
        label="What must be confirmed",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Until someone confirms it for a job, nobody may dig there.",
    )
    wait_amount = forms.IntegerField(
        label="Longer wait",
        required=False,
        min_value=1,
        max_value=400,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        help_text="A number. It can only make the state's wait longer, never shorter.",
    )
    wait_unit = forms.ChoiceField(label="Counted in", choices=UNITS, initial=Unit.WORKING_DAYS)
    wait_begins = forms.ChoiceField(label="Counted from", choices=BEGINS, initial=Begins.NEXT_DAY)
    wait_ends = forms.ChoiceField(label="And then", choices=ENDS, initial=Ends.DAY_AFTER)
    source = forms.CharField(
        label="Where it is written",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="The ordinance, the permit's conditions, or who said so and when.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        state = self.fields["state"]
        assert isinstance(state, forms.ChoiceField)
        state.choices = [("", "Choose"), *state_choices()]

    def clean_county(self) -> str:
        """A county that the shapes know, in their spelling: a rule for one that is not there never holds."""
        given, state = " ".join(self.cleaned_data["county"].split()), self.data.get("state", "")
        if not given or state not in dict(state_choices()):
            return given
        names = {name.casefold(): legal for name, legal in county_names(state)}
        found = names.get(given.casefold())
        if found is None:
            near = get_close_matches(given.casefold(), names, n=3, cutoff=0.5)
            meant = f" Did you mean {' or '.join(dict.fromkeys(names[n] for n in near))}?" if near else ""
            raise forms.ValidationError(f"There is no county '{given}' in {jurisdiction(state).name}.{meant}")
        return found


@lru_cache(maxsize=64)
def county_names(state: str) -> tuple[tuple[str, str], ...]:
    """(name as typed with or without its kind, name with its kind) of a state's counties. A bare name that
    two share, as a city and the county around it, is left out."""
    found = [county for county in shapes()[1] if county.state_code == state]
    bare = Counter(county.name.casefold() for county in found)
    both = [(county.legal_name, county.legal_name) for county in found]
    return (*both, *((c.name, c.legal_name) for c in found if bare[c.name.casefold()] == 1))


class RetireForm(ActForm):
    reason = forms.CharField(label="Why it no longer holds", max_length=2000)


@office_only
def rules(request: HttpRequest) -> HttpResponse:
    """The list; a post adds a rule."""
    if request.method == "POST":
        return _add(request)
    return _page(request, RuleForm())


@owner_only
def _add(request: HttpRequest) -> HttpResponse:
    form = RuleForm(request.POST)
    if form.is_valid():
        try:
            made = services.create_local_rule(actor=person_of(request), now=clock.now(), **form.cleaned_data)
        except FirstspadeError as refused:
            form.take(refused)
        else:
            messages.success(request, f"Added: {made.name}. Open jobs there are judged by it from now on.")
            return redirect("rules")
    return _page(request, form, status=422)


@require_POST
@owner_only
def rule_retire(request: HttpRequest, pk: int) -> HttpResponse:
    """The rule no longer holds; it stays on file."""
    rule = local_rules().filter(pk=pk).first()
    if rule is None:
        raise Http404
    form = RetireForm(request.POST, auto_id=f"retire_{pk}_%s")
    status = 422
    if form.is_valid():
        try:
            services.end_local_rule(
                rule=rule, actor=person_of(request), now=clock.now(), reason=form.cleaned_data["reason"]
            )
        except FirstspadeError as refused:
            form.take(refused)
            status = 409 if getattr(refused, "conflict", False) else 422
        else:
            messages.success(request, f"Retired: {rule.name}.")
            return redirect("rules")
    return _page(request, RuleForm(), {pk: form}, status)


def _page(
    request: HttpRequest, form: RuleForm, retiring: dict[int, RetireForm] | None = None, status: int = 200
) -> HttpResponse:
    page = Paginator(local_rules(), A_PAGE).get_page(request.GET.get("page"))
    asked = retiring or {}
    rows: list[tuple[LocalRule, RetireForm, bool]] = [
        (rule, asked.get(rule.pk) or RetireForm(auto_id=f"retire_{rule.pk}_%s"), rule.pk in asked)
        for rule in page.object_list
    ]
    context = {"page": page, "rows": rows, "form": form, "owner": person_of(request).is_owner, "query": ""}
    return render(request, "tickets/rules.html", context, status=status)
