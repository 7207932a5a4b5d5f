"""Who has been heard: the operators of a ticket, with its re-marks and second notices. Pure.

The latest answer governs. An answer given before the notice is no answer to it. An operator that asked
for time or agreed a schedule has said that lines may be there, so its silence never suffices afterwards,
not even where the law lets silence suffice: the stricter reading, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from locates.law.rule import EarlyStart, Silence
from tickets.states import Outcome, State, TicketKind
from tickets.verdict.blocker import Blocker, blocker
from tickets.verdict.facts import AnswerFacts, OperatorFacts, RuleFacts, TicketFacts
from tickets.verdict.result import Kind, Reason
from tickets.verdict.words import instant_words

HEARD = frozenset({Outcome.MARKED, Outcome.NO_FACILITIES})
ASKED_TIME = frozenset({Outcome.ASKED_MORE_TIME, Outcome.AGREED_SCHEDULE})


@dataclass(frozen=True, slots=True)
class Heard:
    """One operator with its answers from the ticket and its followers, oldest first."""

    name: str
    key: str
    answers: tuple[AnswerFacts, ...]

    def latest(self, at: datetime, since: datetime) -> AnswerFacts | None:
        """The governing answer at an instant, among those given since another."""
        found = [a for a in self.answers if since <= a.answered_at <= at]
        return max(found, key=lambda a: a.answered_at) if found and not _tied(found) else _strictest(found)


def _tied(found: Sequence[AnswerFacts]) -> bool:
    last = max(a.answered_at for a in found)
    return sum(a.answered_at == last for a in found) > 1


def _strictest(found: Sequence[AnswerFacts]) -> AnswerFacts | None:
    """Of answers of the same instant one that does not clear, if there is any."""
    if not found:
        return None
    last = max(a.answered_at for a in found)
    tied = [a for a in found if a.answered_at == last]
    return next((a for a in tied if a.outcome not in HEARD), tied[-1])


def operators_of(ticket: TicketFacts, followers: Sequence[TicketFacts]) -> tuple[Heard, ...]:
    """The operators named on the ticket or on a follower, answers merged by name."""
    return merged_operators((ticket, *followers))


def merged_operators(tickets: Sequence[TicketFacts]) -> tuple[Heard, ...]:
    """The operators named on any of the tickets, answers merged by name."""
    merged: dict[str, list[OperatorFacts]] = {}
    for source in tickets:
        for operator in source.operators:
            merged.setdefault(operator.key, []).append(operator)
    return tuple(
        Heard(
            same[0].name,
            key,
            tuple(sorted((a for o in same for a in o.answers), key=lambda a: a.answered_at)),
        )
        for key, same in merged.items()
    )


def early_opening(ticket: TicketFacts, heard: Sequence[Heard], at: datetime) -> datetime | None:
    """The first instant of an early start that the answers given by `at` allow; None: the law or the
    answers allow none."""
    rule = ticket.rule
    if rule is None or ticket.early_from is None or rule.early_start is EarlyStart.NEVER or not heard:
        return None
    wanted = HEARD if rule.early_start is EarlyStart.ALL_ANSWERED else {Outcome.NO_FACILITIES}
    answers = [operator.latest(at, ticket.received_at) for operator in heard]
    given = [a for a in answers if a is not None and a.outcome in wanted]
    if len(given) < len(answers):
        return None
    return max(ticket.early_from, *(a.answered_at for a in given))


def hear(
    ticket: TicketFacts, followers: Sequence[TicketFacts], heard: Sequence[Heard], at: datetime, time_zone: str
) -> tuple[list[Blocker], list[Reason]]:
    """What the operators' answers block at `at`, and what there is to know besides."""
    if not ticket.operators:
        words = f"Ticket {ticket.number} names no operators; who was told is not known."
        return [blocker(State.UNKNOWN, Kind.ANSWER, words, "Enter the operators that the centre named.")], []
    blockers: list[Blocker] = []
    notes: list[Reason] = []
    for operator in heard:
        found = _of_operator(ticket, followers, operator, at, time_zone)
        if isinstance(found, Blocker):
            blockers.append(found)
        elif found is not None:
            notes.append(found)
    return blockers, notes


def _of_operator(
    ticket: TicketFacts, followers: Sequence[TicketFacts], operator: Heard, at: datetime, time_zone: str
) -> Blocker | Reason | None:
    rule = ticket.rule
    cite = rule.cite("answers") if rule else ""
    again = _re_mark(followers, operator, at)
    answer = operator.latest(at, again.received_at if again else ticket.received_at)
    if answer is None or answer.outcome is Outcome.NOT_ANSWERED:
        if again is not None:
            words = f"{operator.name} has not answered the re-mark {again.number}."
            return blocker(State.WAITING, Kind.ANSWER, words, f"Call {operator.name} about the re-mark.", cite)
        return _silent(ticket, followers, operator, at, time_zone)
    if answer.outcome in HEARD:
        return None
    if answer.outcome in ASKED_TIME:
        return _asked_time(operator, answer, at, cite, time_zone)
    words = f"{operator.name} needs information before it can answer."
    return blocker(State.STOP, Kind.ANSWER, words, f"Call {operator.name} and give what it asks for.", cite)


