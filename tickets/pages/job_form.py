"""The half of the entry page that is the job: customer, work, site, dig area."""

from __future__ import annotations

from typing import Any

from django import forms

from locates.errors import FirstspadeError
from locates.law.load import codes, jurisdiction
from locates.place import Place, resolve
from tickets.models import Customer
from tickets.pages.fields import LengthField, PageForm, depends
from tickets.pages.ground_form import OUTLINE, RECTANGLE, Position, ground_fields, ground_of
from tickets.states import DigMethod, choices

DIG_WAYS = (
    (RECTANGLE, "Length by width around the position"),
    (OUTLINE, "Draw it, or paste an outline"),
    ("none", "Not known yet (nobody may dig until it is)"),
)
ZONES = (
    ("America/New_York", "Eastern"),
    ("America/Detroit", "Eastern (Michigan)"),
    ("America/Indiana/Indianapolis", "Eastern (Indiana)"),
    ("America/Kentucky/Louisville", "Eastern (Louisville)"),
    ("America/Chicago", "Central"),
    ("America/Denver", "Mountain"),
    ("America/Boise", "Mountain (Boise)"),
    ("America/Phoenix", "Mountain, no summer time (Arizona)"),
    ("America/Los_Angeles", "Pacific"),
    ("America/Anchorage", "Alaska"),
    ("America/Adak", "Aleutian"),
    ("Pacific/Honolulu", "Hawaii"),
)
FROM_POSITION = "From the position"
_PLACE_NAMES = {"lat": "latitude", "lon": "longitude", "state_code": "state"}


def state_choices() -> list[tuple[str, str]]:
    """Every state on file, by name."""
    return sorted(((code, f"{jurisdiction(code).name} ({code})") for code in codes()), key=lambda pair: pair[1])


class DigAreaForm(PageForm):
    """Where the crew will dig, how deep and how."""

    dig_method = forms.ChoiceField(
        label="Method", choices=choices(DigMethod), initial=DigMethod.MACHINE, widget=forms.RadioSelect
    )
    dig_depth = LengthField(label="Planned depth", required=False, help_text="As 4 ft 6 in.")
    dig_name = forms.CharField(label="Name of this ground", required=False, max_length=80, help_text="As: trench.")

    def __init__(self, *args: Any, position: Position | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        ways = DIG_WAYS if isinstance(self, JobForm) else DIG_WAYS[:2]
        self.fields.update(ground_fields("dig", ways, RECTANGLE))
        self.position = position
        self.polygon: dict[str, Any] | None = None

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        self.polygon = ground_of(self, "dig", self.position)
        return given

    def dig_area(self) -> dict[str, Any] | None:
        """The dig area as the services take it."""
        if self.polygon is None:
            return None
        return {
            "polygon": self.polygon,
            "method": self.cleaned_data["dig_method"],
            "name": self.cleaned_data["dig_name"],
            "planned_depth_m": self.cleaned_data["dig_depth"],
            "planned_width_m": self.cleaned_data["dig_width"],
        }


AREA_NAMES = {
    "polygon": "dig_outline",
    "method": "dig_method",
    "name": "dig_name",
    "planned_depth_m": "dig_depth",
    "planned_width_m": "dig_width",
}


class JobForm(DigAreaForm):
    """A job at a new site. `place` is what the position says, None when it cannot be used."""

    customer = forms.ModelChoiceField(
        label="Customer",
        queryset=Customer.objects.order_by("name", "pk"),
        required=False,
        empty_label="A new customer, named below",
    )
    customer_name = depends(forms.CharField(label="Name of a new customer", required=False, max_length=120))
    customer_phone = forms.CharField(label="Phone of a new customer", required=False, max_length=32)
    title = forms.CharField(label="Work in a few words", max_length=160, help_text="As: sewer lateral, renew 40 ft.")
    work = forms.CharField(
        label="What will be done", required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 3})
    )
    number = forms.CharField(
        label="Job number", required=False, max_length=32, help_text="Empty: the next of the year."
    )
    private_lines_likely = forms.BooleanField(
        label="Lines that no operator marks are likely here",
        required=False,
        initial=True,
        help_text="Past the meter, on private ground. Unless you know otherwise, leave it ticked.",
    )
    street = forms.CharField(label="Street and number", max_length=160)
    town = forms.CharField(label="Town", max_length=80)
    latitude = forms.FloatField(
        label="Latitude", help_text="Degrees, as 37.2710.", widget=forms.TextInput(attrs={"inputmode": "decimal"})
    )
    longitude = forms.FloatField(
        label="Longitude",
        help_text="Degrees; west is negative, as -79.9414.",
        widget=forms.TextInput(attrs={"inputmode": "text"}),
    )
    state = forms.ChoiceField(label="State whose law holds", required=False)
    time_zone = forms.ChoiceField(
        label="Site's clock", required=False, choices=[("", FROM_POSITION), *((z, f"{w}: {z}") for z, w in ZONES)]
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        state = self.fields["state"]
        assert isinstance(state, forms.ChoiceField)
        state.choices = [("", FROM_POSITION), *state_choices()]
        self.place: Place | None = None

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        if not given.get("customer") and not given.get("customer_name", "").strip():
            self.add_error("customer_name", "Choose a customer, or name a new one.")
        self.place = self._place(given)
        return super().clean()

    def _place(self, given: dict[str, Any]) -> Place | None:
        latitude, longitude = given.get("latitude"), given.get("longitude")
        if latitude is None or longitude is None:
            return None
        state, zone = given.get("state") or None, given.get("time_zone") or None
        try:
            place = resolve(latitude, longitude, state_code=state, time_zone=zone)
        except FirstspadeError as refused:
            self.take(refused, _PLACE_NAMES)
            return None
        self.position, self.zone = (latitude, longitude), place.time_zone
        if place.near_state_line:
            near = ", ".join((place.state_code, *place.nearby_states))
            self.add_error("state", f"The site lies at a state line ({near}). Choose the state whose law holds.")
        if place.zone_doubt and zone is None:
            self.add_error("time_zone", f"{place.zone_doubt} Choose the clock.")
        return place

    def site(self) -> dict[str, Any]:
        """The site as the services take it: state and clock only where a person chose them."""
        names = ("street", "town", "latitude", "longitude", "state", "time_zone")
        return {name: self.cleaned_data[name] for name in names}
