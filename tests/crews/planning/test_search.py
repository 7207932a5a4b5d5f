"""Our own search on invented problems, why a visit stands where it stands, and the pure package's imports."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

import crews.planning
from crews.planning.bench.invented import invented_problem
from crews.planning.budget import Budget, Progress
from crews.planning.elsewhere import why_here
from crews.planning.model import Model
from crews.planning.planner import Effort, make_plan
from crews.planning.search.search import Search
from crews.planning.search.team import Team
from crews.planning.state import state_of
from crews.planning.travel import great_circle_travel, places_of
from tests.crews.planning.small import crew, place, problem, shift, visit


@settings(max_examples=4, deadline=None, derandomize=True)
@given(seed=st.integers(0, 1_000))
def test_larger_plans_pass_the_checker_and_get_better_with_rounds(seed: int) -> None:
    case = invented_problem(80, 9, 3, seed)
    short, long = (make_plan(case, effort=Effort(60, most_rounds=most, seed=seed)) for most in (3, 600))
    assert short.violations == long.violations == ()
    assert long.totals.planned + long.totals.unplanned == 80
    assert long.totals.cost < short.totals.cost


@settings(max_examples=12, deadline=None, derandomize=True)
@given(seed=st.integers(0, 1_000), visits=st.integers(1, 30))
def test_the_compiled_search_reckons_costs_as_the_timing_of_the_plan_does(seed: int, visits: int) -> None:
    """Two codes for one rule: the compiled one must hand on tours that `ways.py` can run, at no higher cost."""
    case = invented_problem(visits, 4, 3, seed)
    model = Model(case, great_circle_travel(places_of(case)))
    search = Search(model, seed)
    search.run(Budget(60), 1.0, 300)
    found = search.found()
    state = state_of(model, found.sequences, found.left, found.clips)
    assert state.cost <= found.cost
    planned = sorted(model.options[o].visit for seq in found.sequences for o in seq)
    assert sorted([*planned, *found.left]) == list(range(visits))


def test_searches_side_by_side_give_the_best_of_them() -> None:
    case = invented_problem(40, 5, 3, 1)
    team = Team(Model(case, great_circle_travel(places_of(case))), seed=1, members=2)
    team.run(Budget(60), 1.0, 200)
    assert team.found().cost == min(search.cost for search in team.searches)
    team.gather()
    assert len({search.cost for search in team.searches}) == 1
    assert team.rounds == 400


def test_searches_side_by_side_stop_when_called_off() -> None:
    case = invented_problem(30, 4, 2, 1)
    team = Team(Model(case, great_circle_travel(places_of(case))), seed=1, members=2)
    told: list[Progress] = []
    budget = Budget(3_600.0, told.append, cancelled=lambda: len(told) > 1)
    team.run(budget, 1.0)
    assert budget.called_off
    assert told[-1].cost is not None


@settings(max_examples=6, deadline=None, derandomize=True)
@given(seed=st.integers(0, 1_000), visits=st.integers(1, 25))
def test_any_invented_plan_passes_the_checker(seed: int, visits: int) -> None:
    plan = make_plan(invented_problem(visits, 4, 2, seed), effort=Effort(seconds=4, most_rounds=40, seed=seed))
    assert plan.violations == ()
    assert plan.totals.cost >= 0
    assert all(gone.words.endswith(".") for gone in plan.unplanned)


def test_why_here_prices_every_shift_and_names_what_stands_in_the_way() -> None:
    crews = [crew("red"), crew("blue"), crew("green", {"camera"})]
    shifts = [shift("red"), shift("blue", start_place=place(40, 0), end_place=place(40, 0)), shift("green")]
    case = problem([visit("a", skills=frozenset({"dig"}), place=place(2, 0))], crews, shifts)
    travel = great_circle_travel(places_of(case))
    plan = make_plan(case, travel, Effort(seconds=20, most_rounds=50))
    found = why_here(case, travel, plan, "a")
    assert (found[0].shift_id, found[0].extra_cost) == ("red 0", 0)
    blue = next(e for e in found if e.shift_id == "blue 0")
    assert blue.extra_cost is not None
    assert blue.extra_cost > 0
    assert next(e for e in found if e.shift_id == "green 0").words == "The crew lacks dig."


def test_the_package_loads_no_framework_and_one_module_knows_the_engine() -> None:
    code = (
        "import sys, crews.planning.planner, crews.planning.bench, crews.planning.routing_server;"
        "roots = {m.split('.')[0] for m in sys.modules};"
        "bad = roots & {'django', 'rest_framework', 'celery', 'ortools'};"
        "sys.exit(str(bad) if bad else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    package = Path(crews.planning.__file__).parent
    users = {
        p.name for p in package.rglob("*.py") if "import pyvrp" in p.read_text() or "from pyvrp" in p.read_text()
    }
    assert users == {"solver.py"}
