"""The cautions that travel with every value this engine returns. Pure.

Sources: 29 CFR 1926.651(b)(3) (exact location by safe and acceptable means near the estimated
location); the rest is common practice, no source.
"""

from __future__ import annotations

DEPTH_IS_NOT_PERMISSION = (
    "A depth from a reading never permits machine digging inside a zone. Dig by hand or vacuum and expose "
    "the line first (29 CFR 1926.651(b)(3))."
)
UNKNOWN_IS_NOT_CLEAR = "Not found is not the same as not there: unknown ground is never clear to dig."
LAW_RULES = "The law of the state, the notification centre, the operator and the local code rule over this reckoning."
COMPETENT_PERSON = (
    "A competent person on site decides on soil class and protection, each day and after every rain or other "
    "change (29 CFR 1926.651(k)(1)); this reckoning does not replace that decision."
)
PROTECT_BEFORE_ENTRY = (
    "Nobody enters an unprotected excavation 5 ft deep or more, or a shallower one that may cave in "
    "(29 CFR 1926.652(a)(1))."
)
ENERGISED = (
    "Connecting to a power conductor or clamping round one is work for a qualified person with rated "
    "equipment; never connect to a line that is or may be energised without one."
)
