"""What the push parts raise. Pure."""

from __future__ import annotations

from locates.errors import FirstspadeError


class PushError(FirstspadeError):
    """A subscription or a key that cannot be used; the fields say why."""

    code = "push_refused"


class NotSent(Exception):
    """The message did not arrive. `gone`: the subscription is no more; `again_after_s`: how long the push
    service wants to be left alone, None when it says nothing."""

    def __init__(self, words: str, *, gone: bool = False, again_after_s: int | None = None) -> None:
        super().__init__(words)
        self.gone = gone
        self.again_after_s = again_after_s
