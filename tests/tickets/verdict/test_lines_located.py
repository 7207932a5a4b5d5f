"""The note on the company's own locates: every line located by itself, none lost, none told twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.tickets.verdict.sample_facts import DAY, NOW, facts
from tickets.states import LocateKind
from tickets.verdict import verdict
from tickets.verdict.facts import LocateFacts
from tickets.verdict.result import Kind, Reason

HOUR = timedelta(hours=1)
CABLE = LocateFacts(LocateKind.LOCATED, NOW - DAY, "Robin Example", "Yard light cable, 2 ft 6 in deep.")
MADE = "Private lines located Tue 15 Sep, 10:00 AM EDT (Robin Example)"


def notes(*locates: LocateFacts) -> list[Reason]:
    found = verdict(facts(locates=locates), NOW)
    assert found.may_dig
    return [reason for reason in found.reasons if reason.kind is Kind.PRIVATE_LINES]


def said(*locates: LocateFacts) -> list[tuple[str, tuple[str, ...]]]:
    return [(note.words, note.items) for note in notes(*locates)]


def test_one_line_is_one_sentence() -> None:
    assert said(CABLE) == [(f"{MADE}: Yard light cable, 2 ft 6 in deep.", ())]


@pytest.mark.parametrize("count", [2, 6, 30])
def test_many_lines_are_an_item_each(count: int) -> None:
    lines = [f"Branch {number} of the drip line, 8 in deep." for number in range(count)]
    made = replace(CABLE, words="\n".join(["", f"  {lines[0]}", *lines[1:], lines[0], " "]))
    (note,) = notes(made)
    assert (note.words, note.items, note.blocks) == (f"{MADE}, {count} findings:", tuple(lines), False)
    assert note.as_json()["items"] == lines


def test_an_earlier_locate_adds_what_the_later_does_not_say() -> None:
    earlier = replace(CABLE, words=f"{CABLE.words}\nGas to the grill, 1 ft deep.")
    later = replace(CABLE, made_at=NOW - HOUR, by="Kit Example")
    assert said(earlier, later) == [
        ("Private lines located Wed 16 Sep, 9:00 AM EDT (Kit Example): Yard light cable, 2 ft 6 in deep.", ()),
        (f"{MADE}: Gas to the grill, 1 ft deep.", ()),
    ]


def test_a_waiver_hides_no_line_that_was_found() -> None:
    waived = LocateFacts(LocateKind.WAIVED, NOW - HOUR, "Dana Example", "Nothing else there")
    assert [words for words, _ in said(CABLE, waived)] == [
        "No private locate: Nothing else there (Dana Example).",
        f"{MADE}: Yard light cable, 2 ft 6 in deep.",
    ]
    assert [words for words, _ in said(CABLE, replace(waived, made_at=NOW - 2 * DAY))] == [
        f"{MADE}: Yard light cable, 2 ft 6 in deep."
    ]


def test_what_is_in_doubt_is_no_finding() -> None:
    doubted = replace(CABLE, words="Water to the barn.", doubted_at=NOW - 2 * HOUR, doubt="It failed its check.")
    again = replace(CABLE, made_at=NOW - HOUR)
    assert [words for words, _ in said(doubted, again)] == [
        "Private lines located Wed 16 Sep, 9:00 AM EDT (Robin Example): Yard light cable, 2 ft 6 in deep."
    ]
