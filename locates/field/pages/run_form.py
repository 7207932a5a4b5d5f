"""The form that begins a run: on its page, and for what a phone sends to the API."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms

from locates.field.models import Run
from locates.field.pages.fields import FrequencyField, PositionField, hertz_words
from locates.field.pages.instruments import InstrumentForm, initial_devices
from locates.field.services import RunGiven
from locates.field.words import METHODS, POSITION_WORDS, PositionBy, pairs
from locates.ground.lengths import FOOT_M, INCH_M
from tickets.pages.fields import LengthField, depends
from tickets.states import Utility, choices

# Refusals of the service by the field of the form that they belong to.
NAMES = {
    "devices": "receiver",
    "transmitter_at": "transmitter_position",
    "start_at": "start_position",
    "end_at": "end_position",
}


class RunForm(InstrumentForm):
    """Target, method, frequency, instruments, and how points get their places."""

    client_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)
    label = forms.CharField(label="What is looked for", max_length=80, help_text="As gas line to the shed.")
    utility = forms.ChoiceField(label="Utility", choices=choices(Utility), initial=Utility.UNKNOWN)
    owner_words = forms.CharField(label="Whose line", max_length=120, required=False)
    method = forms.ChoiceField(label="How", choices=[("", "Choose"), *METHODS])
    frequency = depends(
        FrequencyField(label="Frequency", required=False, help_text="As 512 Hz or 33 kHz, where a signal is sent.")
    )
    outside_diameter = LengthField(
        label="Outside size of the line", required=False, help_text="As 4 in. Unknown: leave it empty."
    )
    position_by = forms.ChoiceField(
        label="How points get their places",
        choices=[pair for pair in pairs(POSITION_WORDS) if pair[0] != PositionBy.FILE],
        initial=PositionBy.PHONE,
    )
    start_words = forms.CharField(label="First fixed mark", max_length=120, required=False)
    start_position = depends(PositionField(label="Position of the first fixed mark", required=False))
    end_words = forms.CharField(label="Second fixed mark", max_length=120, required=False)
    end_position = depends(PositionField(label="Position of the second fixed mark", required=False))
    mark_accuracy = depends(
        LengthField(label="The marks' positions are good to", required=False, help_text="As 15 ft from a phone.")
    )
    transmitter_words = forms.CharField(
        label="Where the transmitter stood, how it was grounded", max_length=300, required=False
    )
    transmitter_position = PositionField(label="Position of the transmitter", required=False)
    transmitter_moment = forms.FloatField(
        label="Transmitter's magnetic moment, in A m²",
        required=False,
        help_text="For induction, by its maker: how far away a depth holds hangs on it.",
    )
    ground_words = forms.CharField(
        label="Ground", max_length=200, required=False, help_text="As lawn over clay, wet."
    )
    weather_words = forms.CharField(label="Weather", max_length=200, required=False)

    def given(self) -> RunGiven:
        """What the service takes; call it when the form is valid."""
        data = self.cleaned_data
        return RunGiven(
            label=data["label"],
            method=data["method"],
            utility=data["utility"],
            owner_words=data["owner_words"],
            frequency_hz=data["frequency"],
            outside_diameter_m=data["outside_diameter"],
            transmitter_words=data["transmitter_words"],
            transmitter_at=data["transmitter_position"],
            transmitter_moment_a_m2=data["transmitter_moment"],
            ground_words=data["ground_words"],
            weather_words=data["weather_words"],
            position_by=data["position_by"],
            start_words=data["start_words"],
            start_at=data["start_position"],
            end_words=data["end_words"],
            end_at=data["end_position"],
            mark_accuracy_m=data["mark_accuracy"],
            devices=self.devices(),
        )


def initial_from(run: Run | None) -> dict[str, Any]:
    """A further run at a job begins from the one before: the same day, ground, instruments and marks."""
    if run is None:
        return {}
    initial: dict[str, Any] = {
        "method": run.method,
        "frequency": hertz_words(run.frequency_hz),
        "position_by": run.position_by if run.position_by != PositionBy.FILE else PositionBy.PHONE,
        "ground_words": run.ground_words,
        "weather_words": run.weather_words,
        "start_words": run.start_words,
        "end_words": run.end_words,
    }
    for end in ("start", "end"):
        latitude, longitude = getattr(run, f"{end}_latitude"), getattr(run, f"{end}_longitude")
        if latitude is not None and longitude is not None:
            initial[f"{end}_position"] = f"{latitude:.7f}, {longitude:.7f}"
    if run.mark_accuracy_m is not None:
        initial["mark_accuracy"] = _plain_length(run.mark_accuracy_m)
    return initial | initial_devices(run.devices.all())


def _plain_length(length_m: float) -> str:
    """'15 ft', '1.97 in': as a person would type it, never rounded to nothing."""
    if length_m < FOOT_M:
        return f"{length_m / INCH_M:.2f}".rstrip("0").rstrip(".") + " in"
    return f"{length_m / FOOT_M:.2f}".rstrip("0").rstrip(".") + " ft"
