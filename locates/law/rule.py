"""The frozen values of an excavation-notice law: what a data file says, once loaded.

A `Jurisdiction` holds dated `Version`s; a notice is judged by the version in force on the local day it
was received. Every part carries a `Ground`: how good its evidence is, what it cites, what is in doubt.
Times of day are local to the site, unless the jurisdiction counts in one zone (`law_time_zone`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, time
from enum import StrEnum


class Tier(StrEnum):
    """How good the evidence is, best first."""

    STATUTE = "statute"
    CENTRE = "centre"
    SECONDARY = "secondary"
    MEMORY = "memory"

    @property
    def rank(self) -> int:
        """0 for the best; a larger number is weaker evidence."""
        return _TIER_ORDER[self]

    @property
    def verified(self) -> bool:
        """True when the text of the law or the notification centre's own page was read."""
        return self in (Tier.STATUTE, Tier.CENTRE)


_TIER_ORDER = {Tier.STATUTE: 0, Tier.CENTRE: 1, Tier.SECONDARY: 2, Tier.MEMORY: 3}


class Unit(StrEnum):
    HOURS = "hours"
    WORKING_DAYS = "working_days"
    CALENDAR_DAYS = "calendar_days"


class Begins(StrEnum):
    """Where the count of the wait begins."""

    NOTICE_INSTANT = "notice_instant"
    NEXT_DAY = "next_day"
    NEXT_WORKING_DAY = "next_working_day"


class Ends(StrEnum):
    """Where the first lawful instant lies once the amount is counted out."""

    SAME_CLOCK = "same_clock"  # the moment the counted hours have run out
    LAST_DAY = "last_day"  # the last counted day is itself the first lawful day
    DAY_AFTER = "day_after"  # the calendar day after the last counted day
    NEXT_WORKING_DAY = "next_working_day"  # the next working day after the last counted day


class Anchor(StrEnum):
    """What a validity or a start-by limit is counted from."""

    NOTICE = "notice"
    OPENS = "opens"  # the first lawful instant
    STATED_START = "stated_start"  # the start named in the notice; the first lawful instant when none was
    RESPONSE_DUE = "response_due"  # the last counted day of the wait


class Closes(StrEnum):
    """The clock time at which a validity ends on its last day."""

    SAME_CLOCK = "same_clock"
    START_OF_DAY = "start_of_day"
    END_OF_DAY = "end_of_day"
    AT = "at"  # at `ends_time`


class EarlyStart(StrEnum):
    NEVER = "never"
    ALL_ANSWERED = "all_answered"
    ALL_NO_FACILITIES = "all_no_facilities"


class Silence(StrEnum):
    """What an unanswered second notice allows. Where not known: wait."""

    WAIT = "wait"
    PROCEED_WITH_CARE = "proceed_with_care"


@dataclass(frozen=True, slots=True)
class Source:
    """A published text. `read_on` is the day the value was last compared with it or with notes on it;
    `edition` is the date or edition of the text itself, as far as known."""

    id: str
    title: str
    section: str
    url: str
    tier: Tier
    edition: str
    read_on: date


@dataclass(frozen=True, slots=True)
class Ground:
    """The evidence under a part of a rule."""

    tier: Tier
    cites: tuple[Source, ...]
    doubt: str = ""  # what is silent or in conflict, and which reading was taken

    def citation(self) -> str:
        """The cited texts, shortest useful form, joined by '; '."""
        return "; ".join(s.title if not s.section else f"{s.title}, {s.section}" for s in self.cites)


@dataclass(frozen=True, slots=True)
class Span:
    amount: int
    unit: Unit


@dataclass(frozen=True, slots=True)
class Wait:
    """The waiting period between notice and the first lawful instant."""

    ground: Ground
    amount: int
    unit: Unit
    begins: Begins
    ends: Ends
    begins_time: time | None = None  # clock time the count begins on that day, for hours
    ends_time: time | None = None  # clock time on the day that `ends` names
    skips: frozenset[str] = frozenset({"saturday", "sunday", "holiday"})
    counts_notice_day_if_by: time | None = None


@dataclass(frozen=True, slots=True)
class Receipt:
    """When a notice given outside the hours is taken as received. None in a field: no such rule."""

    ground: Ground
    opens: time | None = None  # earlier on a working day: taken as received at this time
    closes: time | None = None  # later on a working day: taken as received on the next working day
    next_day_time: time | None = None  # at this time of that next working day (start of day if None)
    non_working_day: str = "as_received"  # or "next_working_day"


