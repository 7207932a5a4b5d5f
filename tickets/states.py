"""The office's words and what may follow what: once, for choices, guards and the diagram. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum
from types import MappingProxyType

from locates.errors import FirstspadeError


class TransitionRefused(FirstspadeError):
    code = "transition_refused"
    conflict = True  # right in itself, wrong moment


class PlaceSource(StrEnum):
    """Who said in which state and time zone a site lies."""

    RESOLVED = "resolved"
    CHOSEN = "chosen"


class DigMethod(StrEnum):
    HAND = "hand"
    VACUUM = "vacuum"
    MACHINE = "machine"
    TRENCHLESS = "trenchless"


class TicketKind(StrEnum):
    NORMAL = "normal"
    EMERGENCY = "emergency"
    RENEWAL = "renewal"
    RE_MARK = "re_mark"
    SECOND_NOTICE = "second_notice"


class Utility(StrEnum):
    POWER = "power"
    GAS = "gas"
    COMMUNICATIONS = "communications"
    WATER = "water"
    RECLAIMED = "reclaimed"
    SEWER = "sewer"
    OTHER = "other"
    UNKNOWN = "unknown"


class Outcome(StrEnum):
    """What an operator answered, in the trade's plain words."""

    MARKED = "marked"
    NO_FACILITIES = "no_facilities"
    ASKED_MORE_TIME = "asked_more_time"
    AGREED_SCHEDULE = "agreed_schedule"
    NEEDS_INFORMATION = "needs_information"
    NOT_ANSWERED = "not_answered"


class SightingKind(StrEnum):
    """What the crew saw of the marks on site."""

    MARKS_SEEN = "marks_seen"
    NO_MARKS_SEEN = "no_marks_seen"
    MARKS_FADED = "marks_faded"
    UNMARKED_LINE_SEEN = "unmarked_line_seen"


class LocateKind(StrEnum):
    """What was done about lines that no operator marks."""

    LOCATED = "located"
    WAIVED = "waived"


class FollowUpKind(StrEnum):
    WINDOW_OPENS = "window_opens"
    ANSWERS_MISSING = "answers_missing"
    RENEW_FROM = "renew_from"
    RENEW_BY = "renew_by"
    EXPIRES = "expires"
    RECHECK_BEFORE_DIG = "recheck_before_dig"
    VERDICT_CHANGES = "verdict_changes"


class State(StrEnum):
    """The verdict on one job at one instant. Only CLEAR and CLOSING let a crew dig under a ticket."""

    CLEAR = "clear"
    CLOSING = "closing"
    WAITING = "waiting"
    STOP = "stop"
    EXPIRED = "expired"
    UNKNOWN = "unknown"
    EMERGENCY = "emergency"


_WORDS: tuple[tuple[StrEnum, str], ...] = (
    (PlaceSource.RESOLVED, "From the position"),
    (PlaceSource.CHOSEN, "Chosen"),
    (DigMethod.HAND, "By hand"),
    (DigMethod.VACUUM, "Vacuum"),
    (DigMethod.MACHINE, "Machine"),
    (DigMethod.TRENCHLESS, "Trenchless"),
    (TicketKind.NORMAL, "Normal"),
    (TicketKind.EMERGENCY, "Emergency"),
    (TicketKind.RENEWAL, "Renewal"),
    (TicketKind.RE_MARK, "Re-mark"),
    (TicketKind.SECOND_NOTICE, "Second notice"),
    (Utility.POWER, "Electric power"),
    (Utility.GAS, "Gas or oil"),
    (Utility.COMMUNICATIONS, "Communications"),
    (Utility.WATER, "Potable water"),
    (Utility.RECLAIMED, "Reclaimed water"),
    (Utility.SEWER, "Sewer and drain"),
    (Utility.OTHER, "Other"),
    (Utility.UNKNOWN, "Not known"),
    (Outcome.MARKED, "Marked"),
    (Outcome.NO_FACILITIES, "No facilities"),
    (Outcome.ASKED_MORE_TIME, "Asked for more time"),
    (Outcome.AGREED_SCHEDULE, "Agreed a schedule"),
    (Outcome.NEEDS_INFORMATION, "Needs information"),
    (Outcome.NOT_ANSWERED, "Not answered"),
    (SightingKind.MARKS_SEEN, "Marks seen"),
    (SightingKind.NO_MARKS_SEEN, "No marks seen"),
    (SightingKind.MARKS_FADED, "Marks faded"),
    (SightingKind.UNMARKED_LINE_SEEN, "Unmarked line seen"),
    (LocateKind.LOCATED, "Located"),
    (LocateKind.WAIVED, "Waived"),
    (FollowUpKind.WINDOW_OPENS, "The wait is over"),
    (FollowUpKind.ANSWERS_MISSING, "Answers are missing"),
    (FollowUpKind.RENEW_FROM, "Renewal is possible"),
    (FollowUpKind.RENEW_BY, "Last call to renew"),
    (FollowUpKind.EXPIRES, "The ticket ends"),
    (FollowUpKind.RECHECK_BEFORE_DIG, "Check again before the dig"),
    (FollowUpKind.VERDICT_CHANGES, "The verdict may change"),
    (State.CLEAR, "Clear to dig"),
    (State.CLOSING, "Clear, closing soon"),
    (State.WAITING, "Waiting"),
    (State.STOP, "Stop"),
    (State.EXPIRED, "Expired"),
    (State.UNKNOWN, "Not known: do not dig"),
    (State.EMERGENCY, "Emergency dig"),
)


