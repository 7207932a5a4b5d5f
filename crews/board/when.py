"""Typed by a dispatcher: a day and an hour on the site's own clock, and what a visit is for."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms

from crews.models import VisitKind
from locates.law.local_time import BadInstant, read_instant

SURFACE = "restore_surface"
# A restoration is held to the lawful window unless a person says that it moves no earth.
PURPOSES = tuple(
    choice
    for value, words in VisitKind.choices
    for choice in (
        [(value, words), (SURFACE, "Restoration on the surface, no earth moved")]
        if value == VisitKind.RESTORE
        else [(value, words)]
    )
)


def purpose_of(chosen: str) -> dict[str, Any]:
    """The kind, and whether it stays on the surface, for a service."""
    surface_only = chosen == SURFACE
    return {"kind": str(VisitKind.RESTORE) if surface_only else chosen, "surface_only": surface_only}


class WhenForm(forms.Form):
    """A day and a start in the zone `self.zone`."""

    zone: str
    day = forms.DateField(
        label="Day",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"required": "Give the day.", "invalid": "That is not a day; write it as 2026-09-17."},
    )
    start = forms.TimeField(
        label="Start",
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages={"required": "Give the hour.", "invalid": "That is not a time of day; write it as 07:30."},
    )

    def on_the_clock_of(self, zone: str) -> None:
        """Say beside the field whose clock it is."""
        self.zone = zone
        self.fields["start"].help_text = f"On the site's clock ({zone.replace('_', ' ')})."

    def starts_at(self) -> datetime:
        """The start as an instant. Raises BadInstant for a local time that a clock change leaves out or
        brings twice."""
        given = f"{self.cleaned_data['day'].isoformat()}T{self.cleaned_data['start'].strftime('%H:%M')}"
        try:
            return read_instant(given, self.zone, "start")
        except BadInstant as wrong:
            why = wrong.fields["start"]  # "left out by the clock change", "comes twice at the clock change"
            words = f"The clocks at the site change over this hour ({why}): choose another."
            raise BadInstant(wrong.message, fields={"start": words}) from None
