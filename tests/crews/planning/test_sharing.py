"""What several crews want of the yard at once is shared out within the time given; in the end none wants it twice."""

from __future__ import annotations

from dataclasses import replace

from crews.planning.model import Model
from crews.planning.planner import Effort, make_plan
from crews.planning.problem import Kit, KitNeed, Priority, Problem, Window
from crews.planning.search.search import Search
from crews.planning.search.warm import make_ready
from crews.planning.sharing import hold_shares, settle_shares, share_out
from crews.planning.state import State, state_of
from crews.planning.travel import great_circle_travel, places_of
from tests.crews.planning.small import DAY, HOUR, crew, place, problem, shift, visit

CREWS = [f"crew {k}" for k in range(7)]


def crowded(cameras: int) -> Problem:
    """Two camera visits for each of seven crews, in the same hours, and a few cameras at the one yard."""
    work = [
        visit(f"v{k}", 2, kit=(KitNeed("camera"),), lawful=(Window(8 * HOUR, 13 * HOUR),), place=place(k, 14 - k))
        for k in range(14)
    ]
    work[5] = replace(work[5], priority=Priority.EMERGENCY)
    kit = tuple(Kit(f"camera {n}", "camera", yard_id="yard") for n in range(cameras))
    return problem(work, [crew(name) for name in CREWS], [shift(name) for name in CREWS], kit=kit)


def searched(case: Problem) -> tuple[Model, State]:
    model = Model(case, great_circle_travel(places_of(case)))
    found = Search(model, 1).found()
    return model, state_of(model, found.sequences, found.left, found.clips)


def test_sharing_out_keeps_to_the_time() -> None:
    """A week in which the cameras are wanted twice wherever the visits are moved."""
    crews = [crew(name) for name in CREWS]
    days = [Window(day * DAY + 8 * HOUR, day * DAY + 13 * HOUR) for day in range(5)]
    work = [
        visit(
            f"v{k}", 2, kit=(KitNeed("camera"),), lawful=(days[k % 5], days[(k + 1) % 5]), place=place(k % 9, k % 7)
        )
        for k in range(70)
    ]
    kit = tuple(Kit(f"camera {n}", "camera", yard_id="yard") for n in range(2))
    week = problem(work, crews, [shift(name, day) for name in CREWS for day in range(5)], kit=kit)
    make_ready()
    plan = make_plan(week, effort=Effort(seconds=0.3, cpu=True))
    assert plan.violations == ()
    assert plan.totals.planned > 10
    assert plan.seconds < 0.45


def test_the_most_pressing_visit_gets_its_camera() -> None:
    plan = make_plan(crowded(1), effort=Effort(seconds=20, most_rounds=200))
    assert plan.violations == ()
    assert "v5" in {visit_id for tour in plan.tours for visit_id in tour.visit_ids}
    calls = [stop.kit_ids for tour in plan.tours for stop in tour.stops if stop.kit_ids]
    assert calls == [("camera 0",)]


def test_what_is_held_is_held_from_all_others() -> None:
    model, state = searched(crowded(2))
    shares = share_out(model, state)
    assert not shares.fair
    again = Model(model.problem, model.travel, hold_shares(model, state), model)
    assert len(shares.taken) == 2
    for s, items in shares.taken.items():
        assert items[0] in again.kit[s].yard
    for s in set(range(7)) - set(shares.taken):
        assert again.kit[s].yard == ()
        assert not again.allowed[s].any()


def test_settled_shares_can_never_clash_again() -> None:
    model, state = searched(crowded(3))
    again = Model(model.problem, model.travel, settle_shares(model, state), model)
    for s in range(7):
        for other in range(s):
            assert not {i.id for i in again.kit[s].yard} & {i.id for i in again.kit[other].yard}
    found = Search(again, 2).found()
    assert share_out(again, state_of(again, found.sequences, found.left, found.clips)).fair


def test_a_model_within_limits_is_the_same_built_from_another_or_anew() -> None:
    model, state = searched(crowded(2))
    limits = hold_shares(model, state)
    one, other = Model(model.problem, model.travel, limits, model), Model(model.problem, model.travel, limits)
    assert (one.allowed == other.allowed).all()
    assert (one.fetched == other.fetched).all()
    assert one.options == other.options
    assert one.kit == other.kit
