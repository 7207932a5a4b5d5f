"""A truck's parts are used once a day, whatever pieces the crew's shift is cut into."""

from __future__ import annotations

from dataclasses import replace

import pytest

from crews.planning.check import violations_of
from crews.planning.errors import BadProblem
from crews.planning.plan import Plan
from crews.planning.planner import Effort, make_plan
from crews.planning.problem import Break, Priority, Problem, Shift, Window, Yard
from crews.planning.travel import great_circle_travel, places_of
from tests.crews.planning.small import DAY, HOUR, YARD_PLACE, crew, place, problem, shift, visit

EFFORT = Effort(seconds=20, most_rounds=120)
MORNING = (Window(7 * HOUR, 9 * HOUR),)
AFTERNOON = (Window(13 * HOUR, 15 * HOUR),)
ONE = {"coupling": 1}
KEEPS = (Yard("yard", YARD_PLACE, frozenset({"coupling"}), call_s=600),)


def pieces(*, day_of_second: int = 0, rest: bool = False) -> list[Shift]:
    """One crew's day cut in two, as round a visit that keeps its hours; or two days of it."""
    later = day_of_second * 24
    breaks = (Break(1_800, 9 * HOUR, 10 * HOUR),) if rest else ()
    first = shift(end_h=11, breaks=breaks)
    second = shift(day=0, start_h=12 + later, end_h=18 + later)
    return [first, replace(second, id="red later", day=day_of_second)]


def two(stock: int, shifts: list[Shift], second_day: int = 0, yards: tuple[Yard, ...] | None = None) -> Problem:
    """A visit in each piece, each using up one coupling."""
    after = tuple(Window(w.earliest_s + second_day * DAY, w.latest_s + second_day * DAY) for w in AFTERNOON)
    work = [
        visit("a", parts=ONE, lawful=MORNING),
        visit("b", parts=ONE, lawful=after, place=place(3, 1), priority=Priority.HIGH),
    ]
    more = {} if yards is None else {"yards": yards}
    return problem(work, [crew(parts={"coupling": stock})], shifts, **more)


def planned(case: Problem) -> set[str]:
    plan = make_plan(case, effort=EFFORT)
    assert plan.violations == ()
    return {visit_id for tour in plan.tours for visit_id in tour.visit_ids}


@pytest.mark.parametrize("rest", [False, True], ids=["with the engine", "with the own search"])
def test_the_pieces_of_a_day_share_what_is_on_the_truck(rest: bool) -> None:
    assert planned(two(1, pieces(rest=rest))) == {"b"}  # the more pressing one
    assert planned(two(2, pieces(rest=rest))) == {"a", "b"}


def test_the_one_left_out_is_told_that_the_parts_are_used_up() -> None:
    (gone,) = make_plan(two(1, pieces()), effort=EFFORT).unplanned
    assert (gone.visit_id, gone.reason) == ("a", "no_parts")
    assert "used up by other visits of the day" in gone.words
    (gone, _) = make_plan(two(0, pieces()), effort=EFFORT).unplanned
    assert gone.words == "It needs 1 piece of coupling; no truck has so many and no yard keeps them."


def test_each_night_the_truck_is_made_up_again() -> None:
    assert planned(two(1, pieces(day_of_second=1), second_day=1)) == {"a", "b"}


def test_a_call_at_a_yard_that_keeps_the_part_serves_the_second_piece() -> None:
    plan = make_plan(two(1, pieces(), yards=KEEPS), effort=EFFORT)
    assert plan.violations == ()
    assert plan.totals.planned == 2
    assert sum(stop.kind == "yard_call" for tour in plan.tours for stop in tour.stops) == 1


def test_what_visits_outside_the_plan_use_is_gone() -> None:
    case = two(2, pieces())
    gone = replace(case, parts_gone={("red", 0): ONE})
    assert planned(gone) == {"b"}
    assert planned(replace(case, parts_gone={("red", 0): {"coupling": 5}})) == set()
    assert planned(replace(case, parts_gone={("red", 1): ONE, ("blue", 0): ONE})) == {"a", "b"}
    with pytest.raises(BadProblem, match="less than no pieces"):
        make_plan(replace(case, parts_gone={("red", 0): {"coupling": -1}}), effort=EFFORT)


def checked_against(plan: Plan, case: Problem) -> list[str]:
    found = violations_of(case, great_circle_travel(places_of(case)), plan)
    return [words for words in found if words.startswith("parts:")]


def test_the_checker_counts_the_pieces_of_a_day_together() -> None:
    plan = make_plan(two(2, pieces()), effort=EFFORT)
    (words,) = checked_against(plan, two(1, pieces()))
    assert words == "parts: b on red later finds 1 pieces of coupling too few on the truck"
    assert checked_against(plan, two(2, pieces())) == []
    assert checked_against(plan, replace(two(2, pieces()), parts_gone={("red", 0): ONE}))
    other_day = make_plan(two(1, pieces(day_of_second=1), second_day=1), effort=EFFORT)
    assert checked_against(other_day, two(1, pieces(day_of_second=1), second_day=1)) == []


def test_a_call_in_the_first_piece_does_not_fill_the_truck_for_the_second() -> None:
    """The plan counts on two calls: what the first one brought is used up in its own tour."""
    case = two(0, pieces(), yards=KEEPS)
    plan = make_plan(case, effort=EFFORT)
    assert plan.violations == ()
    first, second = plan.tours
    without = replace(second, stops=tuple(stop for stop in second.stops if stop.kind != "yard_call"))
    assert len(without.stops) < len(second.stops)
    assert checked_against(replace(plan, tours=(first, without)), case)
