"""Refusals of the field, and the gathering of several faults into one."""

from __future__ import annotations

from collections.abc import Mapping

from locates.errors import FirstspadeError


class BadInput(FirstspadeError):
    """What was given cannot be used; the fields say why."""

    code = "bad_input"


class Conflict(FirstspadeError):
    """What was given is right in itself, but not as things stand."""

    code = "conflict"
    conflict = True


class Forbidden(FirstspadeError):
    """The person's role does not reach this write."""

    code = "forbidden"


class Faults:
    """Gathers the faults of one input, so that a person hears of all of them at once."""

    def __init__(self) -> None:
        self.by_field: dict[str, str] = {}

    def add(self, field: str, words: str) -> None:
        """The first fault of a field stands."""
        self.by_field.setdefault(field, words)

    def need(self, values: Mapping[str, str]) -> None:
        """Each of these texts must hold something."""
        for field, text in values.items():
            if not text.strip():
                self.add(field, "Fill this in.")

    def refuse(self) -> None:
        """Raises BadInput when there is a fault."""
        if self.by_field:
            field, words = next(iter(self.by_field.items()))
            more = len(self.by_field) - 1
            rest = f" {more} more: {', '.join(list(self.by_field)[1:])}." if more else ""
            raise BadInput(f"{field.replace('_', ' ').capitalize()}: {words}{rest}", fields=self.by_field)
