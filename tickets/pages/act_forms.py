"""The small forms of a job's page, one an act."""

from __future__ import annotations

from typing import Any

from django import forms

from tickets.pages.fields import LocalInstantField, PageForm
from tickets.states import Outcome, SightingKind, Utility, choices

NOW_WHEN_EMPTY = "Site's clock. Empty: now."


def _words(label: str, rows: int = 2, required: bool = True, help_text: str = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        required=required,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": rows}),
        help_text=help_text,
    )


class ActForm(PageForm):
    """Reads its instants on the site's clock."""

    instants: tuple[str, ...] = ()

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        for name in self.instants:
            self.instant(name)
        return given


class AnswerForm(ActForm):
    """What an operator answered. Until when is asked for where the answer holds for a time."""

    instants = ("answered_at", "holds_until")
    operator = forms.IntegerField(widget=forms.HiddenInput)
    outcome = forms.ChoiceField(label="Answer", choices=choices(Outcome))
    holds_until = LocalInstantField(
        label="Until when", required=False, help_text="Where they asked for more time or agreed a schedule."
    )
    until_unknown = forms.BooleanField(required=False, widget=forms.HiddenInput)
    answered_at = LocalInstantField(label="When they answered", required=False, help_text=NOW_WHEN_EMPTY)
    note = _words("Note", required=False)


class SightingForm(ActForm):
    instants = ("seen_at",)
    kind = forms.ChoiceField(label="What was seen", choices=choices(SightingKind))
    operator = forms.TypedChoiceField(label="Whose marks", required=False, coerce=int, empty_value=None)
    seen_at = LocalInstantField(label="When", required=False, help_text=NOW_WHEN_EMPTY)
    note = _words("Note", required=False)

    def __init__(self, *args: Any, operators: list[tuple[int, str]] | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        whose = self.fields["operator"]
        assert isinstance(whose, forms.ChoiceField)
        whose.choices = [("", "The whole site's"), *((str(pk), name) for pk, name in operators or [])]


class LocatedForm(ActForm):
    instants = ("made_at",)
    result_words = _words(
        "What was found",
        help_text="A row for each buried line: where it runs and how deep; or: swept, nothing found.",
    )
    made_at = LocalInstantField(label="When", required=False, help_text=NOW_WHEN_EMPTY)


class WaivedForm(ActForm):
    reason = _words("Why none is needed, and who says so")


class WorkForm(ActForm):
    instants = ("at",)
    at = LocalInstantField(label="When work went on", required=False, help_text=NOW_WHEN_EMPTY)


class RuleConfirmedForm(ActForm):
    rule = forms.IntegerField(widget=forms.HiddenInput)
    note = forms.CharField(label="How you know", required=False, max_length=400, help_text="As: permit 41-B in hand.")


class OperatorForm(ActForm):
    """An operator the centre named later."""

    ticket = forms.IntegerField(widget=forms.HiddenInput)
    name = forms.CharField(label="Operator", max_length=120)
    utility = forms.ChoiceField(label="Utility", choices=choices(Utility), initial=Utility.UNKNOWN)


class CancelForm(ActForm):
    instants = ("cancelled_at",)
    ticket = forms.IntegerField(widget=forms.HiddenInput)
    reason = _words("Why it is cancelled")
    cancelled_at = LocalInstantField(label="When", required=False, help_text=NOW_WHEN_EMPTY)


class RemoveAreaForm(ActForm):
    area = forms.IntegerField(widget=forms.HiddenInput)
    reason = _words("Why this ground is no longer part of the job")


class ReopenForm(ActForm):
    reason = _words("Why the job is opened again")


class NothingForm(ActForm):
    """An act that needs no more than its button."""


class EmergencyForm(ActForm):
    instants = ("declared_at",)
    reason = _words(
        "What is in danger, and why it cannot wait", rows=3, help_text="Life, health or property; in your own words."
    )
    declared_at = LocalInstantField(label="Since when", required=False, help_text=NOW_WHEN_EMPTY)


class ToldForm(ActForm):
    instants = ("centre_told_at", "operators_told_at")
    centre_told_at = LocalInstantField(label="Notification centre told", required=False, help_text="Site's clock.")
    operators_told_at = LocalInstantField(label="Operators told", required=False, help_text="Site's clock.")
