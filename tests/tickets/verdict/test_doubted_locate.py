"""A locate whose instrument is in doubt: the job needs a new one or a waiver made since."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.tickets.verdict.sample_facts import DAY, NOW, facts
from tickets.states import LocateKind, State
from tickets.verdict import verdict
from tickets.verdict.facts import Facts, LocateFacts

HOUR = timedelta(hours=1)
MADE = LocateFacts(LocateKind.LOCATED, NOW - DAY, "Robin Example", "Yard light cable")
DOUBTED = replace(MADE, doubted_at=NOW - HOUR, doubt="Receiver A failed its check.")


def with_locates(*locates: LocateFacts) -> Facts:
    return replace(facts(), private_lines_likely=True, locates=locates)


def test_a_locate_in_doubt_is_no_locate() -> None:
    assert verdict(with_locates(MADE), NOW).may_dig
    found = verdict(with_locates(DOUBTED), NOW)
    assert (found.may_dig, found.state) == (False, State.UNKNOWN)
    assert any("Instrument in doubt" in r.words and "Receiver A failed" in r.words for r in found.reasons)
    assert any("owner" in words for words in found.would_change)


def test_before_the_doubt_it_stood() -> None:
    assert (
        verdict(with_locates(DOUBTED), NOW - 2 * HOUR).may_dig == verdict(with_locates(MADE), NOW - 2 * HOUR).may_dig
    )


@pytest.mark.parametrize(
    ("kind", "made_at", "cured"),
    [
        (LocateKind.LOCATED, NOW - 2 * HOUR, True),  # later than the doubted one, with another instrument
        (LocateKind.LOCATED, NOW - 2 * DAY, False),
        (LocateKind.WAIVED, NOW - HOUR / 2, True),
        (LocateKind.WAIVED, NOW - 2 * HOUR, False),  # given before anybody knew
    ],
)
def test_what_cures_it(kind: LocateKind, made_at, cured: bool) -> None:
    other = LocateFacts(kind, made_at, "Robin Example", "Words")
    assert verdict(with_locates(DOUBTED, other), NOW).may_dig is cured


def test_it_blocks_even_where_none_was_thought_likely() -> None:
    assert not verdict(replace(with_locates(DOUBTED), private_lines_likely=False), NOW).may_dig
