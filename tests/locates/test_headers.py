"""Every answer carries the content security policy; pages load nothing from elsewhere."""

from __future__ import annotations

from django.http import HttpResponse
from django.test import Client, RequestFactory

from locates.headers import NAME, content_security_policy, policy_text


def test_every_answer_carries_the_policy(anonymous: Client) -> None:
    policy = anonymous.post("/health").headers[NAME]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert "http:" not in policy
    assert "https:" not in policy


def test_other_protections_are_set(anonymous: Client) -> None:
    headers = anonymous.post("/health").headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"


def test_a_view_may_set_its_own(rf: RequestFactory) -> None:
    answer = content_security_policy(lambda request: HttpResponse(headers={NAME: "default-src 'none'"}))
    assert answer(rf.get("/")).headers[NAME] == "default-src 'none'"


def test_the_text_of_a_policy() -> None:
    policy = {"default-src": ["'self'"], "img-src": ["'self'", "data:"]}
    assert policy_text(policy) == "default-src 'self'; img-src 'self' data:"
