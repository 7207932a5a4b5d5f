"""No address answers a stranger but the few that must."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from itertools import product

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from django.utils.regex_helper import normalize

# The log-in page, and what a watching machine asks. Neither tells a job's facts.
# A crew's calendar is open to whoever has its address, which is the secret; a wrong one is not found.
OPEN_TO_ALL = {"/health", "/login", "/calendar/crew/1.ics"}
EXAMPLES = ("1", str(uuid.UUID(int=1)), "json", "x")


def addresses(resolver: URLResolver, before: str = "/") -> Iterator[str]:
    """One example address of every pattern under a resolver."""
    for entry in resolver.url_patterns:
        here = before + example(entry.pattern.regex)
        if isinstance(entry, URLResolver):
            yield from addresses(entry, here)
        elif isinstance(entry, URLPattern):
            yield here


def example(pattern: re.Pattern[str]) -> str:
    """A text that the pattern matches."""
    form, names = normalize(pattern.pattern)[0]
    for values in product(EXAMPLES, repeat=len(names)):
        text = form % dict(zip(names, values, strict=True))
        if pattern.match(text):
            return text
    raise AssertionError(f"no example fits {pattern.pattern}; add one to EXAMPLES")


ADDRESSES = sorted(set(addresses(get_resolver())))


def test_the_list_of_addresses_was_read() -> None:
    assert {"/health", "/api/docs", "/api/schema"} <= set(ADDRESSES)
    assert any(address.startswith("/api/v1/") for address in ADDRESSES)


@pytest.mark.django_db
@pytest.mark.parametrize("address", [a for a in ADDRESSES if a not in OPEN_TO_ALL])
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_stranger_gets_nothing(address: str, method: str, anonymous: Client) -> None:
    answer = getattr(anonymous, method)(address)
    to_log_in = answer.status_code == 302 and answer.headers["Location"].startswith("/login")
    assert to_log_in or answer.status_code in {401, 403}, (answer.status_code, answer.headers.get("Location"))
