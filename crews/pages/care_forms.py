"""Forms of custody, care, papers and imports."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from crews.equipment.care import CARE_WORDS
from crews.equipment.custody import STEP_WORDS, Step
from crews.models import Crew, PaperSort, Person
from crews.pages.equipment_forms import DayInput

PASSED = (("", "Computed from the readings"), ("yes", "Passed"), ("no", "Failed"))


class StepForm(forms.Form):
    """One step of custody; the holder only for an issue."""

    step = forms.ChoiceField(
        label="What happened", choices=[(s, w) for s, w in STEP_WORDS.items() if s is not Step.ENTERED]
    )
    crew: Any = forms.ModelChoiceField(queryset=None, required=False, label="To the crew", empty_label="No crew")
    person: Any = forms.ModelChoiceField(
        queryset=None, required=False, label="Or to the person", empty_label="No person"
    )
    spot = forms.CharField(
        required=False, max_length=80, label="Where", help_text="A shelf of the yard, the name of the workshop."
    )
    note = forms.CharField(required=False, max_length=200)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, rows in (
            ("crew", Crew.objects.filter(active=True)),
            ("person", Person.objects.filter(is_active=True)),
        ):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = rows


class ResultForm(forms.Form):
    """What a check found."""

    key = forms.ChoiceField(label="What was done")
    done_on = forms.DateField(widget=DayInput(), label="Done on")
    passed = forms.ChoiceField(choices=PASSED, required=False, label="Outcome")
    known_value = forms.FloatField(
        required=False, label="Known value", help_text="What the target measures, in the unit named with the check."
    )
    readings = forms.CharField(
        required=False, max_length=400, help_text="What the item read, with spaces between: 1.02 0.98 1.00"
    )
    laboratory = forms.CharField(required=False, max_length=120)
    certificate_number = forms.CharField(required=False, max_length=60)
    as_found = forms.CharField(required=False, max_length=200, label="As found")
    as_left = forms.CharField(required=False, max_length=200, label="As left")
    uncertainty = forms.CharField(required=False, max_length=80)
    stated_due_on = forms.DateField(
        required=False,
        widget=DayInput(),
        label="Next due, as the certificate says",
        help_text="It may shorten the interval, never lengthen it.",
    )
    cost = forms.DecimalField(required=False, min_value=0, max_digits=10, decimal_places=2, label="Cost in dollars")
    file = forms.FileField(
        required=False, label="Certificate", help_text="PDF, or a photograph (JPEG, PNG), to 10 MB."
    )
    note = forms.CharField(required=False, max_length=400)

    def __init__(self, *args: Any, keys: list[tuple[str, str]], short: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["key"]
        assert isinstance(choice, forms.ChoiceField)
        choice.choices = keys
        if short:  # a crew's daily check needs no laboratory
            for name in (
                "laboratory",
                "certificate_number",
                "as_found",
                "as_left",
                "uncertainty",
                "stated_due_on",
                "cost",
            ):
                del self.fields[name]

    def clean_readings(self) -> list[float]:
        text = self.cleaned_data["readings"].replace(",", " ").replace(";", " ")
        try:
            return [float(part) for part in text.split()]
        except ValueError as wrong:
            raise ValidationError(f"{text!r} holds something that is no number; write 1.02 0.98 1.00.") from wrong

    def clean_passed(self) -> bool | None:
        return {"yes": True, "no": False}.get(self.cleaned_data["passed"])


class RuleForm(forms.Form):
    """The owner's own rule for an item."""

    key = forms.SlugField(
        max_length=40, label="Short name", help_text="An existing one is replaced: calibration, bump."
    )
    care = forms.ChoiceField(choices=list(CARE_WORDS.items()), label="Sort of care")
    title = forms.CharField(max_length=80)
    every_months = forms.IntegerField(required=False, label="Every so many months")
    every_days = forms.IntegerField(required=False, label="Every so many days")
    every_uses = forms.IntegerField(required=False, label="Every so many days of use")
    each_day_of_use = forms.BooleanField(required=False, label="Before each day's use")
    not_needed = forms.BooleanField(required=False, label="Not needed for this item")
    source = forms.CharField(max_length=200, help_text="The standard or regulation, or common practice, or why.")


class OverrideForm(forms.Form):
    """The owner's word."""

    from_on = forms.DateField(widget=DayInput(), label="From")
    to_on = forms.DateField(widget=DayInput(), label="Through")
    reason = forms.CharField(max_length=300, help_text="It stands beside your name wherever the item goes.")


class PaperForm(forms.Form):
    """A photograph or document."""

    sort = forms.ChoiceField(choices=PaperSort.choices, label="Sort")
    title = forms.CharField(required=False, max_length=120)
    file = forms.FileField(help_text="PDF, JPEG or PNG, to 10 MB.")


class SheetForm(forms.Form):
    """A file to read into the register."""

    file = forms.FileField(label="CSV or XLSX", help_text="The first row holds the columns.")


class KitForm(forms.Form):
    """A new kit."""

    name = forms.CharField(max_length=80)
    note = forms.CharField(required=False, max_length=200)


class OwnKindForm(forms.Form):
    """A new kind of the company's own."""

    name = forms.CharField(max_length=40, label="Name of the kind")
