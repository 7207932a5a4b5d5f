"""A write behind a form: what it made, or the refusal in words beside the form's fields."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from django import forms

from crews.pages.refusal import tell
from locates.errors import FirstspadeError

Made = TypeVar("Made")


def attempt(form: forms.Form, write: Callable[[], Made]) -> tuple[Made | None, int]:
    """What the write made; or None and the HTTP status of the page that shows the form, again where it was sent."""
    if not form.is_bound:
        return None, 200
    if not form.is_valid():
        return None, 400
    try:
        return write(), 200
    except FirstspadeError as refused:
        return None, tell(form, refused)
