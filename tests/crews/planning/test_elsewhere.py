"""What a visit would cost on every other shift is the same as trying every place there, in a fraction of the time."""

from __future__ import annotations

from dataclasses import replace
from time import process_time

import pytest

from crews.planning.bench.invented import invented_problem
from crews.planning.elsewhere import why_here
from crews.planning.model import Model
from crews.planning.plan import Plan
from crews.planning.planner import Effort, make_plan
from crews.planning.problem import Problem, Window
from crews.planning.state import EVERY_CALL, tour_of
from crews.planning.travel import Travel, great_circle_travel, places_of
from crews.planning.ways import WayBook
from tests.crews.planning.small import HOUR, crew, place, problem, random_problem, shift, visit

ONE = {"coupling": 1}
AFTERNOON = (Window(12 * HOUR, 14 * HOUR),)


def every_place(case: Problem, travel: Travel, plan: Plan, visit_id: str) -> dict[str, int | None]:
    """Least cost of a visit on each shift against where it stands, by timing the whole tour at each place."""
    model = Model(case, travel)
    book, v = WayBook(model, EVERY_CALL), model.visit_no[visit_id]
    on: dict[str, list[int]] = {each.id: [] for each in case.shifts}
    home = ""
    for tour in plan.tours:
        for stop in tour.stops:
            if stop.visit_id == visit_id:
                home = tour.shift_id
            elif stop.visit_id is not None:
                rows = model.options_of[model.visit_no[stop.visit_id]]
                fits = [o for o in rows if model.options[o].earliest_s <= stop.start_s <= model.options[o].latest_s]
                on[tour.shift_id].append(min(fits, key=lambda o: model.options[o].cost))
    gains: dict[str, int | None] = {}
    for s, each in enumerate(case.shifts):
        seq, without = tuple(on[each.id]), tour_of(model, book, s, tuple(on[each.id]))
        rows = [o for o in model.options_of[v] if model.options[o].earliest_s <= each.last_s]
        rows = [o for o in rows if model.options[o].latest_s >= each.start_s and model.allowed[s, v]]
        tried = [tour_of(model, book, s, (*seq[:k], o, *seq[k:])) for o in rows for k in range(len(seq) + 1)]
        costs = [tour.cost for tour in tried if tour is not None]
        gains[each.id] = min(costs) - without.cost if costs and without is not None else None
    base = gains[home] or 0
    return {name: 0 if name == home else None if gain is None else gain - base for name, gain in gains.items()}


@pytest.mark.parametrize("seed", range(6))
def test_the_cheapest_place_is_found_on_every_shift(seed: int) -> None:
    for case in (random_problem(seed), invented_problem(40, 5, 2, seed)):
        travel = great_circle_travel(places_of(case))
        plan = make_plan(case, travel, Effort(seconds=20, most_rounds=60))
        for visit_id in [visit_id for tour in plan.tours for visit_id in tour.visit_ids][:6]:
            found = {each.shift_id: each.extra_cost for each in why_here(case, travel, plan, visit_id)}
            assert found == every_place(case, travel, plan, visit_id)


def test_a_thousand_visits_are_no_reason_to_wait() -> None:
    case = invented_problem(1_000, 60, 10)
    travel = great_circle_travel(places_of(case))
    plan = make_plan(case, travel, Effort(seconds=60, most_rounds=20))
    (visit_id, *_) = plan.tours[0].visit_ids
    before = process_time()
    assert len(why_here(case, travel, plan, visit_id)) == 600
    assert process_time() - before < 0.5


@pytest.mark.parametrize(("stock", "possible"), [(1, False), (2, True)])
def test_a_part_that_another_piece_of_the_day_uses_is_not_there(stock: int, possible: bool) -> None:
    """The red truck's morning uses one coupling; the blue crew's visit wants one in the afternoon."""
    red, blue = crew("red", {"dig", "locate"}, parts={"coupling": stock}), crew("blue", {"locate"}, parts=ONE)
    halves = [shift(end_h=11), replace(shift(start_h=12, end_h=18), id="red later")]
    work = [
        visit("a", parts=ONE, skills=frozenset({"dig"}), lawful=(Window(7 * HOUR, 9 * HOUR),)),
        visit(
            "b", parts=ONE, skills=frozenset({"locate"}), lawful=(Window(12 * HOUR, 14 * HOUR),), place=place(1, 1)
        ),
    ]
    case = problem(work, [red, blue], [*halves, shift("blue", start_place=place(2, 2), end_place=place(2, 2))])
    travel = great_circle_travel(places_of(case))
    plan = make_plan(case, travel, Effort(seconds=20, most_rounds=80))
    assert {visit_id: tour.shift_id for tour in plan.tours for visit_id in tour.visit_ids} == {
        "a": "red 0",
        "b": "blue 0",
    }
    later = next(each for each in why_here(case, travel, plan, "b") if each.shift_id == "red later")
    assert (later.extra_cost is not None) is possible
    assert ("Its kit is neither" in later.words) is not possible
