"""What a dispatcher types about wanted visits and crews' hours."""

from __future__ import annotations

from datetime import datetime, time
from typing import Any

from django import forms

from crews.gather_plan.shifts import USUAL_BREAK_MINUTES, USUAL_OVERTIME_MINUTES, Hours
from crews.models import WEEKDAYS, Crew, EquipmentKind, VisitKind, WantedPriority
from locates.law.local_time import BadInstant, read_instant
from tickets.models import Job

_TIME = {"type": "time"}
_NOT_A_TIME = {"invalid": "That is not a time of day; write it as 07:30."}


class WantForm(forms.Form):
    """A visit that a job needs."""

    job = forms.ModelChoiceField(
        Job.objects.filter(closed_at=None).order_by("number"),
        label="Job",
        empty_label="Choose a job",
        error_messages={"required": "Choose a job.", "invalid_choice": "That job is closed or unknown."},
    )
    kind = forms.ChoiceField(label="What for", choices=VisitKind.choices, initial=VisitKind.DIG)
    minutes = forms.IntegerField(label="Length in minutes", initial=240)
    priority = forms.ChoiceField(label="Priority", choices=WantedPriority.choices, initial=WantedPriority.NORMAL)
    promised_day = forms.DateField(
        label="Promised day", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    promised_from = forms.TimeField(
        label="Promised to begin between",
        required=False,
        widget=forms.TimeInput(attrs=_TIME, format="%H:%M"),
        help_text="On the site's clock.",
        error_messages=_NOT_A_TIME,
    )
    promised_until = forms.TimeField(
        label="and", required=False, widget=forms.TimeInput(attrs=_TIME, format="%H:%M"), error_messages=_NOT_A_TIME
    )
    gap_least_hours = forms.IntegerField(
        label="Hours after the job's visit before it, at least", required=False, min_value=0
    )
    gap_most_hours = forms.IntegerField(label="and at most", required=False, min_value=0)
    skills = forms.CharField(
        label="Skills beside those of the kind", required=False, max_length=200, help_text="Words by comma, as gas."
    )
    kit = forms.MultipleChoiceField(
        label="Kit",
        choices=EquipmentKind.choices,
        required=False,
        help_text="None chosen: the usual kit of the kind.",
    )

    def wanted(self) -> dict[str, Any]:
        """The values for the service. Raises BadInstant for an hour that a clock change leaves out or doubles."""
        given = dict(self.cleaned_data)
        day, zone = given.pop("promised_day"), given["job"].site.time_zone
        for name in ("promised_from", "promised_until"):
            given[name] = _instant(day, given[name], zone, name)
        given["gap_least_hours"] = given["gap_least_hours"] or 0
        given["skills"] = given["skills"].split(",")
        return given

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if (given.get("promised_from") or given.get("promised_until")) and not given.get("promised_day"):
            self.add_error("promised_day", "Give the day of the promised hours.")
        return given


def _instant(day: Any, at: time | None, zone: str, name: str) -> datetime | None:
    if day is None or at is None:
        return None
    try:
        return read_instant(f"{day.isoformat()}T{at.strftime('%H:%M')}", zone, name)
    except BadInstant as wrong:
        raise BadInstant(wrong.message, fields={name: "The clocks change over this hour."}) from None


class HoursForm(forms.Form):
    """A crew's week: one shift a weekday, empty for none."""

    break_minutes = forms.IntegerField(label="Break in minutes", initial=USUAL_BREAK_MINUTES)
    overtime_minutes = forms.IntegerField(label="Overtime at most, in minutes", initial=USUAL_OVERTIME_MINUTES)

    def __init__(self, *args: Any, crew: Crew, **kwargs: Any) -> None:
        initial: dict[str, Any] = {}
        for shift in crew.shifts.all():
            initial |= {f"starts_{shift.weekday}": shift.starts, f"ends_{shift.weekday}": shift.ends}
            initial |= {"break_minutes": shift.break_minutes, "overtime_minutes": shift.overtime_minutes}
        super().__init__(*args, **{"initial": initial, **kwargs})
        for weekday, name in WEEKDAYS:
            for end in ("starts", "ends"):
                self.fields[f"{end}_{weekday}"] = forms.TimeField(
                    label=f"{name} {'from' if end == 'starts' else 'to'}",
                    required=False,
                    widget=forms.TimeInput(attrs=_TIME, format="%H:%M"),
                    error_messages=_NOT_A_TIME,
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
            )
            for weekday, _ in WEEKDAYS
            if given[f"starts_{weekday}"]
        ]

    def days(self) -> list[tuple[str, Any, Any]]:
        """For the template: weekday, field of the start, field of the end."""
        return [(name, self[f"starts_{n}"], self[f"ends_{n}"]) for n, name in WEEKDAYS]


class DayOffForm(forms.Form):
    """A day on which the crew does not work."""

    on = forms.DateField(
        label="Day off",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"required": "Give the day.", "invalid": "That is not a day; write it as 2026-09-17."},
    )
    reason = forms.CharField(label="Why", required=False, max_length=120)
