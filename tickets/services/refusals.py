"""Refusals of the office, the gathering of several faults into one, and who may write."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from enum import StrEnum
from typing import Any, TypeVar

from locates.errors import FirstspadeError

Word = TypeVar("Word", bound=StrEnum)


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


class WindowRefused(FirstspadeError):
    """A dig cannot be planned then: why, and the first lawful instant for one of that length."""

    code = "window_refused"
    conflict = True

    def __init__(self, message: str, *, reasons: tuple[str, ...], first_lawful_at: datetime | None) -> None:
        super().__init__(message, fields={"starts_at": message})
        self.reasons = reasons
        self.first_lawful_at = first_lawful_at
        at = None if first_lawful_at is None else first_lawful_at.isoformat()
        self.members: Mapping[str, Any] = {"reasons": list(reasons), "first_lawful_at": at}


class Faults:
    """Gathers the faults of one input, so that a person hears of all of them at once."""

    def __init__(self) -> None:
        self.by_field: dict[str, str] = {}

    def add(self, field: str, words: str) -> None:
        """The first fault of a field stands."""
        self.by_field.setdefault(field, words)

    def take(self, refused: FirstspadeError, *, field: str = "") -> None:
        """Another refusal's faults."""
        for name, words in (refused.fields or {field or "non_field_errors": refused.message}).items():
            self.add(name, words)

    def need(self, **texts: str) -> None:
        """Each of these texts must hold something."""
        for field, text in texts.items():
            if not str(text).strip():
                self.add(field, "fill this in.")

    def word(self, field: str, given: str, words: type[Word]) -> Word | None:
        """The word of the enum, or a fault that lists the words."""
        try:
            return words(given)
        except ValueError:
            self.add(field, f"{given!r} is not known; use one of {', '.join(words)}.")
            return None

    def instant(
        self,
        field: str,
        at: datetime | None,
        *,
        not_before: tuple[datetime, str] | None = None,
        not_after: tuple[datetime, str] | None = None,
        needed: bool = False,
    ) -> None:
        """An aware instant within bounds, each bound with its name in words."""
        if at is None:
            if needed:
                self.add(field, "give the date and time.")
            return
        if at.tzinfo is None:
            self.add(field, "has no time zone; give the offset too.")
        elif not_before is not None and at < not_before[0]:
            self.add(field, f"{at.isoformat()} lies before {not_before[1]} ({not_before[0].isoformat()}).")
        elif not_after is not None and at > not_after[0]:
            self.add(field, f"{at.isoformat()} lies after {not_after[1]} ({not_after[0].isoformat()}).")

    def refuse(self) -> None:
        """Raises BadInput when there is a fault."""
        if self.by_field:
            words = " ".join(f"{field.replace('_', ' ')}: {text}" for field, text in self.by_field.items())
            raise BadInput(f"{words[0].upper()}{words[1:]}", fields=self.by_field)


def need_office(actor: Any) -> None:
    """Raises Forbidden unless the actor is owner or dispatcher."""
    if not (actor.is_active and actor.runs_the_office):
        raise Forbidden("Only the owner or a dispatcher may do this. Ask one of them.")


def need_owner(actor: Any) -> None:
    """Raises Forbidden unless the actor is the owner."""
    if not (actor.is_active and actor.is_owner):
        raise Forbidden("Only the owner may do this. Ask the owner.")


def need_person(actor: Any) -> None:
    """Raises Forbidden unless the actor is a person with a live log-in."""
    if actor is None or not actor.is_active:
        raise Forbidden("A write needs a person with a live log-in.")