class _Words(Mapping[StrEnum, str]):
    """Words by kind of word and word: a StrEnum equals its text, so 'unknown' alone would stand for a
    utility and for a verdict at once."""

    def __init__(self, pairs: tuple[tuple[StrEnum, str], ...]) -> None:
        self._by_kind = {(type(word), str(word)): (word, words) for word, words in pairs}

    def __getitem__(self, word: StrEnum) -> str:
        return self._by_kind[type(word), str(word)][1]

    def __iter__(self) -> Iterator[StrEnum]:
        return (word for word, _ in self._by_kind.values())

    def __len__(self) -> int:
        return len(self._by_kind)


WORDS: Mapping[StrEnum, str] = _Words(_WORDS)


def choices(words: type[StrEnum]) -> list[tuple[str, str]]:
    """An enum as (stored value, shown words), for a field's choices."""
    return [(str(word), WORDS[word]) for word in words]


class Life(StrEnum):
    """Where a job, a ticket, an emergency dig or a follow-up stands; not stored, read off its instants."""

    OPEN = "open"
    UNDER_WAY = "under_way"
    CLAIMED = "claimed"
    DONE = "done"
    CANCELLED = "cancelled"
    SUPERSEDED = "superseded"
    CLOSED = "closed"


class Act(StrEnum):
    """What may be done to them."""

    ENTER_TICKET = "enter a ticket"
    RECORD = "record what was seen, answered or located"
    BEGIN_WORK = "begin work"
    CLOSE = "close"
    REOPEN = "reopen"
    CORRECT = "correct"
    CANCEL = "cancel"
    FOLLOW = "renew, re-mark or send a second notice"
    CLAIM = "claim"
    FINISH = "finish"
    FAIL = "fail"
    SUPERSEDE = "supersede"
    TELL = "tell the notification centre or the operators"


_Table = Mapping[tuple[Life, Act], Life]

JOB: _Table = MappingProxyType(
    {
        (Life.OPEN, Act.ENTER_TICKET): Life.OPEN,
        (Life.OPEN, Act.RECORD): Life.OPEN,
        (Life.OPEN, Act.BEGIN_WORK): Life.UNDER_WAY,
        (Life.OPEN, Act.CORRECT): Life.OPEN,
        (Life.OPEN, Act.CLOSE): Life.CLOSED,
        (Life.UNDER_WAY, Act.ENTER_TICKET): Life.UNDER_WAY,
        (Life.UNDER_WAY, Act.RECORD): Life.UNDER_WAY,
        (Life.UNDER_WAY, Act.BEGIN_WORK): Life.UNDER_WAY,
        (Life.UNDER_WAY, Act.CORRECT): Life.UNDER_WAY,
        (Life.UNDER_WAY, Act.CLOSE): Life.CLOSED,
        (Life.CLOSED, Act.REOPEN): Life.OPEN,
    }
)
TICKET: _Table = MappingProxyType(
    {
        (Life.OPEN, Act.RECORD): Life.OPEN,
        (Life.OPEN, Act.CORRECT): Life.OPEN,
        (Life.OPEN, Act.FOLLOW): Life.OPEN,
        (Life.OPEN, Act.CANCEL): Life.CANCELLED,
    }
)
EMERGENCY: _Table = MappingProxyType(
    {
        (Life.OPEN, Act.TELL): Life.UNDER_WAY,
        (Life.UNDER_WAY, Act.TELL): Life.UNDER_WAY,
        (Life.UNDER_WAY, Act.CLOSE): Life.CLOSED,
    }
)
FOLLOW_UP: _Table = MappingProxyType(
    {
        (Life.OPEN, Act.CLAIM): Life.CLAIMED,
        (Life.OPEN, Act.SUPERSEDE): Life.SUPERSEDED,
        (Life.CLAIMED, Act.CLAIM): Life.CLAIMED,  # after the lease has run out
        (Life.CLAIMED, Act.FINISH): Life.DONE,
        (Life.CLAIMED, Act.FAIL): Life.OPEN,
        (Life.CLAIMED, Act.SUPERSEDE): Life.SUPERSEDED,
    }
)


def after(table: _Table, life: Life, act: Act, *, what: str) -> Life:
    """Where `what` stands after `act`. Raises TransitionRefused when the table has no such step."""
    try:
        return table[life, act]
    except KeyError:
        possible = sorted(str(a) for (standing, a) in table if standing is life)
        remedy = f"possible now: {', '.join(possible)}" if possible else "nothing more can be done to it"
        raise TransitionRefused(
            f"{what} is {str(life).replace('_', ' ')}, so it is not possible to {act}; {remedy}."
        ) from None


def diagram(table: _Table) -> str:
    """The table as lines 'from --act--> to', for documents and tests."""
    return "\n".join(f"{life} --{act}--> {to}" for (life, act), to in table.items())
