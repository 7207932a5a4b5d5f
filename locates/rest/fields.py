"""Fields that every app's serializers share."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from rest_framework import serializers


class Instant(serializers.DateTimeField):
    """An instant with its offset, ISO 8601; given back in UTC. Without an offset it is refused, because
    the server's zone is rarely the site's."""

    default_error_messages = {"naive": "Give the offset too, as in 2026-09-17T07:00-04:00."}

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("default_timezone", UTC)
        super().__init__(**kwargs)

    def enforce_timezone(self, value: datetime) -> datetime:
        if value.tzinfo is None:
            self.fail("naive")
        return super().enforce_timezone(value)
