"""The health address tells whether the database answers, and no more."""

from __future__ import annotations

import pytest
from django.db import OperationalError
from django.test import Client

from locates import health


@pytest.mark.django_db
def test_a_stranger_may_ask_and_learns_only_that(anonymous: Client) -> None:
    answer = anonymous.get("/health")
    assert (answer.status_code, answer.json()) == (200, {"status": "ok"})
    assert "no-store" in answer.headers["Cache-Control"]


def test_a_silent_database_is_503(anonymous: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    class Silent:
        def cursor(self) -> None:
            raise OperationalError("gone")

    monkeypatch.setattr(health, "connection", Silent())
    assert anonymous.get("/health").status_code == 503


def test_only_reading_is_allowed(anonymous: Client) -> None:
    assert anonymous.post("/health").status_code == 405
