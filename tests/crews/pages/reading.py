"""What the page tests of this folder share."""

from __future__ import annotations

from typing import Any

from django.test import Client


def text(client: Client, address: str, **more: Any) -> str:
    """A page that must be there, as text."""
    answer = client.get(address, **more)
    assert answer.status_code == 200, answer.status_code
    return answer.content.decode()
