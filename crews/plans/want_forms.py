"""What a dispatcher types about wanted visits and spare parts."""

from __future__ import annotations

import re
from datetime import datetime, time
from typing import Any

from django import forms

from crews.board.when import PURPOSES, SURFACE, purpose_of
from crews.models import Crew, EquipmentKind, SparePart, VisitKind, WantedPriority, WantedVisit
from crews.plans.work_forms import NOT_A_TIME, TIME
from crews.services.wanted import wish_of
from crews.words import zone_of
from locates.law.local_time import BadInstant, read_instant
from tickets.models import Job

_DAY = {"type": "date"}
_PART_LINE = re.compile(r"\s*(\d{1,4})\s*(?:x\s+)?(\S.*?)\s*", re.IGNORECASE)


def _day(label: str, **more: Any) -> forms.DateField:
    return forms.DateField(
        label=label,
        required=False,
        widget=forms.DateInput(attrs=_DAY, format="%Y-%m-%d"),
        error_messages={"invalid": "That is not a day; write it as 2026-09-17."},
        **more,
    )


def _time(label: str, **more: Any) -> forms.TimeField:
    return forms.TimeField(
        label=label,
        required=False,
        widget=forms.TimeInput(attrs=TIME, format="%H:%M"),
        error_messages=NOT_A_TIME,
        **more,
    )


class WishForm(forms.Form):
    """What is wanted of a visit; the hours are on the site's own clock."""

    kind = forms.ChoiceField(label="What for", choices=PURPOSES, initial=VisitKind.DIG)
    minutes = forms.IntegerField(label="Length in minutes", initial=240)
    priority = forms.ChoiceField(label="Priority", choices=WantedPriority.choices, initial=WantedPriority.NORMAL)
    promised_day = _day("Promised day")
    promised_from = _time("Promised to begin between", help_text="On the site's clock.")
    promised_until = _time("and")
    other_day = _day("Or on another day")
    other_from = _time("between")
    more_promises = _time("and")
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
    frequency_hz = forms.IntegerField(
        label="Frequency that the receiver must have, in hertz", required=False, help_text="As 512 for a sonde."
    )
    parts = forms.CharField(
        label="Spare parts that it uses up",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="One a line, the pieces first, as: 2 Repair coupling.",
    )

    def clean_parts(self) -> dict[str, int]:
        found: dict[str, int] = {}
        for number, line in enumerate(self.cleaned_data["parts"].splitlines(), start=1):
            if not line.strip():
                continue
            match = _PART_LINE.fullmatch(line)
            if match is None:
                raise forms.ValidationError(f"Line {number}: write the pieces, then the part, as 2 Repair coupling.")
            found[match[2]] = found.get(match[2], 0) + int(match[1])
        return found

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        for day, names, words in (
            ("promised_day", ("promised_from", "promised_until"), "the promised hours"),
            ("other_day", ("other_from", "more_promises"), "those hours"),
        ):
            if any(given.get(name) for name in names) and not given.get(day):
                self.add_error(day, f"Give the day of {words}.")
        if bool(given.get("other_from")) != bool(given.get("more_promises")):
            self.add_error("more_promises", "Give both hours, or neither.")
        return given

    def wish(self, zone: str) -> dict[str, Any]:
        """The values for the service. Raises BadInstant for an hour that a clock change leaves out or doubles."""
        given = dict(self.cleaned_data)
        day, other_day = given.pop("promised_day"), given.pop("other_day")
        for name in ("promised_from", "promised_until"):
            given[name] = _instant(day, given[name], zone, name)
        other = (
            _instant(other_day, given.pop("other_from"), zone, "other_from"),
            _instant(other_day, given["more_promises"], zone, "more_promises"),
        )
        given["more_promises"] = [other] if other[0] is not None and other[1] is not None else []
        given["gap_least_hours"] = given["gap_least_hours"] or 0
        given["skills"] = given["skills"].split(",")
        return {**given, **purpose_of(given["kind"])}


class WantForm(WishForm):
    """A visit that a job needs."""

    field_order = ("job",)
    job = forms.ModelChoiceField(
        Job.objects.filter(closed_at=None).select_related("site").order_by("number"),
        label="Job",
        empty_label="Choose a job",
        error_messages={"required": "Choose a job.", "invalid_choice": "That job is closed or unknown."},
    )


def wish_initial(wanted: WantedVisit) -> dict[str, Any]:
    """What is asked for now, as the form shows it."""
    wish, zone = wish_of(wanted), zone_of(wanted.job.site.time_zone)
    plain = ("minutes", "priority", "kit", "frequency_hz", "gap_least_hours", "gap_most_hours")
    shown: dict[str, Any] = {name: getattr(wish, name) for name in plain}
    shown["kind"] = SURFACE if wish.surface_only else wish.kind
    shown["skills"] = ", ".join(wish.skills)
    shown["parts"] = "\n".join(f"{pieces} {name}" for name, pieces in wish.parts.items())
    if wish.promised_from is not None and wish.promised_until is not None:
        start, end = wish.promised_from.astimezone(zone), wish.promised_until.astimezone(zone)
        shown |= {"promised_day": start.date(), "promised_from": start.time(), "promised_until": end.time()}
    for start, end in wish.more_promises[:1]:
        low, high = start.astimezone(zone), end.astimezone(zone)
        shown |= {"other_day": low.date(), "other_from": low.time(), "more_promises": high.time()}
    return shown


def _instant(day: Any, at: time | None, zone: str, name: str) -> datetime | None:
    if day is None or at is None:
        return None
    try:
        return read_instant(f"{day.isoformat()}T{at.strftime('%H:%M')}", zone, name)
    except BadInstant as wrong:
        raise BadInstant(wrong.message, fields={name: "The clocks change over this hour."}) from None


class PartForm(forms.Form):
    """A part's name."""

    name = forms.CharField(label="Name of the part", max_length=60, help_text="As Repair coupling 4 in.")


class StockForm(forms.Form):
    """Where a part is: pieces on each truck, and the yards that keep it."""

    def __init__(self, *args: Any, part: SparePart, crews: list[Crew], **kwargs: Any) -> None:
        held = {row.crew_id: row.pieces for row in part.on_trucks.all()}
        initial: dict[str, Any] = {f"pieces_{pk}": pieces for pk, pieces in held.items()}
        initial["at_yards"] = [row.yard_name for row in part.at_yards.all()]
        super().__init__(*args, **{"initial": initial, **kwargs})
        for crew in crews:
            self.fields[f"pieces_{crew.pk}"] = forms.IntegerField(
                label=f"Pieces on the truck of {crew.name}", required=False, min_value=0, max_value=999
            )
        yards = sorted({crew.yard_name for crew in crews})
        self.fields["at_yards"] = forms.MultipleChoiceField(
            label="Kept at",
            choices=[(yard, yard) for yard in yards],
            required=False,
            widget=forms.CheckboxSelectMultiple,
            help_text="A crew of that yard can fetch as many as it needs.",
        )

    def stock(self) -> dict[str, Any]:
        """For the service."""
        given = self.cleaned_data
        named = {name: value for name, value in given.items() if name.startswith("pieces_")}
        return {
            "on_trucks": {int(name.removeprefix("pieces_")): pieces or 0 for name, pieces in named.items()},
            "at_yards": given["at_yards"],
        }
