"""System checks of the settings, each with an id and a hint."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error, Warning, register
from django.db import connections

SQLITE_WANTED = (3, 35)  # RETURNING and the window functions that the selectors use
KEY_LENGTH = 32


@register()
def time_zone_is_known(app_configs: Sequence[AppConfig] | None, **_: Any) -> list[CheckMessage]:
    """The company's zone must be one of the IANA names, or no time on any page can be shown."""
    try:
        ZoneInfo(settings.TIME_ZONE)
    except (ZoneInfoNotFoundError, ValueError):
        return [
            Error(
                f"TIME_ZONE is {settings.TIME_ZONE!r}, which is not a time zone.",
                hint="Use an IANA name such as America/Chicago.",
                id="locates.E001",
            )
        ]
    return []


@register()
def secret_key_is_long(app_configs: Sequence[AppConfig] | None, **_: Any) -> list[CheckMessage]:
    """A short key can be guessed, and sessions with it."""
    if settings.DEBUG or len(settings.SECRET_KEY) >= KEY_LENGTH:
        return []
    return [
        Warning(
            f"SECRET_KEY has {len(settings.SECRET_KEY)} characters.",
            hint=f"Use {KEY_LENGTH} or more: python3 -c 'import secrets; print(secrets.token_urlsafe(48))'",
            id="locates.W001",
        )
    ]


@register()
def hosts_are_named(app_configs: Sequence[AppConfig] | None, **_: Any) -> list[CheckMessage]:
    """A star lets anybody's host name into links and password mails."""
    if settings.DEBUG or "*" not in settings.ALLOWED_HOSTS:
        return []
    return [
        Warning(
            "ALLOWED_HOSTS contains '*'.",
            hint="Name the hosts that serve this company, separated by commas.",
            id="locates.W002",
        )
    ]


@register()
def database_is_supported(app_configs: Sequence[AppConfig] | None, **_: Any) -> list[CheckMessage]:
    """The evidence log's triggers exist for SQLite and PostgreSQL only."""
    vendor = connections["default"].vendor
    if vendor not in {"sqlite", "postgresql"}:
        return [
            Error(
                f"DATABASE_URL leads to {vendor}, which cannot guard the evidence log.",
                hint="Use postgresql://… or leave DATABASE_URL unset for SQLite.",
                id="locates.E002",
            )
        ]
    if vendor == "sqlite" and sqlite3.sqlite_version_info < SQLITE_WANTED:
        return [
            Error(
                f"SQLite {sqlite3.sqlite_version} is too old.",
                hint="SQLite 3.35 or newer is needed; a newer Python brings one.",
                id="locates.E003",
            )
        ]
    return []
