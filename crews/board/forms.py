"""What a dispatcher types: the chart's filters, a visit's place, why a visit is cancelled."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms

from crews.board.rows import Filters
from crews.board.when import PURPOSES, WhenForm
from crews.models import Crew, Visit
from tickets.states import State, choices

SPANS = ((7, "1 week"), (9, "9 days"), (14, "2 weeks"))
USUAL_DAYS = 9
LENGTHS_MINUTES = (30, 60, 90, 120, 150, 180, 210, 240, 300, 360, 420, 480, 540, 600, 660, 720)
USUAL_MINUTES = 240
FARTHEST_BACK, FARTHEST_AHEAD = timedelta(days=730), timedelta(days=730)


class BoardForm(forms.Form):
    """The chart's filters and stretch, as they stand in the address. A value that makes no sense is left
    out, so that an old link still opens."""

    state = forms.MultipleChoiceField(choices=choices(State), required=False)
    crew = forms.ModelChoiceField(Crew.objects.order_by("name"), required=False, empty_label="Every crew")
    place = forms.CharField(required=False, max_length=80)
    text = forms.CharField(required=False, max_length=80)
    days = forms.TypedChoiceField(choices=SPANS, coerce=int, required=False)
    start = forms.DateField(required=False)
    view = forms.ChoiceField(choices=(("chart", ""), ("table", "")), required=False)

    def filters(self) -> Filters:
        crew = self._clean("crew", None)
        return Filters(
            tuple(self._clean("state", ())), crew and crew.pk, self._clean("place", ""), self._clean("text", "")
        )

    def chosen_days(self) -> int:
        return int(self._clean("days", USUAL_DAYS))

    def chosen_first(self, today: date) -> date:
        asked = self._clean("start", None)
        return asked if asked and today - FARTHEST_BACK <= asked <= today + FARTHEST_AHEAD else today

    def wants_table(self) -> bool:
        return bool(self._clean("view", "") == "table")

    def _clean(self, field: str, otherwise: Any) -> Any:
        self.is_valid()
        return self.cleaned_data.get(field) or otherwise


class PlaceForm(WhenForm):
    """A visit: which crew, what for, when on the site's own clock, for how long."""

    field_order = ("crew", "kind", "day", "start", "length")
    crew = forms.ModelChoiceField(
        Crew.objects.none(),
        empty_label="Choose a crew",
        label="Crew",
        error_messages={"required": "Choose a crew.", "invalid_choice": "That crew is not active; choose another."},
    )
    kind = forms.ChoiceField(
        choices=PURPOSES,
        label="What for",
        error_messages={"required": "Choose what the visit is for.", "invalid_choice": "Choose one of the list."},
    )
    length = forms.TypedChoiceField(
        label="Length",
        coerce=int,
        error_messages={"required": "Choose how long.", "invalid_choice": "Choose one of the list."},
    )

    def __init__(self, *args: Any, zone: str, spell: str = "", visit: Visit | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": f"{spell}%s", **kwargs})
        self.on_the_clock_of(zone)
        crew = self.fields["crew"]
        assert isinstance(crew, forms.ModelChoiceField)
        crew.queryset = Crew.objects.filter(active=True).order_by("name")
        minutes = set(LENGTHS_MINUTES)
        if visit is not None:
            del self.fields["kind"]
            minutes.add(minutes_of(visit))
        length = self.fields["length"]
        assert isinstance(length, forms.TypedChoiceField)
        length.choices = [(m, length_words(m)) for m in sorted(minutes)]

    def duration(self) -> timedelta:
        return timedelta(minutes=self.cleaned_data["length"])


class CancelForm(forms.Form):
    """Why a visit is taken off the day."""

    reason = forms.CharField(
        label="Why it is cancelled",
        max_length=200,
        help_text="The reason stays in the records with the visit.",
        error_messages={"required": "Say why; the crew and the records need it."},
    )


def minutes_of(visit: Visit) -> int:
    return round((visit.ends_at - visit.starts_at).total_seconds() / 60)


def length_words(minutes: int) -> str:
    """'3 h 30 min'."""
    hours, rest = divmod(minutes, 60)
    return " ".join(part for part in (f"{hours} h" * bool(hours), f"{rest} min" * bool(rest)) if part)
