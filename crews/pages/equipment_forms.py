"""Forms of the equipment register."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q

from crews.equipment.fit import MOST_VOLTS
from crews.equipment.money import METHOD_WORDS, Method
from crews.models import Crew, EquipmentKind, Kit, OwnKind
from crews.pages.register import AT_THE_YARD, STANDINGS

KG_PER_LB = 0.45359237  # exact: international yard and pound agreement, 1959


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


class FrequenciesField(forms.CharField):
    """Whole hertz with commas or semicolons between."""

    def prepare_value(self, value: Any) -> Any:
        return "; ".join(str(hz) for hz in value) if isinstance(value, list) else value

    def clean(self, value: Any) -> list[int]:
        text = super().clean(value)
        parts = [part.strip() for part in text.replace(",", ";").split(";") if part.strip()]
        if not all(part.isdigit() for part in parts):
            raise ValidationError(f"{text!r} holds something that is no frequency; write 512; 8192; 33000.")
        return [int(part) for part in parts]


class PoundsField(forms.FloatField):
    """A load kept in kilograms and told in pounds."""

    def prepare_value(self, value: Any) -> Any:
        return round(value / KG_PER_LB) if isinstance(value, float) else value

    def clean(self, value: Any) -> float | None:
        pounds = super().clean(value)
        return None if pounds is None else pounds * KG_PER_LB


class FactsForm(EntryForm):
    """Everything that is known of an item."""

    own_kind: Any = forms.ModelChoiceField(
        queryset=None, required=False, label="Your own kind", empty_label="None", help_text="With the kind Other."
    )
    kit: Any = forms.ModelChoiceField(queryset=None, required=False, empty_label="None")
    frequencies_hz = FrequenciesField(required=False, max_length=200, label="Frequencies in hertz")
    modes = forms.CharField(required=False, max_length=120, help_text="Peak, null, passive power and the like.")
    working_load_kg = PoundsField(required=False, label="Working load in pounds")
    voltage_class = forms.ChoiceField(
        required=False, choices=[("", "None"), *((name, f"Class {name}") for name in MOST_VOLTS)]
    )
    firmware = forms.CharField(required=False, max_length=60)
    put_in_service_on = forms.DateField(required=False, widget=DayInput(), label="Put in service on")
    bought_on = forms.DateField(required=False, widget=DayInput(), label="Bought on")
    price = forms.DecimalField(required=False, max_digits=12, decimal_places=2, label="Price in dollars")
    tax = forms.DecimalField(required=False, max_digits=12, decimal_places=2, label="Tax in dollars")
    life_years = forms.IntegerField(required=False, label="Life in years")
    salvage = forms.DecimalField(
        required=False, max_digits=12, decimal_places=2, label="Worth at the end of its life"
    )
    method = forms.ChoiceField(choices=list(METHOD_WORDS.items()), label="Depreciation", required=False)
    warranty_until = forms.DateField(required=False, widget=DayInput(), label="Warranty to")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, rows in (("own_kind", OwnKind.objects.all()), ("kit", Kit.objects.all())):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = rows

    # What most items need stands first; the rest opens below.
    FIRST = ("kind", "name", "serial", "maker_words", "calibration_due_on", "put_in_service_on", "crew", "note")

    def first(self) -> list[forms.BoundField]:
        return [self[name] for name in self.FIRST if name in self.fields]

    def more(self) -> list[forms.BoundField]:
        return [field for field in self if field.name not in self.FIRST]

    def clean_method(self) -> str:
        return self.cleaned_data["method"] or Method.STRAIGHT_LINE


class NewEntryForm(FactsForm):
    """A new item, with its holder and certificate."""

    calibration_due_on = forms.DateField(
        required=False,
        widget=DayInput(),
        label="Calibration good through",
        help_text="The last day of the present certificate. Leave empty when none is needed or known.",
    )
    crew: Any = forms.ModelChoiceField(queryset=None, required=False, label="Held by", empty_label="At the yard")

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
