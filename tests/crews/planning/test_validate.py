"""Every contradiction is refused with one clear sentence."""

from __future__ import annotations

from dataclasses import replace

import pytest

from crews.planning.errors import BadProblem
from crews.planning.planner import make_plan
from crews.planning.problem import Break, Crew, Kit, KitNeed, OrderLink, Pin, Place, Problem, Weights, Window
from crews.planning.validate import checked
from tests.crews.planning.small import HOUR, crew, problem, shift, visit

BROKEN: list[tuple[str, str, Problem]] = [
    ("overlapping_shifts", "overlap", problem([], shifts=[shift(), replace(shift(), id="again", start_s=15 * HOUR)])),
    (
        "overlapping_shifts",
        "overtime counted",
        problem(
            [], shifts=[shift(overtime_max_s=HOUR), replace(shift(), id="later", start_s=16 * HOUR, end_s=20 * HOUR)]
        ),
    ),
    ("crew_without_yard", "has no yard", problem([], crews=[Crew("red")])),
    ("crew_without_yard", "not among the yards", problem([], crews=[Crew("red", yard_id="elsewhere")])),
    ("visit_longer_than_shift", "longer than any shift", problem([visit(hours=10)])),
    ("negative_duration", "less than no time", problem([visit(hours=-1)])),
    ("outside_country", "outside the country", problem([visit(place=Place.geographic(48.86, 2.35))])),
    ("outside_country", "nowhere on earth", problem([visit(place=Place.geographic(400.0, 2.35))])),
    ("window_backwards", "before its earliest", problem([visit(lawful=(Window(10, 5),))])),
    (
        "order_in_a_circle",
        "wait for the other",
        problem([visit("a"), visit("b")], links=(OrderLink("a", "b"), OrderLink("b", "a"))),
    ),
    ("gap_backwards", "longest gap", problem([visit("a"), visit("b")], links=(OrderLink("a", "b", 9, 3),))),
    ("pin_without_shift", "not among the shifts", problem([visit(pin=Pin("no such shift"))])),
    ("shift_backwards", "ends at or before", problem([], shifts=[shift(start_h=9, end_h=9)])),
    ("bad_weight", "whole number", problem([], weights=Weights(drive=-1))),
    ("bad_planning_problem", "given twice", problem([visit("a"), visit("a")])),
    ("bad_planning_problem", "outside the shift", problem([], shifts=[shift(breaks=(Break(1800, 0, HOUR),))])),
    ("bad_planning_problem", "one truck or at one yard", problem([], kit=(Kit("receiver 1", "receiver"),))),
    (
        "bad_planning_problem",
        "must share a frequency",
        problem([visit(kit=(KitNeed("receiver", common_frequency_with="transmitter"),))]),
    ),
    ("bad_planning_problem", "not among the crews", problem([], crews=[crew("blue")], shifts=[shift("red")])),
]


@pytest.mark.parametrize(("code", "words", "broken"), BROKEN, ids=[f"{c}: {w}" for c, w, _ in BROKEN])
def test_refused_with_words(code: str, words: str, broken: Problem) -> None:
    with pytest.raises(BadProblem, match=words) as refusal:
        make_plan(broken)
    assert refusal.value.code == code


def test_a_sound_problem_passes_unchanged() -> None:
    sound = problem([visit()])
    assert checked(sound) is sound
