"""Forms of the equipment register."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Q

from crews.models import Crew, EquipmentKind
from crews.pages.register import AT_THE_YARD, STANDINGS


class DayInput(forms.DateInput):
    """The browser's own date field, which wants ISO 8601."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


class RegisterFilter(forms.Form):
    """What the register is narrowed to; nothing narrows nothing."""

    text = forms.CharField(required=False, max_length=80, label="Name, serial or maker")
    kind = forms.ChoiceField(required=False, choices=[("", "Every kind"), *EquipmentKind.choices])
    holder = forms.ChoiceField(required=False)
    standing = forms.ChoiceField(
        required=False, label="Calibration", choices=[("", "All"), *((word, words) for _, word, words in STANDINGS)]
    )

    def __init__(self, *args: Any, crews: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        holder = self.fields["holder"]
        assert isinstance(holder, forms.ChoiceField)
        named = [(str(crew.pk), crew.name) for crew in crews]
        holder.choices = [("", "Anybody"), (AT_THE_YARD, "At the yard"), *named]


class EntryForm(forms.Form):
    """What is written on the item and about it."""

    kind = forms.ChoiceField(choices=[("", "Choose"), *EquipmentKind.choices])
    name = forms.CharField(max_length=80, help_text="What your people call it.")
    serial = forms.CharField(max_length=60, label="Serial number", help_text="As on the plate.")
    maker_words = forms.CharField(required=False, max_length=120, label="Maker and model")
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 3}))


class NewEntryForm(EntryForm):
    """A new item, with its holder and certificate."""

    calibration_due_on = forms.DateField(
        required=False,
        widget=DayInput(),
        label="Calibration good through",
        help_text="The last day of the present certificate. Leave empty when none is needed or known.",
    )
    crew: Any = forms.ModelChoiceField(queryset=None, required=False, label="Held by", empty_label="At the yard")

    field_order = ["kind", "name", "serial", "maker_words", "calibration_due_on", "crew", "note"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _offer_crews(self)


class HolderForm(forms.Form):
    """Who holds the item from now on."""

    crew: Any = forms.ModelChoiceField(queryset=None, required=False, label="Hand to", empty_label="The yard")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _offer_crews(self)


class CertificateForm(forms.Form):
    """A new calibration certificate."""

    due_on = forms.DateField(
        required=False,
        widget=DayInput(),
        label="Calibration good through",
        help_text="The last day of the new certificate; empty when none is known.",
    )


class OutOfServiceForm(forms.Form):
    """Why the item must not go out."""

    out_of_service_reason = forms.CharField(
        max_length=200, label="Reason", help_text="The crew reads this on its day."
    )


def _offer_crews(form: forms.Form) -> None:
    crew = form.fields["crew"]
    assert isinstance(crew, forms.ModelChoiceField)
    crew.queryset = Crew.objects.filter(Q(active=True) | Q(pk=form.initial.get("crew")))
