"""The content security policy on every answer: pages load nothing from elsewhere."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase

NAME = "Content-Security-Policy"


def policy_text(policy: dict[str, list[str]]) -> str:
    """The header's text of a policy given as directive -> sources."""
    return "; ".join(f"{directive} {' '.join(sources)}" for directive, sources in policy.items())


def content_security_policy(
    get_response: Callable[[HttpRequest], HttpResponseBase],
) -> Callable[[HttpRequest], HttpResponseBase]:
    """Middleware: sets the header unless the view has set its own."""
    text = policy_text(settings.CONTENT_SECURITY_POLICY)

    def answer(request: HttpRequest) -> HttpResponseBase:
        response = get_response(request)
        response.headers.setdefault(NAME, text)
        return response

    return answer
