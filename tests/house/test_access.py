"""No address answers a stranger but the few that must."""

from __future__ import annotations

import uuid
from collections.abc import Iterator

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from django.urls.resolvers import LocalePrefixPattern, RegexPattern, RoutePattern

# The log-in page, and what a machine or a logged-out phone must reach. None of them tells a job's facts.
OPEN_TO_ALL = {"/health", "/login"}
# A phone starts from these before it knows who holds it; they are the same bytes for everyone.
SAME_FOR_EVERYONE = {"/service-worker.js", "/manifest.webmanifest"}
EXAMPLE = {"int": "1", "str": "x", "slug": "x", "uuid": str(uuid.UUID(int=1)), "path": "x"}


def addresses(resolver: URLResolver, before: str = "/") -> Iterator[str]:
    """One example address of every pattern under a resolver."""
    for entry in resolver.url_patterns:
        here = before + _example(entry.pattern)
        if isinstance(entry, URLResolver):
            yield from addresses(entry, here)
        elif isinstance(entry, URLPattern):
            yield here


def _example(pattern: RoutePattern | RegexPattern | LocalePrefixPattern) -> str:
    if not isinstance(pattern, RoutePattern):
        return pattern.regex.pattern.lstrip("^").rstrip("$").replace("\\.", ".") if "(" not in str(pattern) else ""
    text = str(pattern)
    for name, converter in pattern.converters.items():
        kind = type(converter).__name__.removesuffix("Converter").lower().replace("string", "str")
        for form in (f"<{kind}:{name}>", f"<{name}>"):
            text = text.replace(form, EXAMPLE.get(kind, "x"))
    return text


ADDRESSES = sorted(set(addresses(get_resolver())))


def test_the_list_of_addresses_was_read() -> None:
    assert {"/health", "/api/docs", "/api/schema"} <= set(ADDRESSES)
    assert any(address.startswith("/api/v1/") for address in ADDRESSES)


@pytest.mark.django_db
@pytest.mark.parametrize("address", [a for a in ADDRESSES if a not in OPEN_TO_ALL | SAME_FOR_EVERYONE])
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_stranger_gets_nothing(address: str, method: str, anonymous: Client) -> None:
    answer = getattr(anonymous, method)(address)
    to_log_in = answer.status_code == 302 and answer.headers["Location"].startswith("/login")
    assert to_log_in or answer.status_code in {401, 403}, (answer.status_code, answer.headers.get("Location"))
