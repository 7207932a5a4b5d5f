"""From a state's code and a notice to its window: picks the version in force and the calendar."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time, timedelta
from functools import lru_cache

from locates.errors import FirstspadeError
from locates.law.decide import LegalClock
from locates.law.decision import Decision
from locates.law.load import jurisdiction
from locates.law.rule import Jurisdiction, Overlay, Version
from locates.law.trace import instant_words
from locates.law.workdays import zone_days


class NoVersionInForce(FirstspadeError):
    code = "no_version_in_force"


class ZoneNeeded(FirstspadeError):
    code = "time_zone_needed"


class NoticeTooFarAhead(FirstspadeError):
    code = "notice_too_far_ahead"


def version_on(law: Jurisdiction, received_at: datetime, zone: str) -> Version:
    """The version in force on the local day of the notice. Raises NoVersionInForce."""
    day = received_at.astimezone(zone_days(zone).tz).date()
    for version in reversed(law.versions):
        if version.holds_from <= day:
            return version
    first = law.versions[0].holds_from.isoformat()
    raise NoVersionInForce(
        f"{law.name}: no rule is on file for a notice of {day.isoformat()}; the first holds from {first}.",
        fields={"received_at": f"before {first}"},
    )


def zone_for(law: Jurisdiction, time_zone: str | None) -> str:
    """The zone the law counts in: the one it fixes state-wide, else the site's. Raises ZoneNeeded."""
    if law.law_time_zone is not None:
        return law.law_time_zone
    if time_zone is not None:
        return time_zone
    if len(law.time_zones) == 1:
        return law.time_zones[0]
    raise ZoneNeeded(
        f"{law.name} lies in more than one time zone; name the site's: {', '.join(law.time_zones)}.",
        fields={"time_zone": "needed"},
    )


def clock_for(state: str, received_at: datetime, time_zone: str | None = None) -> LegalClock:
    """The legal clock that judges a notice. Raises UnknownJurisdiction, NoVersionInForce, ZoneNeeded."""
    newest_from, newest, zone = _newest(state, time_zone)
    if received_at.tzinfo is None or received_at < newest_from:
        law = jurisdiction(state.upper())
        return _clock(law.code, version_on(law, received_at, zone).id, zone)
    return newest


@lru_cache(maxsize=1024)
def _newest(state: str, time_zone: str | None) -> tuple[datetime, LegalClock, str]:
    """The instant from which a state's newest version holds, its clock, the zone the law counts in."""
    law = jurisdiction(state.upper())
    zone = zone_for(law, time_zone)
    version = law.versions[-1]
    holds_from = datetime.combine(version.holds_from, time(), zone_days(zone).tz)
    return holds_from, _clock(law.code, version.id, zone), zone


@lru_cache(maxsize=256)
def _clock(state: str, version_id: str, zone: str) -> LegalClock:
    version = next(v for v in jurisdiction(state).versions if v.id == version_id)
    return LegalClock(version, zone)


def window_for(
    state: str,
    received_at: datetime,
    time_zone: str | None = None,
    *,
    now: datetime | None = None,
    stated_start: datetime | None = None,
    printed_start: datetime | None = None,
    printed_expiry: datetime | None = None,
    work_begun_at: datetime | None = None,
    overlays: Sequence[Overlay] = (),
    trace: bool = True,
) -> Decision:
    """The window of one notice in a state, `time_zone` being the site's.

    With `now`, a notice dated in the future beyond the state's maximum advance is refused
    (NoticeTooFarAhead). Raises also what `clock_for` and `LegalClock.decide` raise.
    """
    clock = clock_for(state, received_at, time_zone)
    if now is not None and received_at > now:
        _refuse_far_ahead(clock, received_at, now)
    return clock.decide(
        received_at,
        stated_start=stated_start,
        printed_start=printed_start,
        printed_expiry=printed_expiry,
        work_begun_at=work_begun_at,
        overlays=overlays,
        trace=trace,
    )


def _refuse_far_ahead(clock: LegalClock, received_at: datetime, now: datetime) -> None:
    latest = clock.decide(now, trace=False).latest_start
    limit = latest if latest is not None else now + timedelta(days=366)
    if received_at > limit:
        raise NoticeTooFarAhead(
            f"The notice is dated {instant_words(received_at.astimezone(clock.zone.tz))}, beyond "
            f"{instant_words(limit.astimezone(clock.zone.tz))}, the furthest the law lets a start be announced; "
            "check the date.",
            fields={"received_at": "too far in the future"},
        )