def _asked_time(operator: Heard, answer: AnswerFacts, at: datetime, cite: str, time_zone: str) -> Blocker:
    agreed = answer.outcome is Outcome.AGREED_SCHEDULE
    what = "agreed a schedule" if agreed else "asked for more time"
    if answer.holds_until is None:
        words = f"{operator.name} {what}, with no end named."
    elif at < answer.holds_until:
        words = f"{operator.name} {what} until {instant_words(answer.holds_until, time_zone)}."
    else:
        until = instant_words(answer.holds_until, time_zone)
        words = f"{operator.name} {what} until {until}; that has passed and it has not answered since."
    remedy = f"An answer of {operator.name}: marked or no facilities. Call it."
    return blocker(State.WAITING, Kind.ANSWER, words, remedy, cite)


def _silent(
    ticket: TicketFacts, followers: Sequence[TicketFacts], operator: Heard, at: datetime, time_zone: str
) -> Blocker | Reason | None:
    rule = ticket.rule
    if rule is None:
        words = f"{operator.name} has not answered."
        return blocker(State.WAITING, Kind.ANSWER, words, f"Call {operator.name}.")
    if not rule.all_must_answer:
        if ticket.opens_at is None or at < ticket.opens_at:
            return None  # the wait itself blocks
        words = f"{operator.name} has not answered; here silence after the wait is no bar. Ask it all the same."
        return Reason(words, rule.cite("answers"), Kind.ANSWER, blocks=False)
    second = _second_notice(ticket, followers, operator, at)
    if second is None:
        over = ticket.opens_at is not None and at >= ticket.opens_at
        words = f"{operator.name} has not answered{', though the wait is over' if over else ''}."
        remedy = f"An answer of {operator.name}. Call it"
        remedy += " and the notification centre; a second notice may be needed." if over else "."
        return blocker(State.WAITING, Kind.ANSWER, words, remedy, rule.cite("answers"))
    return _after_second_notice(rule, second, operator, at, time_zone)


def _after_second_notice(
    rule: RuleFacts, second: TicketFacts, operator: Heard, at: datetime, time_zone: str
) -> Blocker | Reason:
    cite = rule.cite("second_notice")
    remedy = f"An answer of {operator.name}. Call it and the notification centre."
    if rule.silence_then is not Silence.PROCEED_WITH_CARE or second.opens_at is None:
        words = f"{operator.name} has not answered the second notice {second.number}; silence does not clear it."
        return blocker(State.WAITING, Kind.ANSWER, words, remedy, cite)
    if at < second.opens_at:
        until = instant_words(second.opens_at, time_zone)
        words = f"{operator.name} has not answered; the second notice {second.number} runs until {until}."
        return blocker(State.WAITING, Kind.ANSWER, words, remedy, cite)
    words = (
        f"{operator.name} has answered neither notice; the law lets work go on with care after the second. "
        "Treat its lines as present."
    )
    return Reason(words, cite, Kind.ANSWER, blocks=False)


def _second_notice(
    ticket: TicketFacts, followers: Sequence[TicketFacts], operator: Heard, at: datetime
) -> TicketFacts | None:
    """The second notice that names this operator and was given after the wait had ended. The first one
    counts: sending another does not start the further wait again."""
    if ticket.opens_at is None:
        return None
    found = [
        f
        for f in followers
        if f.kind is TicketKind.SECOND_NOTICE
        and ticket.opens_at <= f.received_at <= at
        and not _cancelled(f, at)
        and any(o.key == operator.key for o in f.operators)
    ]
    return min(found, key=lambda f: f.received_at, default=None)


def _re_mark(followers: Sequence[TicketFacts], operator: Heard, at: datetime) -> TicketFacts | None:
    """The latest re-mark that names this operator: only an answer since then counts."""
    found = [
        f
        for f in followers
        if f.kind is TicketKind.RE_MARK
        and f.received_at <= at
        and not _cancelled(f, at)
        and any(o.key == operator.key for o in f.operators)
    ]
    return max(found, key=lambda f: f.received_at, default=None)


def _cancelled(ticket: TicketFacts, at: datetime) -> bool:
    return ticket.cancelled_at is not None and ticket.cancelled_at <= at
