"""Position in, place out: which state's law, which clock, and what a person should confirm. Pure."""

from __future__ import annotations

import math
from dataclasses import dataclass

from locates.errors import FirstspadeError
from locates.place.counties import County, find
from locates.place.zone import is_zone, zone_of

ASK_WITHIN_M = 1_000.0  # the shapes are simplified; within this distance of a state line a person decides
STATE_LIST = (
    *("AL", "AK", "AZ", "AR", "CA", "CO", "CT", "DE", "DC", "FL", "GA", "HI", "ID", "IL", "IN", "IA", "KS"),
    *("KY", "LA", "ME", "MD", "MA", "MI", "MN", "MS", "MO", "MT", "NE", "NV", "NH", "NJ", "NM", "NY", "NC"),
    *("ND", "OH", "OK", "OR", "PA", "RI", "SC", "SD", "TN", "TX", "UT", "VT", "VA", "WA", "WV", "WI", "WY"),
)
STATES = frozenset(STATE_LIST)
TERRITORIES = {
    "AS": "American Samoa",
    "GU": "Guam",
    "MP": "the Northern Mariana Islands",
    "PR": "Puerto Rico",
    "VI": "the U.S. Virgin Islands",
}


class PositionError(FirstspadeError):
    """A position, state or zone that cannot be used."""

    code = "position"


@dataclass(frozen=True)
class Place:
    """What a position means for the law and the clock.

    `near_state_line` asks a person to confirm the state; `nearby_states` names the others within 1 km.
    `zone_doubt` is a sentence to show beside the time zone, None when nothing speaks against it.
    """

    state_code: str
    time_zone: str
    near_state_line: bool
    zone_doubt: str | None
    county_name: str
    nearby_states: tuple[str, ...] = ()


def resolve(lat: float, lon: float, *, state_code: str | None = None, time_zone: str | None = None) -> Place:
    """The place of a position in degrees (WGS 84; north and east positive).

    `state_code` and `time_zone` are a person's own choice: they win, and end the question they answer.
    A chosen state must be the one found or one within 1 km of the position.
    Raises PositionError for a number that is no latitude or longitude, a position outside the fifty
    states and DC (by name where it is a territory), an unknown zone, a state that is not there.
    """
    _check_numbers(lat, lon)
    found = find(lat, lon, ASK_WITHIN_M)
    county = found.county or (found.around[0] if found.around else None)
    if county is None:
        raise PositionError(
            f"The position {lat:.5f}, {lon:.5f} lies outside the United States. "
            "West is negative here: check the sign of the longitude and the order of the two numbers.",
            fields={"lat": "outside the United States", "lon": "outside the United States"},
        )
    nearby = tuple(sorted({other.state_code for other in found.around} & STATES))
    chosen = _chosen_state(state_code, county, nearby)
    if chosen in TERRITORIES:
        raise PositionError(
            f"The position {lat:.5f}, {lon:.5f} lies in {TERRITORIES[chosen]}. Only the rules of the fifty states "
            "and DC are held here; ask the authority there.",
            fields={"lat": f"in {TERRITORIES[chosen]}"},
        )
    home = next((c for c in (county, *found.around) if c.state_code == chosen), county)
    zone, doubt = _chosen_zone(time_zone) or zone_of(lat, lon, home, ASK_WITHIN_M)
    if zone is None:
        raise PositionError(
            f"No time zone is known for {lat:.5f}, {lon:.5f}; choose one.", fields={"time_zone": "choose one"}
        )
    others = tuple(code for code in nearby if code != chosen)
    at_the_line = bool(others) or found.county is None
    return Place(chosen, zone, at_the_line and state_code is None, doubt, home.legal_name, others)


def _check_numbers(lat: float, lon: float) -> None:
    for name, value, limit in (("lat", lat, 90.0), ("lon", lon, 180.0)):
        if not math.isfinite(value) or abs(value) > limit:
            raise PositionError(
                f"{name} is {value}; give degrees between -{limit:g} and {limit:g}.",
                fields={name: f"between -{limit:g} and {limit:g}"},
            )


def _chosen_state(given: str | None, county: County, nearby: tuple[str, ...]) -> str:
    if given is None:
        return county.state_code
    code = given.strip().upper()
    if code in nearby:
        return code
    raise PositionError(
        f"State {given!r} is not within 1 km of this position, which lies in {county.state_code}. "
        "Correct the position or the state.",
        fields={"state_code": f"the position lies in {county.state_code}"},
    )


def _chosen_zone(given: str | None) -> tuple[str, None] | None:
    if given is None:
        return None
    if not is_zone(given):
        raise PositionError(
            f"{given!r} is not a time zone; give an IANA name such as America/Chicago.",
            fields={"time_zone": "an IANA name such as America/Chicago"},
        )
    return given, None
