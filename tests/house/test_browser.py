"""A real browser reaches the live server, obeys the content security policy and logs in."""

from __future__ import annotations

from typing import Any

import pytest

from crews.models import Person


@pytest.fixture
def refusals(page: Any) -> list[str]:
    """What the browser complained about: blocked scripts, failed files."""
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    return said


@pytest.mark.browser
def test_a_person_logs_in_with_name_and_password(page: Any, refusals: list[str]) -> None:
    Person.objects.create_user("robin", password="spade-and-bucket")
    page.goto("/api/docs")
    assert "/login" in page.url
    page.get_by_label("Name").fill("robin")
    page.get_by_label("Password").fill("spade-and-bucket")
    page.get_by_role("button", name="Log in").click()
    page.wait_for_url("**/api/docs", wait_until="networkidle")
    assert refusals == []


@pytest.mark.browser
def test_the_documentation_of_the_api_shows_its_paths(page: Any, log_in: Any, refusals: list[str]) -> None:
    log_in(Person.objects.create_user("robin"))
    page.goto("/api/docs")
    page.locator(".opblock").first.wait_for()
    assert page.locator(".opblock").count() > 1
    assert refusals == []
