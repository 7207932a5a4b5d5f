"""A service's refusal as words beside the form's fields."""

from __future__ import annotations

from django import forms

from locates.errors import FirstspadeError


def tell(form: forms.Form, refused: FirstspadeError) -> int:
    """Puts each fault beside its field, or above the form when it has none there; gives the HTTP status."""
    for name, words in refused.fields.items():
        # A field's own words may be a stump for programs ("not active"); the message is then the sentence.
        said = words if words.endswith(".") else refused.message
        form.add_error(name if name in form.fields else None, said[:1].upper() + said[1:])
    if not refused.fields:
        form.add_error(None, refused.message)
    return 409 if getattr(refused, "conflict", False) else 400
