"""What a dispatcher types about plans, and the owner about their weights."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from django import forms

from crews.board.when import WhenForm
from crews.models import Crew, PlanStop
from crews.planning.problem import Weights
from crews.services.plans import LARGEST_WEIGHT, SECONDS, WORKING_DAYS
from crews.words import zone_of


class AskForm(forms.Form):
    """How far ahead, and how long to search."""

    working_days = forms.TypedChoiceField(
        label="Days to plan",
        coerce=int,
        choices=[(n, "Today" if n == 1 else f"Today to {n} working days") for n in WORKING_DAYS],
        initial=5,
    )
    seconds = forms.TypedChoiceField(
        label="Time to search",
        coerce=int,
        choices=[(n, f"{n} seconds") for n in SECONDS],
        initial=10,
        help_text="A longer search may find less driving. You can call it off at any time.",
    )


class MoveForm(WhenForm):
    """Another crew, another hour, on the site's own clock."""

    field_order = ("crew", "day", "start")
    crew = forms.ModelChoiceField(
        Crew.objects.none(), label="Crew", empty_label=None, error_messages={"required": "Choose a crew."}
    )

    def __init__(self, *args: Any, stop: PlanStop, **kwargs: Any) -> None:
        assert stop.job is not None
        local = stop.starts_at.astimezone(zone_of(stop.job.site.time_zone))
        initial = {"crew": stop.crew_id, "day": local.date(), "start": local.time()}
        super().__init__(*args, **{"initial": initial, "auto_id": f"s{stop.pk}-%s", **kwargs})
        self.on_the_clock_of(stop.job.site.time_zone)
        crew = self.fields["crew"]
        assert isinstance(crew, forms.ModelChoiceField)
        crew.queryset = Crew.objects.filter(active=True).order_by("name")


# What each weight is for; one unit is a second of driving.
WEIGHT_WORDS: dict[str, tuple[str, str]] = {
    "unplanned_emergency": ("An emergency left out", "Far above everything else."),
    "unplanned_expiring": ("A dig left out whose ticket would end", ""),
    "unplanned_high": ("A visit of high priority left out", ""),
    "unplanned_normal": ("A visit left out", ""),
    "unplanned_low": ("A visit of low priority left out", ""),
    "missed_promise": ("A promised window missed", ""),
    "renewal": ("A dig that needs its ticket renewed", ""),
    "drive": ("A second of driving", "The unit of the others."),
    "duration": ("A second on the clock", ""),
    "overtime": ("A second of overtime", ""),
    "unevenness": ("Uneven days between crews", "0: not looked at."),
    "moved": ("A visit moved to another crew or day", "Keeps a new plan close to the old one."),
}


class WeightsForm(forms.Form):
    """One whole number a weight."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in fields(Weights):
            label, help_text = WEIGHT_WORDS.get(field.name, (field.name.replace("_", " "), ""))
            usual = f"{field.default:,}"
            self.fields[field.name] = forms.IntegerField(
                label=label,
                min_value=0,
                max_value=LARGEST_WEIGHT,
                help_text=f"{help_text} Usual: {usual}.".strip(),
                error_messages={"invalid": "Give a whole number.", "required": "Give a number; 0 leaves it out."},
            )
