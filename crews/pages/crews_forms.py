"""Forms of the crews' list."""

from __future__ import annotations

from typing import Any, cast

from django import forms

from crews.models import Equipment, EquipmentKind, VisitKind
from locates.place import PositionError, resolve


class CrewForm(forms.Form):
    """What a crew is called, where it starts, and what it can do."""

    name = forms.CharField(max_length=80, help_text="What your people call it; it can be changed later.")
    yard_name = forms.CharField(max_length=120, label="Yard")
    yard_latitude = forms.FloatField(
        label="Yard's latitude", help_text="In degrees, north above zero: 37.5413.", widget=forms.TextInput()
    )
    yard_longitude = forms.FloatField(
        label="Yard's longitude", help_text="In degrees, west below zero: -77.4348.", widget=forms.TextInput()
    )
    time_zone = forms.CharField(
        required=False,
        max_length=64,
        label="Time zone",
        help_text="Such as America/Chicago; empty: taken from where the yard lies. The crew's day is counted in it.",
    )
    skills = forms.MultipleChoiceField(
        required=False,
        label="What it can do",
        widget=forms.CheckboxSelectMultiple,
        choices=VisitKind.choices,
    )
    more_skills = forms.CharField(
        required=False, max_length=200, label="And", help_text="More skills in your words, with commas between."
    )

    def clean(self) -> dict[str, Any]:
        given = cast(dict[str, Any], super().clean())
        if not given.get("time_zone") and {"yard_latitude", "yard_longitude"} <= set(given):
            try:
                given["time_zone"] = resolve(given["yard_latitude"], given["yard_longitude"]).time_zone
            except PositionError as refused:
                self.add_error("yard_latitude", refused.message)
        more = [word.strip() for word in (given.pop("more_skills", "") or "").split(",") if word.strip()]
        given["skills"] = list(dict.fromkeys([*given.get("skills", []), *more]))
        return given


class TruckForm(forms.Form):
    """A truck for the crew."""

    truck: Any = forms.ModelChoiceField(
        queryset=None, label="Truck", empty_label="Choose a truck", error_messages={"required": "Choose a truck."}
    )

    def __init__(self, *args: Any, crew_id: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["truck"]
        assert isinstance(field, forms.ModelChoiceField)
        there = Equipment.objects.filter(kind=EquipmentKind.TRUCK, place__in=["yard", "crew"]).exclude(crew=crew_id)
        field.queryset = there.order_by("name", "id")
