"""The cautions that go with every answer on every page, in the API and in print. Pure.

Sources: 29 CFR 1926.651(b)(2) and (3) (proceeding with caution and detection equipment; exact location by
safe and acceptable means near the estimate), 49 CFR 196.103 (notice, wait, regard for marks), 196.107 (any
damage to a pipeline is reported to its operator), 196.109 (a release: call 911). The rest is common
practice, no source.
"""

from __future__ import annotations

from typing import NamedTuple


class Caution(NamedTuple):
    """`code` is stable; `words` are for a person; `source` is empty where it is common practice."""

    code: str
    words: str
    source: str = ""


COMPUTED_AID = Caution(
    "computed_aid",
    "This is a computed aid. The law and the notification centre's word prevail over it.",
)
LICENSED_PRACTICE = Caution(
    "licensed_practice",
    "Local codes, permits and licensed practice decide how the work is done.",
)
UNKNOWN_IS_NO = Caution(
    "unknown_is_no",
    "Unknown is never clear to dig. No mark does not mean no line.",
)
HAND_DIG = Caution(
    "hand_dig",
    "Inside the tolerance zone dig by hand or vacuum and expose the line before any machine comes near.",
    "29 CFR 1926.651(b)(3)",
)
MARKS_GONE = Caution(
    "marks_gone",
    "Marks missing, faded or not matching the ground: stop, and ask the notification centre for a re-mark.",
)
PRIVATE_LINES = Caution(
    "private_lines",
    "The operators mark their own lines only. Lines past the meter are the owner's: have them located.",
)
DAMAGE = Caution(
    "damage",
    "Any contact with a line, even a scratch: stop, tell its operator and the notification centre at once.",
    "49 CFR 196.107",
)
EMERGENCY = Caution(
    "emergency",
    "Gas or liquid escaping: leave the area upwind, make no spark, keep others away, then call 911 and the "
    "operator. Do not try to close or bury the leak.",
    "49 CFR 196.109",
)
POWER_STRIKE = Caution(
    "power_strike",
    "Power line struck: stay on the machine unless it burns, keep others away, call 911 and the operator.",
)

EVERY_PAGE = (COMPUTED_AID, LICENSED_PRACTICE)
AT_THE_SITE = (UNKNOWN_IS_NO, HAND_DIG, MARKS_GONE, PRIVATE_LINES, DAMAGE, EMERGENCY, POWER_STRIKE)


def for_site(zone_words: str = "") -> tuple[Caution, ...]:
    """The cautions of a dig site, the general ones first. `zone_words` says how wide the state's tolerance
    zone is; empty says that it is not known, and then the whole dig area is to be treated as zone."""
    words = zone_words or "The tolerance zone is not known here: treat the whole dig area as the zone."
    return (*EVERY_PAGE, Caution("tolerance_zone", words), *AT_THE_SITE)
