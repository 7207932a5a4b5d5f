"""The part of a form that says where the ground is: a rectangle, an outline, or something else."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from locates.errors import FirstspadeError
from tickets.pages.fields import LengthField, PageForm, depends
from tickets.pages.ground_input import outline, rectangle
from tickets.verdict.areas import parse_area

RECTANGLE, OUTLINE = "rectangle", "outline"
AS = {"length": "40 ft", "width": "3 ft 6 in"}
Position = tuple[float, float]


def ground_fields(prefix: str, ways: Sequence[tuple[str, str]], first: str, of: str = "") -> dict[str, forms.Field]:
    """Fields `{prefix}_way`, `_length`, `_width`, `_bearing`, `_outline`; `of` ends their labels where a page
    has two grounds."""
    found: dict[str, forms.Field] = {
        f"{prefix}_way": forms.ChoiceField(
            label="How to say where", choices=ways, initial=first, widget=forms.RadioSelect
        ),
        f"{prefix}_length": LengthField(
            label=f"Length{of}", required=False, help_text="As 40 ft or 12 m; the middle lies at the site's position."
        ),
        f"{prefix}_width": LengthField(label=f"Width{of}", required=False, help_text="As 3 ft 6 in, 42 in or 1.2 m."),
        f"{prefix}_bearing": forms.FloatField(
            label=f"Direction of the length{of}",
            required=False,
            min_value=0,
            max_value=360,
            help_text="Degrees clockwise from true north: 0 north, 90 east. Empty: north.",
            widget=forms.TextInput(attrs={"inputmode": "decimal"}),
        ),
        f"{prefix}_outline": forms.CharField(
            label=f"Outline{of} (GeoJSON)",
            required=False,
            max_length=200_000,
            widget=forms.Textarea(attrs={"rows": 4, "spellcheck": "false"}),
            help_text="Filled by drawing; or paste a Polygon, longitude before latitude.",
        ),
    }
    for name in ("length", "width", "outline"):
        depends(found[f"{prefix}_{name}"])
    return found


def ground_of(form: PageForm, prefix: str, position: Position | None) -> dict[str, Any] | None:
    """The GeoJSON that the form's fields describe; None when there is none, its faults beside the fields."""
    given = form.cleaned_data
    way = given.get(f"{prefix}_way")
    try:
        if way == RECTANGLE:
            return _rectangle(form, prefix, position)
        if way == OUTLINE:
            text = given.get(f"{prefix}_outline") or ""
            if not text.strip():
                form.add_error(f"{prefix}_outline", "Draw the outline, or paste it as GeoJSON.")
                return None
            found = outline(text)
            parse_area(found, field="outline", near=position)
            return found
    except FirstspadeError as refused:
        form.take(refused, {name: f"{prefix}_{name}" for name in ("length", "width", "outline")})
    return None


def _rectangle(form: PageForm, prefix: str, position: Position | None) -> dict[str, Any] | None:
    given, missing = form.cleaned_data, False
    for name in ("length", "width"):
        field = f"{prefix}_{name}"
        if given.get(field) is None:
            if field not in form.errors:
                form.add_error(field, f"Give the {name} of the ground, as {AS[name]}.")
            missing = True
    if missing or position is None:
        return None
    return rectangle(
        *position,
        length_m=given[f"{prefix}_length"],
        width_m=given[f"{prefix}_width"],
        bearing_deg=given.get(f"{prefix}_bearing") or 0.0,
    )
