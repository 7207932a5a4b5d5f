"""What the phone page may be asked and told."""

from __future__ import annotations

from typing import Any

from django import forms

from tickets.models import Job, TicketOperator
from tickets.states import SightingKind, choices


class AskedDayForm(forms.Form):
    """Which crew's day; both may be left out."""

    crew = forms.IntegerField(required=False, min_value=1)
    date = forms.DateField(required=False, error_messages={"invalid": "Give the day as 2026-09-17."})


class SightingForm(forms.Form):
    """What the crew saw of the marks: of one operator, or of the whole site when none is named."""

    kind = forms.ChoiceField(
        choices=choices(SightingKind), error_messages={"invalid_choice": "Choose one of the four buttons."}
    )
    operator = forms.ModelChoiceField(
        queryset=TicketOperator.objects.none(),
        required=False,
        error_messages={"invalid_choice": "Choose an operator named on a ticket of this job."},
    )
    note = forms.CharField(required=False, max_length=1000)

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        named = TicketOperator.objects.filter(ticket__job=job, ticket__cancelled_at=None)
        operator = self.fields["operator"]
        assert isinstance(operator, forms.ModelChoiceField)
        operator.queryset = named


def first_error(form: forms.Form) -> str:
    """The first thing that is wrong, in words."""
    return next((str(error) for errors in form.errors.values() for error in errors), "")
