"""Reading a local date and time as a person writes it, in a site's zone. Ambiguity is named, not guessed."""

from __future__ import annotations

from datetime import UTC, datetime

from locates.errors import FirstspadeError
from locates.law.workdays import zone_days


class BadInstant(FirstspadeError):
    code = "bad_instant"


def read_instant(text: str, zone: str, name: str = "received") -> datetime:
    """An aware instant from ISO 8601 text such as 2026-11-25T10:00, local to `zone` unless it has an offset.

    Raises BadInstant for text that is no date and time, for a local time that the change to summer time
    leaves out, and for one that comes twice when the clocks go back (write the offset to say which).
    """
    try:
        given = datetime.fromisoformat(text.strip())
    except ValueError as problem:
        raise BadInstant(
            f"{name}: '{text}' is not a date and time ({problem}); write it as 2026-11-25T10:00.",
            fields={name: "not a date and time"},
        ) from None
    if given.tzinfo is not None:
        return given
    tz = zone_days(zone).tz
    first, second = given.replace(tzinfo=tz, fold=0), given.replace(tzinfo=tz, fold=1)
    if first.utcoffset() == second.utcoffset():
        return first
    if first.astimezone(UTC).astimezone(tz).replace(tzinfo=None) != given:
        raise BadInstant(
            f"{name}: {text} does not exist in {zone}: the clocks go forward over it; check the time.",
            fields={name: "left out by the clock change"},
        )
    offsets = " or ".join(d.isoformat()[-6:] for d in (first, second))
    raise BadInstant(
        f"{name}: {text} comes twice in {zone}, as the clocks go back; add the offset, {offsets}.",
        fields={name: "comes twice at the clock change"},
    )
