"""The planner against a proven optimum on problems of up to eight visits."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from crews.planning.planner import Effort, make_plan
from crews.planning.travel import great_circle_travel, places_of
from tests.crews.planning.exact import exact_cost
from tests.crews.planning.small import random_problem


@settings(max_examples=16, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10_000))
def test_small_plans_are_optimal(seed: int) -> None:
    problem = random_problem(seed)
    travel = great_circle_travel(places_of(problem))
    plan = make_plan(problem, travel, Effort(seconds=60, most_rounds=20_000))
    assert plan.violations == ()
    assert plan.totals.cost == exact_cost(problem, travel)
