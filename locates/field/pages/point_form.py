"""The form of the next point, and the one that finishes a run."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms

from locates.field.services import PointGiven
from locates.field.words import PLACED_WORDS, UNIT_WORDS, pairs
from locates.ground.lengths import LengthUnit
from tickets.pages.fields import PageForm, depends

TEXTS = (
    *("accuracy", "along", "left", "right", "depth", "null_off", "left_45", "right_45"),
    *("null_behind", "null_ahead", "counter", "ground_level"),
)
FIGURES = ("latitude", "longitude", "current_ma", "signal", "gain_db")


class Figure(forms.FloatField):
    """A plain number, typed on a number pad."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})


class Typed(forms.CharField):
    """A length as typed; the service reads it."""

    widget = forms.TextInput(attrs={"autocomplete": "off"})


class PointForm(PageForm):
    """One number for most points; the rest when it was read."""

    client_id = forms.UUIDField(widget=forms.HiddenInput, required=False)
    depth = depends(
        Typed(
            label="Depth",
            required=False,
            max_length=30,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "enterkeyhint": "done"}),
        )
    )
    unit = forms.ChoiceField(label="In", choices=pairs(UNIT_WORDS), initial=LengthUnit.INCH)
    along = depends(Typed(label="Along the baseline", required=False, max_length=30))
    left = depends(Typed(label="Left of it", required=False, max_length=30))
    right = depends(Typed(label="Right of it", required=False, max_length=30))
    latitude = depends(Figure(label="Latitude", required=False))
    longitude = depends(Figure(label="Longitude", required=False))
    accuracy = depends(
        Typed(label="Good to", required=False, max_length=30, help_text="In feet unless you say more: 3 ft, 8 in.")
    )
    null_off = Typed(label="Null beside the peak", required=False, max_length=30, help_text="0 when both meet.")
    left_45 = Typed(label="45 degrees, to the left", required=False, max_length=30)
    right_45 = Typed(label="45 degrees, to the right", required=False, max_length=30)
    null_behind = Typed(label="Rear null to the peak", required=False, max_length=30)
    null_ahead = Typed(label="Peak to the front null", required=False, max_length=30)
    counter = Typed(label="Camera counter", required=False, max_length=30, help_text="In feet unless you say more.")
    ground_level = Typed(
        label="Level of the ground",
        required=False,
        max_length=30,
        help_text="Above or below any one bench mark, in feet unless you say more: 0.4, -3 in.",
    )
    current_ma = Figure(label="Current in mA", required=False)
    signal = Figure(label="Signal", required=False)
    gain_db = Figure(label="Gain in dB", required=False)
    measured_within = Typed(
        label="Measured to within", required=False, max_length=30, help_text="In the unit of the depth, as 1 in."
    )
    target_verified = forms.BooleanField(label="What lies open is the line looked for", required=False)
    placed = forms.ChoiceField(label="Left on the ground", choices=pairs(PLACED_WORDS), required=False)
    note = forms.CharField(label="Note", required=False, max_length=200)

    def given(self) -> PointGiven:
        """What the service takes; call it when the form is valid."""
        data = self.cleaned_data
        return PointGiven(
            **{name: data[name] for name in (*TEXTS, *FIGURES)},
            measured_within=data["measured_within"],
            target_verified=data["target_verified"],
            unit=LengthUnit(data["unit"]),
            placed=data["placed"] or "nothing",
            note=data["note"],
        )

    def id_or_new(self) -> uuid.UUID:
        """The device's id; without one the write is not repeatable."""
        found: Any = self.cleaned_data.get("client_id")
        return found or uuid.uuid4()


class FinishForm(PageForm):
    """What came of the run, in the person's own words."""

    found = forms.TypedChoiceField(
        label="What came of it",
        choices=[("yes", "The line was found"), ("no", "Nothing was found")],
        coerce=lambda word: word == "yes",
        widget=forms.RadioSelect,
    )
    words = forms.CharField(
        label="In your words",
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Where it runs, what is doubtful; where and how you looked if nothing was found.",
    )
    locate_complete = forms.BooleanField(
        label="Everything likely on this site has now been looked for",
        required=False,
        help_text="Only then does the job count as privately located. While something is left to look for, leave it "
        "open.",
    )
