"""What holds of every verdict: unknown is no, bad news never helps, the next change is exact."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from locates.law.rule import EarlyStart
from tests.tickets.verdict.random_facts import random_facts
from tests.tickets.verdict.sample_facts import (
    DAY,
    HOUR,
    NOW,
    answer,
    facts,
    operator,
    rule,
    square,
    ticket,
)
from tickets.states import Outcome, SightingKind, State, TicketKind
from tickets.verdict import (
    AnswerFacts,
    Case,
    EmergencyFacts,
    Facts,
    LocalRuleFacts,
    OperatorFacts,
    SightingFacts,
    TicketFacts,
    verdict,
    verdict_of_case,
)

MOMENT = timedelta(microseconds=1)
quick = settings(max_examples=300, deadline=None)
any_facts = st.integers(0, 2**40).map(random_facts)
instants = st.integers(-12, 12).map(lambda n: NOW + n * 6 * HOUR)


@st.composite
def clear_facts(draw: st.DrawFn) -> Facts:
    """Sound facts of one ticket under a law where everyone must answer."""
    heard = draw(st.lists(st.sampled_from([Outcome.MARKED, Outcome.NO_FACILITIES]), min_size=1, max_size=4))
    made = ticket(
        operators=tuple(operator(f"Operator {n}", answer(outcome)) for n, outcome in enumerate(heard)),
        rule=rule(verified=draw(st.booleans()), early_start=draw(st.sampled_from(EarlyStart))),
        opens_at=NOW - draw(st.integers(0, 40)) * HOUR,
        closes_at=NOW + draw(st.integers(1, 400)) * HOUR,
        renew_by=draw(st.none() | st.just(NOW + HOUR)),
    )
    permit = LocalRuleFacts("Permit", "A permit is in hand.", "Town code", NOW - HOUR)
    return facts(tickets=(made,), local_rules=draw(st.sampled_from([(), (permit,)])))


def only(given: Facts) -> TicketFacts:
    return given.tickets[0]


def with_only(given: Facts, **changes: object) -> Facts:
    return replace(given, tickets=(replace(only(given), **changes),))


def without_answers(given: Facts, index: int) -> Facts:
    heard = list(only(given).operators)
    index %= len(heard)
    heard[index] = replace(heard[index], answers=())
    return with_only(given, operators=tuple(heard))


REMOVALS: dict[str, Callable[[Facts], Facts]] = {
    "dig areas": lambda f: replace(f, dig_areas=()),
    "ticket": lambda f: replace(f, tickets=()),
    "ticket's area": lambda f: with_only(f, area=None),
    "operators": lambda f: with_only(f, operators=()),
    "first answer": lambda f: without_answers(f, 0),
    "last answer": lambda f: without_answers(f, -1),
    "rule": lambda f: with_only(f, rule=None),
    "opening": lambda f: with_only(f, opens_at=None),
    "expiry": lambda f: with_only(f, closes_at=None),
    "private locate": lambda f: replace(f, locates=()),
    "whether private lines are likely": lambda f: replace(f, locates=(), private_lines_likely=None),
    "words of the locate": lambda f: replace(f, locates=tuple(replace(m, words="") for m in f.locates)),
}


@pytest.mark.parametrize("removed", REMOVALS)
@settings(max_examples=25, deadline=None)
@given(given_facts=clear_facts())
def test_never_clear_without_any_one_fact(removed: str, given_facts: Facts) -> None:
    assert verdict(given_facts, NOW).may_dig
    assert not verdict(REMOVALS[removed](given_facts), NOW).may_dig


@settings(max_examples=25, deadline=None)
@given(given_facts=clear_facts())
def test_never_clear_without_the_confirmation_of_a_local_rule(given_facts: Facts) -> None:
    assume(given_facts.local_rules)
    unconfirmed = tuple(replace(r, confirmed_at=None) for r in given_facts.local_rules)
    assert not verdict(replace(given_facts, local_rules=unconfirmed), NOW).may_dig


BAD_NEWS: dict[str, Callable[[Facts], Facts]] = {
    "no marks": lambda f: replace(f, sightings=(*f.sightings, SightingFacts(SightingKind.NO_MARKS_SEEN, NOW))),
    "unmarked line": lambda f: replace(
        f, sightings=(*f.sightings, SightingFacts(SightingKind.UNMARKED_LINE_SEEN, NOW))
    ),
    "local rule": lambda f: replace(f, local_rules=(*f.local_rules, LocalRuleFacts("New", "Ask.", "Code"))),
    "dig area elsewhere": lambda f: replace(f, dig_areas=(*f.dig_areas, square(900, 900, 5))),
    "cancelled": lambda f: replace(f, tickets=tuple(replace(t, cancelled_at=NOW) for t in f.tickets)),
    "closed": lambda f: replace(f, closed_at=NOW),
    # Where none was named it would be news of another kind: then somebody is known at least.
    "unheard operator": lambda f: replace(
        f,
        tickets=tuple(
            replace(t, operators=(*t.operators, operator("Hill Water"))) if t.operators else t for t in f.tickets
        ),
    ),
    "later answer that asks for time": lambda f: replace(
        f, tickets=tuple(replace(t, operators=tuple(_asks(o) for o in t.operators)) for t in f.tickets)
    ),
    "earlier end": lambda f: replace(f, tickets=tuple(replace(t, closes_at=NOW) for t in f.tickets)),
    "private lines": lambda f: replace(f, locates=(), private_lines_likely=True),
    "emergency": lambda f: replace(f, emergencies=(EmergencyFacts("Water", "Robin Example", NOW),)),
}


def _asks(heard: OperatorFacts) -> OperatorFacts:
    return replace(heard, answers=(*heard.answers, AnswerFacts(Outcome.ASKED_MORE_TIME, NOW)))


@pytest.mark.parametrize("news", BAD_NEWS)
@settings(max_examples=150, deadline=None)
@given(given_facts=any_facts)
def test_bad_news_never_clears(news: str, given_facts: Facts) -> None:
    if verdict(BAD_NEWS[news](given_facts), NOW).may_dig:
        assert verdict(given_facts, NOW).may_dig


@settings(max_examples=150, deadline=None)
@given(given_facts=any_facts, later=st.integers(0, 20))
def test_a_later_opening_never_clears(given_facts: Facts, later: int) -> None:
    def put_off(at: datetime | None) -> datetime | None:
        return None if at is None else at + later * HOUR

    slower = replace(
        given_facts,
        tickets=tuple(
            replace(t, opens_at=put_off(t.opens_at), early_from=put_off(t.early_from))
            for t in given_facts.tickets
            if t.kind in {TicketKind.NORMAL, TicketKind.RENEWAL}
        ),
    )
    alone = replace(
        given_facts, tickets=tuple(t for t in given_facts.tickets if t.number in {s.number for s in slower.tickets})
    )
    if verdict(slower, NOW).may_dig:
        assert verdict(alone, NOW).may_dig


@quick
@given(given_facts=any_facts, now=instants)
def test_the_next_change_is_exact(given_facts: Facts, now: datetime) -> None:
    """Constant from now until just before; different at the instant; without one constant for good."""
    case = Case(given_facts)
    found = verdict_of_case(case, now)
    said = replace(found, next_change_at=None)
    end = found.next_change_at or NOW + 80 * DAY
    assert end > now
    step = (end - now) / 7
    for instant in (*(now + n * step for n in range(1, 7)), end - MOMENT):
        assert verdict_of_case(case, instant) == found
    if found.next_change_at is not None:
        assert replace(verdict_of_case(case, end), next_change_at=None) != said


@quick
@given(given_facts=any_facts)
def test_every_refusal_says_why_and_what_would_change_it(given_facts: Facts) -> None:
    found = verdict(given_facts, NOW)
    if found.may_dig:
        assert not any(reason.blocks for reason in found.reasons)
        assert found.tickets
        assert found.opens_at is not None
        assert found.opens_at <= NOW
        assert found.closes_at is None or found.closes_at > NOW
    elif found.state != "emergency":
        assert any(reason.blocks for reason in found.reasons)
        assert found.would_change
        assert found.sentence.startswith("Do not dig: ")


def test_random_facts_reach_clear_and_every_other_state() -> None:
    """A property over facts that never clear would prove nothing."""
    seen = Counter(verdict(random_facts(seed), NOW).state for seed in range(600))
    assert set(seen) == set(State)
    assert seen[State.CLEAR] + seen[State.CLOSING] >= 60
