"""The help page: given target, access and neighbours, what to try first and why."""

from __future__ import annotations

from dataclasses import dataclass

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from locates.errors import FirstspadeError
from locates.field.pages.fields import FrequenciesField, hertz_words
from locates.ground.doubt import DEFAULT_LIMITS
from locates.ground.lengths import feet_inches
from locates.ground.line import separation_for_error_m
from locates.ground.method import FCC, Access, Advice, Band, Target, advise
from locates.ground.reading import Receiver
from tickets.pages.fields import LengthField, PageForm


class MethodForm(PageForm):
    """What is looked for, what can be reached, what lies near by, what the crew can send."""

    required_words = "Say what can be reached; when nothing can, choose that."

    target = forms.ChoiceField(label="What is looked for", choices=[(t.name, t.value.capitalize()) for t in Target])
    access = forms.MultipleChoiceField(
        label="What can be reached",
        choices=[(a.name, a.value.capitalize()) for a in Access],
        widget=forms.CheckboxSelectMultiple,
    )
    crowded = forms.BooleanField(label="Other lines lie near by", required=False)
    own = FrequenciesField(
        label="What your transmitter and sondes send",
        required=False,
        max_length=200,
        help_text="As 512 Hz, 8 kHz, 33 kHz. Empty: every usual band is shown.",
    )


class SeparationForm(PageForm):
    """What the distance from an induction transmitter hangs on, for a wanted depth."""

    depth = LengthField(label="Depth expected", help_text="As 3 ft.")
    error = LengthField(label="Depth error you can bear", help_text="As 3 in.")
    moment = forms.FloatField(
        label="Transmitter's magnetic moment, in A m²", min_value=1e-6, max_value=1000.0, help_text="By its maker."
    )
    current_ma = forms.FloatField(
        label="Current in the line, in mA", min_value=0.001, max_value=10_000.0, help_text="As the receiver reads it."
    )


@dataclass(frozen=True)
class AdviceView:
    """One thing to try, in words."""

    advice: Advice
    bands: tuple[str, ...]
    allowed: str


@require_GET
def method(request: HttpRequest) -> HttpResponse:
    """The page, with advice once target and access are given."""
    asked = "target" in request.GET
    form = MethodForm(request.GET) if asked else MethodForm()
    views: list[AdviceView] = []
    if asked and form.is_valid():
        data = form.cleaned_data
        try:
            found = advise(Target[data["target"]], [Access[a] for a in data["access"]], data["crowded"], data["own"])
        except FirstspadeError as refused:
            form.take(refused)
        else:
            views = [_view(one) for one in found]
    apart_form, apart = _apart(request)
    wrong = (asked and form.errors) or (apart_form.is_bound and apart_form.errors)
    context = {
        "form": form,
        "views": views,
        "apart_form": apart_form,
        "apart_words": apart,
        "custom_words": feet_inches(DEFAULT_LIMITS.custom_separation_m),
    }
    return render(request, "field/method.html", context, status=400 if wrong else 200)


def _apart(request: HttpRequest) -> tuple[SeparationForm, str]:
    """The separation form and its answer, empty until asked."""
    if "moment" not in request.GET:
        return SeparationForm(), ""
    form = SeparationForm(request.GET)
    if not form.is_valid():
        return form, ""
    data = form.cleaned_data
    spacing = Receiver().spacing_m
    try:
        found = separation_for_error_m(
            data["moment"], data["current_ma"] / 1000.0, data["depth"], spacing, data["error"]
        )
    except FirstspadeError as refused:
        form.take(refused, {"depth_m": "depth", "depth_error_m": "error"})
        return form, ""
    return form, feet_inches(max(found, DEFAULT_LIMITS.custom_separation_m))


def _view(advice: Advice) -> AdviceView:
    allowed = "" if advice.allowed_w is None else f"{FCC}: {advice.allowed_w:g} W at the peak at most"
    return AdviceView(advice, tuple(_band(band) for band in advice.bands), allowed)


def _band(band: Band) -> str:
    low, high = hertz_words(band.low_hz), hertz_words(band.high_hz)
    return f"{low if low == high else f'{low} to {high}'}: {band.use}"
