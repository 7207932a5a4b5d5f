"""A window before anything is saved: for the entry pages and the law's page. Stores nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from locates.errors import FirstspadeError
from locates.law.decision import Decision
from locates.law.load import jurisdiction
from locates.law.window import clock_for, window_for
from tickets.deadlines import overlays_of
from tickets.models import Site
from tickets.pages.words import local_words
from tickets.selectors import local_rules_of
from tickets.states import TicketKind


@dataclass(frozen=True)
class Look:
    """What can be said so far. `zone` is the site's; `missing` says what is still needed, in words."""

    zone: str = "UTC"
    place_words: str = ""
    decision: Decision | None = None
    answers_until: datetime | None = None
    words: str = ""
    missing: str = ""
    refusal: str = ""
    local_rules: tuple[str, ...] = ()


def look_at(
    *,
    site: Site | None,
    kind: str,
    notice: Mapping[str, Any],
    now: datetime,
    begun_at: datetime | None = None,
) -> Look:
    """The window that the notice would get at the site, under the company's local rules there."""
    if site is None:
        return Look(missing="Give the site's position: it decides whose law and which clock hold.")
    law = jurisdiction(site.state)
    county = f"{site.county}, " if site.county else ""
    placed = f"The site lies in {county}{law.name}; its clock is {site.time_zone}."
    received = notice.get("received_at")
    if not isinstance(received, datetime):
        missing = "Say when the notice was received: the wait counts from there."
        return Look(zone=site.time_zone, place_words=placed, missing=missing)
    rules = local_rules_of(site)
    named = tuple(rule.name for rule in rules)
    try:
        return _judged(site, kind, notice, now, begun_at, placed, named)
    except FirstspadeError as refused:
        words = local_words(refused.message, site.time_zone)
        return Look(zone=site.time_zone, place_words=placed, refusal=words, local_rules=named)


def _judged(
    site: Site,
    kind: str,
    notice: Mapping[str, Any],
    now: datetime,
    begun_at: datetime | None,
    placed: str,
    named: tuple[str, ...],
) -> Look:
    received, zone = notice["received_at"], site.time_zone
    if kind == TicketKind.EMERGENCY:
        words = (
            "An emergency notice opens no window. Declare the emergency on the job's page; the duties stand there."
        )
        return Look(zone=zone, place_words=placed, words=words, local_rules=named)
    if kind == TicketKind.SECOND_NOTICE:
        until = clock_for(site.state, received, zone).second_notice_until(received)
        words = "" if until else "The law on file names no further wait: ask the notification centre how long."
        return Look(zone=zone, place_words=placed, answers_until=until, words=words, local_rules=named)
    decision = window_for(
        site.state,
        received,
        zone,
        now=now,
        stated_start=notice.get("stated_start_at") or None,
        printed_start=notice.get("printed_start_at") or None,
        printed_expiry=notice.get("printed_expiry_at") or None,
        work_begun_at=begun_at,
        overlays=overlays_of(local_rules_of(site)),
    )
    return Look(zone=zone, place_words=placed, decision=decision, local_rules=named)


__all__ = ["Look", "look_at"]
