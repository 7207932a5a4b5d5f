"""The law on file: all jurisdictions in one table, one in plain words, and the window of a date."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, NamedTuple

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from locates import clock
from locates.errors import FirstspadeError
from locates.law.decision import Decision
from locates.law.explain import rule_lines, span_words, wait_words
from locates.law.load import codes, jurisdiction
from locates.law.rule import Jurisdiction
from locates.law.window import window_for, zone_for
from tickets.pages.act_forms import ActForm
from tickets.pages.fields import LocalInstantField
from tickets.pages.job_form import ZONES
from tickets.pages.words import local_words


class LawRow(NamedTuple):
    """One jurisdiction in the table."""

    law: Jurisdiction
    wait: str
    life: str
    zone_inches: int
    read_on: date


def law_table(request: HttpRequest) -> HttpResponse:
    """Every jurisdiction, how good its evidence is and when it was last read."""
    rows = sorted((_row(jurisdiction(code)) for code in codes()), key=lambda row: row.law.name)
    unverified = sum(not row.law.verified for row in rows)
    return render(request, "tickets/law.html", {"rows": rows, "unverified": unverified})


def _row(law: Jurisdiction) -> LawRow:
    version = law.versions[-1]
    if version.validity.span is not None:
        life = span_words(version.validity.span)
    elif version.begin_work is not None and version.begin_work.span is not None:
        life = f"{span_words(version.begin_work.span)} to begin work"
    else:
        life = "No fixed life"
    read_on = max(source.read_on for source in law.sources)
    return LawRow(law, wait_words(version.wait), life, version.zone.inches_each_side, read_on)


class WindowForm(ActForm):
    """A notice to be tried out; nothing of it is kept."""

    instants = ("received", "printed_start", "printed_expiry")
    received = LocalInstantField(label="Notice received", help_text="On the site's clock.")
    time_zone = forms.ChoiceField(label="Site's clock", required=False)
    printed_start = LocalInstantField(label="Start printed on the ticket", required=False)
    printed_expiry = LocalInstantField(label="Expiry printed on the ticket", required=False)

    def __init__(self, *args: Any, law: Jurisdiction, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zone = self.fields["time_zone"]
        assert isinstance(zone, forms.ChoiceField)
        names = dict(ZONES)
        zone.choices = [(z, f"{names[z]}: {z}" if z in names else z) for z in law.time_zones]
        zone.initial = law.time_zones[0]
        self.law = law

    def clean(self) -> dict[str, Any]:
        self.zone = zone_for(self.law, self.cleaned_data.get("time_zone") or self.law.time_zones[0])
        return super().clean()


def law_state(request: HttpRequest, code: str) -> HttpResponse:
    """One jurisdiction's rule in plain words, its sources, and the window of a date as the command gives it."""
    if code != code.upper():
        return redirect("law-state", code=code.upper())
    if code not in codes():
        raise Http404
    law = jurisdiction(code)
    asked = "received" in request.GET
    form = WindowForm(request.GET if asked else None, law=law)
    decision = _decide(form, code, clock.now()) if asked and form.is_valid() else None
    context = {
        "law": law,
        "form": form,
        "decision": decision,
        "zone": form.zone,
        "versions": [(version, rule_lines(version)) for version in reversed(law.versions)],
    }
    status = 422 if asked and form.errors else 200
    part = getattr(request, "htmx", False) and request.htmx.target == "reckon"  # type: ignore[attr-defined]
    return render(request, "tickets/parts/reckon.html" if part else "tickets/law_state.html", context, status=status)


def _decide(form: WindowForm, code: str, now: datetime) -> Decision | None:
    given = form.cleaned_data
    try:
        return window_for(
            code,
            given["received"],
            given.get("time_zone") or form.law.time_zones[0],
            now=now,
            printed_start=given.get("printed_start") or None,
            printed_expiry=given.get("printed_expiry") or None,
        )
    except FirstspadeError as refused:
        form.add_error("received", local_words(refused.message, form.zone))
        return None
