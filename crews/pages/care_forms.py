"""Forms of custody, care, papers and imports."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from crews.equipment.care import CARE_WORDS
from crews.equipment.custody import STEP_WORDS, Step
from crews.models import Crew, PaperSort, Person
from crews.pages.equipment_forms import DayInput
from crews.register.away import AWAY_DAYS, LONGEST_AWAY_DAYS
from locates.lengths import BadLength, read_length_m
from tickets.verdict.words import instant_words

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


def _measure(text: str) -> float:
    """A length in metres; every tolerance on file is one of length."""
    try:
        return read_length_m(text.strip())
    except BadLength as wrong:
        raise ValidationError(wrong.message) from wrong


class ResultForm(forms.Form):
    """What a check found."""

    key = forms.ChoiceField(label="What was done")
    done_on = forms.DateField(widget=DayInput(), label="Done on")
    passed = forms.ChoiceField(choices=PASSED, required=False, label="Outcome")
    known_value = forms.CharField(
        required=False,
        max_length=40,
        label="Known value",
        help_text="A length with its unit: 3 ft 6 in, 42 in or 1.2 m.",
    )
    readings = forms.CharField(
        required=False, max_length=400, help_text="What the item read, with commas between: 3 ft 5 in, 3 ft 6 in"
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

    FIRST = ("key", "done_on", "passed", "known_value", "readings", "note")

    def first(self) -> list[forms.BoundField]:
        return [self[name] for name in self.FIRST]

    def more(self) -> list[forms.BoundField]:
        return [field for field in self if field.name not in self.FIRST]

    def clean_known_value(self) -> float | None:
        text = self.cleaned_data["known_value"].strip()
        return _measure(text) if text else None

    def clean_readings(self) -> list[float]:
        parts = self.cleaned_data["readings"].replace(";", ",").split(",")
        return [_measure(part) for part in parts if part.strip()]

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
    not_needed = forms.BooleanField(required=False, label="Not needed at all")
    source = forms.CharField(max_length=200, help_text="The standard or regulation, or common practice, or why.")


class OverrideForm(forms.Form):
    """The owner's word."""

    from_on = forms.DateField(widget=DayInput(), label="From")
    to_on = forms.DateField(widget=DayInput(), label="Through")
    reason = forms.CharField(max_length=300, help_text="It stands beside your name wherever the item goes.")


class LocateForm(forms.Form):
    """Which private locate the item was used for."""

    locate: Any = forms.ModelChoiceField(
        queryset=None, label="Locate", empty_label="Choose a locate", error_messages={"required": "Choose a locate."}
    )

    def __init__(self, *args: Any, locates: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["locate"]
        assert isinstance(choice, forms.ModelChoiceField)
        choice.queryset = locates
        choice.label_from_instance = locate_words  # type: ignore[assignment]


def locate_words(locate: Any) -> str:
    """'Job J-12, Thu 17 Sep, 7:00 AM EDT: cable to the shed'."""
    when = instant_words(locate.made_at, locate.job.site.time_zone)
    found = " ".join(locate.result_words.split())
    return f"Job {locate.job.number}, {when}: {found}"[:120]


class PaperForm(forms.Form):
    """A photograph or document."""

    sort = forms.ChoiceField(choices=PaperSort.choices, label="Sort")
    title = forms.CharField(required=False, max_length=120)
    file = forms.FileField(help_text="PDF, JPEG or PNG, to 10 MB.")


class SheetForm(forms.Form):
    """A file to read into the register."""

    file = forms.FileField(label="CSV or XLSX", help_text="The first row holds the columns.")


class AwayForm(forms.Form):
    """How long an item stays at the laboratory, the way there and back included."""

    away_days = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=LONGEST_AWAY_DAYS,
        label="Days away",
        widget=forms.NumberInput(attrs={"placeholder": AWAY_DAYS}),
        help_text="Counted in days of the calendar, the way there and back included.",
    )


class KitForm(forms.Form):
    """A new kit."""

    name = forms.CharField(max_length=80)
    note = forms.CharField(required=False, max_length=200)


class OwnKindForm(forms.Form):
    """A new kind of the company's own."""

    name = forms.CharField(max_length=40, label="Name of the kind")
