"""Form fields of the office: lengths, local instants, grounds; and refusals put beside their field."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from locates.errors import FirstspadeError
from locates.law.local_time import read_instant
from locates.lengths import BadLength, read_length_m
from tickets.pages.words import local_words, sentence

LATER = "local time at the site"


def depends(field: forms.Field) -> forms.Field:
    """Whether the field may stay empty depends on another one: its label does not say that it may."""
    field.depends = True  # type: ignore[attr-defined]
    return field


class LengthField(forms.CharField):
    """'3 ft 6 in', '42 in', '1.2 m'; cleaned to metres, None when empty."""

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_length_m(text)
        except BadLength as refused:
            raise ValidationError(refused.message) from None


class LocalInstantField(forms.CharField):
    """A local date and time at the site; the form reads it once the site's zone is known."""

    widget = forms.DateTimeInput(attrs={"type": "datetime-local"})


class PageForm(forms.Form):
    """A form of the office: instants are read in `zone`, refusals of services land beside their fields."""

    required_words = "Fill this in."

    def __init__(self, *args: Any, zone: str = "UTC", **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        self.zone = zone
        self.use_required_attribute = False  # the words beside the field say more than the browser's bubble
        for field in self.fields.values():
            field.error_messages["required"] = self.required_words

    def instant(self, name: str) -> datetime | None:
        """The aware instant of a LocalInstantField, read in the form's zone; an error stands beside the
        field when it cannot be read."""
        text = self.cleaned_data.get(name)
        if not text or isinstance(text, datetime):
            return text or None
        label = str(self.fields[name].label or name)
        try:
            found = read_instant(text, self.zone, label)
        except FirstspadeError as refused:
            self.add_error(name, sentence(refused.message.removeprefix(f"{label}: ")))
            if "twice" in refused.message:
                # The browser's own control has no place for an offset.
                self.fields[name].widget = forms.TextInput()
            return None
        self.cleaned_data[name] = found
        return found

    def take(self, refused: FirstspadeError, names: Mapping[str, str] | None = None) -> None:
        """Put a refusal's words beside the fields they belong to; what belongs to none stands on top."""
        if not self.is_bound or not hasattr(self, "cleaned_data"):
            self.full_clean()
        if not refused.fields:
            self.add_error(None, local_words(refused.message, self.zone))
        for field, words in refused.fields.items():
            name = (names or {}).get(field, field)
            said = sentence(local_words(words, self.zone))
            if name in self.fields:
                self.add_error(name, said)
            elif field == "non_field_errors":
                self.add_error(None, said)
            else:
                self.add_error(None, f"{field.replace('_', ' ').capitalize()}: {said}")
