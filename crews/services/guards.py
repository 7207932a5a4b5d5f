"""Who may do what, and checks that several writes share."""

from __future__ import annotations

from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from crews.models import Person
from tickets.services.refusals import Faults, Forbidden

# The outline of the fifty states, degrees; the Aleutians beyond 180 degrees have no yards.
LATITUDES = (18.0, 72.0)
LONGITUDES = (-180.0, -65.0)


def need_owner(actor: Person) -> None:
    """Raises Forbidden unless the actor is the owner."""
    if not (actor.is_active and actor.is_owner):
        raise Forbidden("Only the owner may change this. Ask the owner.")


def check_zone(faults: Faults, name: str) -> None:
    """The name must be an IANA zone."""
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        faults.add("time_zone", f"{name!r} is not a time zone; use a name such as America/Chicago.")


def check_position(faults: Faults, latitude: float, longitude: float, *, field: str = "yard_latitude") -> None:
    """The position must lie in the country; a swapped pair is named as such, beside `field`."""
    if _in_country(latitude, longitude):
        return
    if _in_country(longitude, latitude):
        faults.add(field, "Latitude and longitude are swapped; latitude is the one near 25 to 50.")
    else:
        faults.add(field, f"{latitude}, {longitude} is outside the United States.")


def _in_country(latitude: float, longitude: float) -> bool:
    return LATITUDES[0] <= latitude <= LATITUDES[1] and LONGITUDES[0] <= longitude <= LONGITUDES[1]
