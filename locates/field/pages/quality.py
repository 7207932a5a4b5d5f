"""The quality level of a run by stretches, and what it rests on."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from locates import clock
from locates.errors import FirstspadeError
from locates.field import services
from locates.field.models import Backing, Run
from locates.field.pages.access import run_or_404
from locates.field.pages.levels import LEVELS
from locates.field.selectors import other_runs
from locates.field.words import BACKING_WORDS, BackingKind, pairs
from locates.ground.lengths import feet_inches
from locates.ground.quality import QualityLevel
from tickets.pages.access import person_of
from tickets.pages.fields import PageForm, depends


@dataclass(frozen=True)
class StretchView:
    """One stretch of one quality, in words."""

    from_to: str
    supports: str
    claim: str
    pas: str
    reasons: tuple[str, ...]
    missing: tuple[str, ...]
    must_say: tuple[str, ...]


class BackingForm(PageForm):
    """What was done. That two methods agree is not asked but compared."""

    client_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)
    kind = forms.ChoiceField(label="What was done", choices=[("", "Choose"), *pairs(BACKING_WORDS)])
    other_run = depends(
        forms.TypedChoiceField(
            label="The run by another method",
            required=False,
            coerce=int,
            empty_value=None,
            help_text="Only where another method found the same line: the two lines are compared.",
        )
    )
    words = forms.CharField(
        label="By whom, when, from which papers",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="A seal: the professional's name, licence number and state.",
    )

    def __init__(self, *args: Any, run: Run, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = [(r.pk, f"{r.label}, {r.get_method_display().lower()}") for r in other_runs(run)]
        self.fields["other_run"].choices = [("", "None"), *rows]  # type: ignore[attr-defined]


def stretch_views(run: Run) -> list[StretchView]:
    """The stretches of a run in order, each with what it rests on and what would better it."""
    return [
        StretchView(
            from_to=f"{feet_inches(one['from_m'])} to {feet_inches(one['to_m'])}",
            supports=one["supports"],
            claim=one["claim"],
            pas=one.get("pas", ""),
            reasons=tuple(one["reasons"]),
            missing=tuple(one["missing"]),
            must_say=tuple(one["must_say"]),
        )
        for one in (run.result or {}).get("quality", [])
    ]


def level_words(run: Run) -> str:
    """'D', or 'A to D' where stretches differ; empty before there is a line. By evidence, before any seal."""
    order = [str(level) for level in QualityLevel]
    found = sorted({one["supports"] for one in (run.result or {}).get("quality", [])}, key=order.index)
    return " to ".join(dict.fromkeys((found[0], found[-1]))) if found else ""


@require_http_methods(["GET", "POST"])
def quality(request: HttpRequest, pk: int) -> HttpResponse:
    """The stretches with their level; a post records what a level rests on."""
    run = run_or_404(request, pk)
    if request.method == "GET":
        return _show(request, run, BackingForm(run=run))
    form = BackingForm(request.POST, run=run)
    if form.is_valid():
        given = form.cleaned_data
        if given["kind"] != BackingKind.AGREE:
            given["other_run"] = None
        try:
            services.add_backing(run=run, actor=person_of(request), now=clock.now(), **given)
        except FirstspadeError as refused:
            form.take(refused)
        else:
            messages.success(request, "It is recorded, and the levels are decided anew.")
            return redirect("locate-quality", pk=pk)
    return _show(request, run, form, status=400)


@require_POST
def backing_out(request: HttpRequest, pk: int, backing_pk: int) -> HttpResponse:
    """Withdraw what does not hold."""
    run = run_or_404(request, pk)
    found = get_object_or_404(Backing.objects.select_related("run__job"), pk=backing_pk, run=run)
    words = request.POST.get("words", "")
    try:
        services.withdraw_backing(backing=found, words=words, actor=person_of(request), now=clock.now())
    except FirstspadeError as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, "It no longer counts. It stays on file.")
    return redirect("locate-quality", pk=pk)


def _show(request: HttpRequest, run: Run, form: BackingForm, status: int = 200) -> HttpResponse:
    exposed = [p for p in run.points.all() if p.measured_within_m is not None]
    context = {
        "run": run,
        "job": run.job,
        "zone": run.job.site.time_zone,
        "open_job": run.job.closed_at is None,
        "stretches": stretch_views(run),
        "backings": list(run.backings.all()),
        "exposed": exposed,
        "levels": LEVELS,
        "form": form,
    }
    return render(request, "field/quality.html", context, status=status)
