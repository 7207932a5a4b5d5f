"""What operators answered and what the crew saw: each case and what it does to the verdict."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from locates.law.rule import EarlyStart, Silence
from tests.tickets.verdict.sample_facts import (
    DAY,
    HOUR,
    NOW,
    answer,
    blocking,
    facts,
    operator,
    rule,
    silent,
    ticket,
    with_ticket,
    words,
)
from tickets.states import LocateKind, Outcome, SightingKind, State, TicketKind
from tickets.verdict import (
    Kind,
    LocateFacts,
    SightingFacts,
    TicketFacts,
    verdict,
)

SECOND = timedelta(seconds=1)


def test_an_operator_never_answered() -> None:
    found = verdict(with_ticket(operators=silent()), NOW)
    assert (found.state, blocking(found)) == (State.WAITING, {Kind.ANSWER})
    assert found.reasons[0].citation == "Code § 2"
    assert "Ridge Power has not answered, though the wait is over." in found.reasons[0].words
    assert "Call it" in found.would_change[0]
    assert found.next_change_at == NOW + 12 * DAY  # nothing but the ticket's end comes by itself


def test_an_explicit_not_answered_is_no_answer() -> None:
    said = (operator("Ridge Power", answer(Outcome.MARKED, NOW - 2 * DAY), answer(Outcome.NOT_ANSWERED)),)
    assert verdict(with_ticket(operators=said), NOW).state is State.WAITING


def test_an_answer_from_before_the_notice_is_none() -> None:
    early = (operator("Ridge Power", answer(at=NOW - 5 * DAY)),)
    assert verdict(with_ticket(operators=early), NOW).state is State.WAITING


def second_notice(received_at: datetime, opens_at: datetime | None, *names: str) -> TicketFacts:
    return ticket(
        number="S1",
        kind=TicketKind.SECOND_NOTICE,
        follows="T1",
        received_at=received_at,
        opens_at=opens_at,
        operators=tuple(operator(name) for name in names or ("Ridge Power",)),
    )


@pytest.mark.parametrize(
    ("silence", "opens_at", "names", "state"),
    [
        (Silence.PROCEED_WITH_CARE, NOW, (), State.CLEAR),
        (Silence.PROCEED_WITH_CARE, NOW + HOUR, (), State.WAITING),
        (Silence.PROCEED_WITH_CARE, None, (), State.WAITING),  # the further wait's length is not known
        (Silence.PROCEED_WITH_CARE, NOW, ("Fernbank Gas",), State.WAITING),  # it names another operator
        (Silence.WAIT, NOW, (), State.WAITING),
    ],
)
def test_a_second_notice_and_its_wait(
    silence: Silence, opens_at: datetime | None, names: tuple[str, ...], state: State
) -> None:
    first = ticket(operators=silent(), rule=rule(silence_then=silence), opens_at=NOW - DAY)
    second = second_notice(NOW - 3 * HOUR, opens_at, *names)
    found = verdict(facts(tickets=(first, second)), NOW)
    assert found.state is state
    if state is State.CLEAR:
        assert "neither notice" in words(found)
        assert any(reason.citation == "Code § 7" for reason in found.reasons)


def test_a_second_notice_sent_during_the_wait_is_none() -> None:
    first = ticket(operators=silent(), rule=rule(silence_then=Silence.PROCEED_WITH_CARE))
    second = second_notice(NOW - 2 * HOUR, NOW - HOUR)  # the wait ended an hour ago
    assert verdict(facts(tickets=(first, second)), NOW).state is State.WAITING


def test_an_answer_on_the_second_notice_counts_for_the_ticket() -> None:
    first = ticket(operators=silent(), opens_at=NOW - DAY)
    second = replace(
        second_notice(NOW - 3 * HOUR, None), operators=(operator("RIDGE  power", answer(at=NOW - HOUR)),)
    )
    assert verdict(facts(tickets=(first, second)), NOW).state is State.CLEAR


def test_marked_while_the_crew_sees_no_marks() -> None:
    seen = (SightingFacts(SightingKind.NO_MARKS_SEEN, NOW - HOUR, "Fernbank Gas"),)
    found = verdict(facts(sightings=seen), NOW)
    assert (found.state, blocking(found)) == (State.STOP, {Kind.MARKS})
    assert "Fernbank Gas: on site no marks were seen" in found.sentence
    again = (*seen, SightingFacts(SightingKind.MARKS_SEEN, NOW, "Fernbank Gas"))
    assert verdict(facts(sightings=again), NOW).state is State.CLEAR


def test_marks_of_another_operator_do_not_lift_the_stop() -> None:
    seen = (
        SightingFacts(SightingKind.NO_MARKS_SEEN, NOW - HOUR, "Fernbank Gas"),
        SightingFacts(SightingKind.MARKS_SEEN, NOW, "Ridge Power"),
    )
    assert verdict(facts(sightings=seen), NOW).state is State.STOP


def test_no_marks_where_there_are_no_facilities_is_as_it_should_be() -> None:
    none_here = (operator("Ridge Power", answer(Outcome.NO_FACILITIES)),)
    seen = (SightingFacts(SightingKind.NO_MARKS_SEEN, NOW - HOUR),)
    base = with_ticket(operators=none_here)
    assert verdict(replace(base, sightings=seen), NOW).state is State.CLEAR
    changed = (operator("Ridge Power", answer(Outcome.NO_FACILITIES), answer(Outcome.MARKED, NOW - HOUR / 2)),)
    assert verdict(replace(with_ticket(operators=changed), sightings=seen), NOW).state is State.STOP


def test_faded_marks() -> None:
    seen = (SightingFacts(SightingKind.MARKS_SEEN, NOW - DAY), SightingFacts(SightingKind.MARKS_FADED, NOW - HOUR))
    found = verdict(facts(sightings=seen), NOW)
    assert found.state is State.STOP
    assert "re-mark" in found.would_change[0]


def test_a_re_mark_asks_every_operator_it_names_again() -> None:
    again = ticket(
        number="R1",
        kind=TicketKind.RE_MARK,
        follows="T1",
        received_at=NOW - 2 * HOUR,
        opens_at=NOW + 2 * DAY,
        operators=(operator("Fernbank Gas"),),
    )
    found = verdict(facts(tickets=(ticket(), again)), NOW)
    assert (found.state, blocking(found)) == (State.WAITING, {Kind.ANSWER})
    assert "has not answered the re-mark R1" in found.sentence
    answered = replace(again, operators=(operator("Fernbank Gas", answer(at=NOW - HOUR)),))
    assert verdict(facts(tickets=(ticket(), answered)), NOW).state is State.CLEAR


def test_an_unmarked_line_stops_the_job_until_it_is_located() -> None:
    seen = (SightingFacts(SightingKind.UNMARKED_LINE_SEEN, NOW - HOUR),)
    found = verdict(facts(sightings=seen), NOW)
    assert (found.state, blocking(found)) == (State.STOP, {Kind.MARKS})
    located = (*facts().locates, LocateFacts(LocateKind.LOCATED, NOW, "Robin Example", "Old drain, capped"))
    assert verdict(facts(sightings=seen, locates=located), NOW).state is State.CLEAR
    waived = (*facts().locates, LocateFacts(LocateKind.WAIVED, NOW, "Robin Example", "Looks dead"))
    assert verdict(facts(sightings=seen, locates=waived), NOW).state is State.STOP


@pytest.mark.parametrize("outcome", [Outcome.ASKED_MORE_TIME, Outcome.AGREED_SCHEDULE])
def test_asked_for_time_holds_until_then_and_beyond_without_an_answer(outcome: Outcome) -> None:
    asked = with_ticket(operators=(operator("Ridge Power", answer(outcome, until=NOW + DAY)),))
    found = verdict(asked, NOW)
    assert (found.state, blocking(found)) == (State.WAITING, {Kind.ANSWER})
    assert found.next_change_at == NOW + DAY  # what it says changes: the time has passed
    after = verdict(asked, NOW + DAY)
    assert after.state is State.WAITING
    assert "has not answered since" in after.sentence
    open_ended = with_ticket(operators=(operator("Ridge Power", answer(outcome)),))
    assert verdict(open_ended, NOW).state is State.WAITING


def test_asked_for_time_is_no_silence_even_where_silence_suffices() -> None:
    lenient = rule(all_must_answer=False)
    asked = (operator("Ridge Power", answer(Outcome.ASKED_MORE_TIME, until=NOW - HOUR)),)
    assert verdict(with_ticket(rule=lenient, operators=asked), NOW).state is State.WAITING


def test_needs_information_is_a_stop() -> None:
    asked = (operator("Ridge Power", answer(Outcome.NEEDS_INFORMATION)),)
    assert verdict(with_ticket(operators=asked), NOW).state is State.STOP


def test_silence_suffices_only_after_the_wait_and_only_where_the_law_says_so() -> None:
    lenient = with_ticket(rule=rule(all_must_answer=False), operators=silent())
    found = verdict(lenient, NOW)
    assert found.state is State.CLEAR
    assert "silence after the wait is no bar" in words(found)
    assert verdict(lenient, NOW - HOUR - SECOND).state is State.WAITING
    assert verdict(with_ticket(operators=silent()), NOW).state is State.WAITING


@pytest.mark.parametrize(
    ("allows", "outcomes", "state"),
    [
        (EarlyStart.ALL_ANSWERED, (Outcome.MARKED, Outcome.NO_FACILITIES), State.CLEAR),
        (EarlyStart.ALL_NO_FACILITIES, (Outcome.NO_FACILITIES, Outcome.NO_FACILITIES), State.CLEAR),
        (EarlyStart.ALL_NO_FACILITIES, (Outcome.MARKED, Outcome.NO_FACILITIES), State.WAITING),
        (EarlyStart.ALL_ANSWERED, (Outcome.MARKED, Outcome.AGREED_SCHEDULE), State.WAITING),
        (EarlyStart.NEVER, (Outcome.NO_FACILITIES, Outcome.NO_FACILITIES), State.WAITING),
    ],
)
def test_early_start_where_the_law_allows_it(
    allows: EarlyStart, outcomes: tuple[Outcome, Outcome], state: State
) -> None:
    heard = tuple(operator(f"Operator {n}", answer(outcome)) for n, outcome in enumerate(outcomes))
    early = with_ticket(rule=rule(early_start=allows), opens_at=NOW + DAY, early_from=NOW - 3 * DAY, operators=heard)
    found = verdict(early, NOW)
    assert found.state is state
    if state is State.CLEAR:
        assert found.opens_at == NOW - DAY  # when the last answer came
        assert "begin early" in words(found)


def test_no_early_start_before_its_floor_or_without_one() -> None:
    allows = rule(early_start=EarlyStart.ALL_ANSWERED)
    floor = with_ticket(rule=allows, opens_at=NOW + DAY, early_from=NOW + HOUR)
    assert verdict(floor, NOW).state is State.WAITING
    assert verdict(floor, NOW).next_change_at == NOW + HOUR
    assert verdict(floor, NOW + HOUR).state is State.CLEAR
    assert verdict(with_ticket(rule=allows, opens_at=NOW + DAY), NOW).state is State.WAITING
