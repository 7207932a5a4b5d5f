"""The only reading of the time. Read once per operation and passed on; frozen in tests. Pure."""

from __future__ import annotations

from datetime import UTC, datetime


def now() -> datetime:
    """The present instant, aware, in UTC."""
    return datetime.now(UTC)
