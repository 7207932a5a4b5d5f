"""The time zone of a position, and when to doubt it. Pure.

Zones: the boundaries of the package timezonefinder (from OpenStreetMap, ODbL). They follow what people
keep; the legal clock follows 49 CFR part 71. Where the two are known to differ, the legal zone is given
and the difference is said.
"""

from __future__ import annotations

from datetime import UTC, datetime
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from timezonefinder import TimezoneFinder

from locates.place.counties import County, ring

# 49 CFR 71.5 runs the line between the Eastern and the Central zone along the state line of Georgia and
# Alabama (the section's title read; its Georgia-Alabama paragraph from memory), so all of Alabama is
# Central by law; towns along the Chattahoochee keep Eastern time by custom and the data follows them.
LEGAL_ZONE_OF_STATE = {"AL": ("America/Chicago", "49 CFR 71.5")}
SEASONS = (datetime(2026, 1, 15, 12, tzinfo=UTC), datetime(2026, 7, 15, 12, tzinfo=UTC))
POINTS_ON_RING = 8


@lru_cache(maxsize=1)
def finder() -> TimezoneFinder:
    """The zone shapes, read once a process."""
    return TimezoneFinder()


def is_zone(name: str) -> bool:
    """Whether a name is an IANA time zone."""
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def same_clock(one: str, other: str) -> bool:
    """Whether two zones show the same time in winter and in summer (they may differ in the past)."""
    return all(
        when.astimezone(ZoneInfo(one)).utcoffset() == when.astimezone(ZoneInfo(other)).utcoffset() for when in SEASONS
    )


def zone_of(lat: float, lon: float, county: County, distance_m: float) -> tuple[str | None, str | None]:
    """(IANA name, doubt): the zone at a position, and a sentence when a person should confirm it.

    A doubt arises where law and custom differ and where another zone begins within distance_m.
    """
    kept = finder().timezone_at(lat=lat, lng=lon)
    legal = LEGAL_ZONE_OF_STATE.get(county.state_code)
    if legal and kept and not same_clock(kept, legal[0]):
        return legal[0], (
            f"{county.legal_name} keeps {kept} by custom, but its legal zone is {legal[0]} ({legal[1]}). "
            "Ask the notification centre which clock it counts by, and choose the zone yourself."
        )
    if kept is None:
        return None, None
    others = sorted(name for name in _zones_around(lat, lon, distance_m) if not same_clock(kept, name))
    if not others:
        return kept, None
    return kept, (
        f"{others[0]} begins within {distance_m / 1000:g} km of this {kept} position. Confirm the time zone."
    )


def _zones_around(lat: float, lon: float, distance_m: float) -> set[str]:
    outline = ring(lat, lon, distance_m).exterior
    found = set()
    for step in range(POINTS_ON_RING):
        point = outline.interpolate(step / POINTS_ON_RING, normalized=True)
        name = finder().timezone_at(lat=point.y, lng=point.x)
        if name and not name.startswith("Etc/"):
            found.add(name)
    return found
