"""The one base error: what is wrong, where, what to do. Pure."""

from __future__ import annotations

from collections.abc import Mapping


class FirstspadeError(Exception):
    """A refusal that a person can act on.

    `code` is a stable machine word (snake_case), `message` one plain sentence that says what was
    given, what is wanted and what to do, `fields` the input names at fault with a message each.
    Raised by every layer; the API turns it into problem details, a page into words beside the field.
    """

    code = "refused"

    def __init__(self, message: str, *, code: str | None = None, fields: Mapping[str, str] | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.code = code or type(self).code
        self.fields: dict[str, str] = dict(fields or {})

    def __str__(self) -> str:
        return self.message
