"""Form fields of the field: positions and frequencies as a person types them."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from locates.ground.entry import check_position
from locates.ground.refusal import GroundError

_FREQUENCY = re.compile(r"^\s*(\d+(?:\.\d+)?)\s*(k?)\s*(?:hz)?\s*$", re.IGNORECASE)
_UNIT = re.compile(r"(k|hz)", re.IGNORECASE)
LEAST_BARE_HZ = 50.0  # a bare figure below this is kilohertz said short, and is refused as unclear


class PositionField(forms.CharField):
    """'37.40012, -77.62034'; cleaned to (latitude, longitude), None when empty."""

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        parts = [part for part in re.split(r"[,\s]+", text.strip()) if part]
        try:
            latitude, longitude = (float(part) for part in parts)
        except ValueError:
            raise ValidationError(
                f'"{text}" is not a position. Give latitude and longitude in degrees, as 37.40012, -77.62034.'
            ) from None
        try:
            return check_position(latitude, longitude)
        except GroundError as refused:
            raise ValidationError(refused.message) from None


def read_frequency_hz(text: str) -> float:
    """'512 Hz', '33 kHz' or '8192' in hertz; refuses a small bare figure, which may be kilohertz."""
    match = _FREQUENCY.match(text)
    if not match:
        raise ValidationError(f'"{text}" is not a frequency. Write it as 512 Hz or 33 kHz.')
    value = float(match[1]) * (1000.0 if match[2] else 1.0)
    if not _UNIT.search(text) and value < LEAST_BARE_HZ * 20:
        if value in (50.0, 60.0, 512.0, 640.0):
            return value
        raise ValidationError(f'"{text}" does not say Hz or kHz. Write it as {text} kHz, or {text} Hz.')
    if not 1 <= value <= 10e6:
        raise ValidationError(f"{value:g} Hz is no locating frequency. Check it.")
    return value


class FrequencyField(forms.CharField):
    """One frequency; cleaned to hertz, None when empty."""

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        return read_frequency_hz(text) if text else None


class FrequenciesField(forms.CharField):
    """Several frequencies parted by commas; cleaned to a tuple of hertz."""

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        return tuple(read_frequency_hz(part) for part in re.split(r"[,;]", text) if part.strip())


def hertz_words(frequency_hz: float | None) -> str:
    """'512 Hz', '33 kHz'; empty for None."""
    if frequency_hz is None:
        return ""
    return f"{frequency_hz / 1000:g} kHz" if frequency_hz >= 1000 else f"{frequency_hz:g} Hz"