@dataclass(frozen=True, slots=True)
class SpecialNotice:
    """A notice day for which the law itself names the first lawful instant."""

    ground: Ground
    on: str  # weekday name of the notice
    opens_on: str  # weekday name, the next one after the notice day
    opens_time: time
    one_day_later_if_holiday: str | None = None  # weekday name between the two


@dataclass(frozen=True, slots=True)
class Advance:
    ground: Ground
    span: Span


@dataclass(frozen=True, slots=True)
class Validity:
    """How long a ticket lives, or (as `begin_work`) by when work must have begun."""

    ground: Ground
    span: Span | None  # None: no fixed life
    anchor: Anchor = Anchor.NOTICE
    anchor_day_counts: bool = False
    closes: Closes = Closes.SAME_CLOCK
    ends_time: time | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class Renewal:
    """When to renew. Beside these, the engine asks that the renewal's own wait ends by the expiry."""

    ground: Ground
    earliest: Span | None = None  # not earlier than this before the expiry
    latest: Span | None = None  # not later than this before the expiry
    notice_day_counts: bool = False
    words: str = ""


@dataclass(frozen=True, slots=True)
class Answers:
    ground: Ground
    required: bool = True
    all_must_answer: bool = True  # False: silence after the wait suffices
    early_start: EarlyStart = EarlyStart.NEVER
    due: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class SecondNotice:
    """The further wait after telling the centre that an operator did not answer."""

    ground: Ground
    span: Span | None = None  # None: the length is not known
    working_hours_only: bool = False
    silence_then: Silence = Silence.WAIT
    words: str = ""


@dataclass(frozen=True, slots=True)
class Zone:
    """Tolerance zone, each side. `measured_from`: outer_edge, mark or centreline."""

    ground: Ground
    inches_each_side: int
    measured_from: str
    plus_half_width: bool = False
    words: str = ""


@dataclass(frozen=True, slots=True)
class Duty:
    """A duty told in words: white lining, hand digging, emergency, damage, private lines, records."""

    ground: Ground
    words: str
    required: str = ""


@dataclass(frozen=True, slots=True)
class HolidayList:
    """Days the law excludes, by name from the shared table. `complete` False: the list is not known from
    a text read, so a day on the federal list is skipped as well (and the common days only count as
    certain when a validity is counted)."""

    ground: Ground
    days: tuple[str, ...]
    observed: str
    observed_for: Mapping[str, str] = field(default_factory=dict)
    complete: bool = True


@dataclass(frozen=True, slots=True)
class Version:
    """One dated state of a jurisdiction's law."""

    code: str
    holds_from: date
    ground: Ground
    wait: Wait
    holidays: HolidayList
    answers: Answers
    zone: Zone
    validity: Validity
    renewal: Renewal
    receipt: Receipt | None = None
    special_notices: tuple[SpecialNotice, ...] = ()
    centre_sets_start: bool = False
    max_advance: Advance | None = None
    begin_work: Validity | None = None
    lapse: Advance | None = None  # the ticket lapses when work stops this long
    project_ticket: Validity | None = None
    second_notice: SecondNotice | None = None
    duties: Mapping[str, Duty] = field(default_factory=dict)
    note: str = ""
    evidence: Tier = Tier.MEMORY  # the jurisdiction's, as a whole
    digest: str = ""  # SHA-256 of the data file

    @property
    def id(self) -> str:
        """Stable name of the version, as 'VA@2023-07-01'."""
        return f"{self.code}@{self.holds_from.isoformat()}"


@dataclass(frozen=True, slots=True)
class Jurisdiction:
    code: str
    name: str
    statute: str
    time_zones: tuple[str, ...]
    evidence: Tier
    versions: tuple[Version, ...]  # oldest first
    sources: tuple[Source, ...]
    law_time_zone: str | None = None
    notes: tuple[str, ...] = ()
    digest: str = ""  # SHA-256 of the data file

    @property
    def verified(self) -> bool:
        """False: show 'unverified: confirm with the notification centre' wherever a result is shown."""
        return self.evidence.verified


@dataclass(frozen=True, slots=True)
class Overlay:
    """A company's stricter local rule on top of a state's. It can only lengthen the wait, shorten the
    life or add a condition; the engine takes the stricter of the two."""

    name: str
    place: str = ""
    wait: Wait | None = None
    validity: Validity | None = None
    requirement: str = ""  # something a person must confirm, such as a street-opening permit
    source: str = ""
