"""The tolerance zone that the state's law gives a site, in words and figures. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from locates.law.load import UnknownJurisdiction, jurisdiction
from locates.law.window import NoVersionInForce, version_on
from tickets.gathering import zone_words


@dataclass(frozen=True, slots=True)
class SiteZone:
    """`words` name the width, `more` what the law adds, `citation` the text it comes from."""

    inches_each_side: int
    measured_from: str
    plus_half_width: bool
    words: str
    more: str
    citation: str
    unverified: bool


def site_zone(state: str, time_zone: str, at: datetime) -> SiteZone | None:
    """The zone by the version of the law in force at the site on that day; None where none is on file."""
    try:
        version = version_on(jurisdiction(state), at, time_zone)
    except (UnknownJurisdiction, NoVersionInForce):
        return None
    zone = version.zone
    return SiteZone(
        inches_each_side=zone.inches_each_side,
        measured_from=zone.measured_from,
        plus_half_width=zone.plus_half_width,
        words=zone_words(zone),
        more=zone.words,
        citation=zone.ground.citation(),
        unverified=not zone.ground.tier.verified,
    )
