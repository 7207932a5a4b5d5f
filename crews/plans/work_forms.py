"""What a dispatcher types about crews' hours, homes and days off."""

from __future__ import annotations

from typing import Any

from django import forms

from crews.gather_plan.shifts import USUAL_BREAK_MINUTES, USUAL_OVERTIME_MINUTES, Hours, home_of
from crews.models import WEEKDAYS, Crew, ShiftPlace

TIME = {"type": "time"}
NOT_A_TIME = {"invalid": "That is not a time of day; write it as 07:30."}
NOT_A_DAY = {"required": "Give the day.", "invalid": "That is not a day; write it as 2026-09-17."}


class HoursForm(forms.Form):
    """A crew's week: one shift a weekday, empty for none, and where each begins and ends."""

    break_minutes = forms.IntegerField(label="Break in minutes", initial=USUAL_BREAK_MINUTES)
    overtime_minutes = forms.IntegerField(label="Overtime at most, in minutes", initial=USUAL_OVERTIME_MINUTES)

    def __init__(self, *args: Any, crew: Crew, **kwargs: Any) -> None:
        self.has_home = home_of(crew) is not None
        initial: dict[str, Any] = {}
        for shift in crew.shifts.all():
            for name in ("starts", "ends", "begins_from", "ends_back_at"):
                initial[f"{name}_{shift.weekday}"] = getattr(shift, name)
            initial |= {"break_minutes": shift.break_minutes, "overtime_minutes": shift.overtime_minutes}
        super().__init__(*args, **{"initial": initial, **kwargs})
        for weekday, name in WEEKDAYS:
            for end, words in (("starts", "from"), ("ends", "to")):
                self.fields[f"{end}_{weekday}"] = forms.TimeField(
                    label=f"{name} {words}",
                    required=False,
                    widget=forms.TimeInput(attrs=TIME, format="%H:%M"),
                    error_messages=NOT_A_TIME,
                )
            for place, words in (("begins_from", "sets out from"), ("ends_back_at", "goes back to")):
                self.fields[f"{place}_{weekday}"] = forms.ChoiceField(
                    label=f"{name}: {words}", choices=ShiftPlace.choices, required=False
                )

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        for weekday, _ in WEEKDAYS:
            if bool(given.get(f"starts_{weekday}")) != bool(given.get(f"ends_{weekday}")):
                self.add_error(f"ends_{weekday}", "Give both hours, or neither.")
        return given

    def hours(self) -> list[Hours]:
        given = self.cleaned_data
        return [
            Hours(
                weekday,
                given[f"starts_{weekday}"],
                given[f"ends_{weekday}"],
                given["break_minutes"],
                given["overtime_minutes"],
                given[f"begins_from_{weekday}"] or ShiftPlace.YARD,
                given[f"ends_back_at_{weekday}"] or ShiftPlace.YARD,
            )
            for weekday, _ in WEEKDAYS
            if given[f"starts_{weekday}"]
        ]

    def days(self) -> list[tuple[str, list[Any]]]:
        """For the template: weekday and its fields; the places only where there is a choice."""
        names = ["starts", "ends", *(["begins_from", "ends_back_at"] if self.has_home else [])]
        return [(name, [self[f"{one}_{n}"] for one in names]) for n, name in WEEKDAYS]


class HomeForm(forms.Form):
    """Where a crew's truck stands overnight when it does not go to the yard."""

    latitude = forms.FloatField(
        label="Latitude", min_value=-90, max_value=90, help_text="Degrees north, as 37.5412.", localize=False
    )
    longitude = forms.FloatField(
        label="Longitude", min_value=-180, max_value=180, help_text="Degrees, west with a minus, as -77.4361."
    )


class DayOffForm(forms.Form):
    """A day on which the crew does not work."""

    on = forms.DateField(
        label="Day off", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), error_messages=NOT_A_DAY
    )
    reason = forms.CharField(label="Why", required=False, max_length=120)
