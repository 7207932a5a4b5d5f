"""Large problems in parts, why a visit stands where it stands, and the pure package's imports."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crews.planning import parts
from crews.planning.bench.invented import invented_problem
from crews.planning.planner import Effort, make_plan
from crews.planning.reasons import why_here
from crews.planning.travel import great_circle_travel, places_of
from tests.crews.planning.small import crew, place, problem, shift, visit


@settings(max_examples=4, deadline=None, derandomize=True)
@given(seed=st.integers(0, 1_000))
def test_plans_in_parts_pass_the_checker(seed: int) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(parts, "LARGE", 100)
        patch.setattr(parts, "PART_SHIFTS", 6)
        plan = make_plan(invented_problem(40, 5, 3, seed), effort=Effort(seconds=4, most_rounds=3, seed=seed))
    assert plan.violations == ()
    assert plan.totals.planned + plan.totals.unplanned == 40


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
        "bad = roots & {'django', 'rest_framework', 'celery', 'ortools', 'scipy'};"
        "sys.exit(str(bad) if bad else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    package = Path(parts.__file__).parent
    users = {
        p.name for p in package.rglob("*.py") if "import pyvrp" in p.read_text() or "from pyvrp" in p.read_text()
    }
    assert users == {"solver.py"}
