"""Each system check speaks up with its id and a hint, and is silent when all is well."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from django.core.checks import run_checks

from locates import checks


def test_the_settings_under_test_pass_every_check() -> None:
    ours = [message for message in run_checks() if str(message.id).startswith("locates.E")]
    assert ours == []


def test_an_unknown_zone_is_an_error(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checks, "settings", SimpleNamespace(TIME_ZONE="Mars/Olympus"))
    [message] = checks.time_zone_is_known(None)
    assert message.id == "locates.E001"
    assert message.hint


def test_a_short_key_is_a_warning_unless_debugging(settings: Any) -> None:
    settings.SECRET_KEY = "short"
    settings.DEBUG = False
    [message] = checks.secret_key_is_long(None)
    assert (message.id, bool(message.hint)) == ("locates.W001", True)
    settings.DEBUG = True
    assert checks.secret_key_is_long(None) == []


def test_a_star_among_the_hosts_is_a_warning(settings: Any) -> None:
    settings.DEBUG = False
    settings.ALLOWED_HOSTS = ["*"]
    [message] = checks.hosts_are_named(None)
    assert (message.id, bool(message.hint)) == ("locates.W002", True)
    settings.ALLOWED_HOSTS = ["dig.example"]
    assert checks.hosts_are_named(None) == []


@pytest.mark.parametrize(("vendor", "ids"), [("mysql", ["locates.E002"]), ("postgresql", []), ("sqlite", [])])
def test_only_two_databases_are_supported(vendor: str, ids: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checks, "connections", {"default": SimpleNamespace(vendor=vendor)})
    assert [message.id for message in checks.database_is_supported(None)] == ids


def test_an_old_sqlite_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checks, "connections", {"default": SimpleNamespace(vendor="sqlite")})
    monkeypatch.setattr(checks.sqlite3, "sqlite_version_info", (3, 31, 1))
    assert [message.id for message in checks.database_is_supported(None)] == ["locates.E003"]
