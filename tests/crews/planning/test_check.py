"""The checker finds each kind of violation in a plan that was sound before."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from crews.planning.check import violations_of
from crews.planning.plan import Plan, Stop, StopKind
from crews.planning.planner import Effort, make_plan
from crews.planning.problem import Break, Kit, KitNeed, OrderLink, Pin, Problem, Window, Yard
from crews.planning.travel import great_circle_travel, places_of
from tests.crews.planning.small import DAY, HOUR, YARD_PLACE, crew, place, problem, shift, visit

CASE = problem(
    [
        visit("locate", kit=(KitNeed("receiver"),), lawful=(Window(8 * HOUR, 12 * HOUR),)),
        visit("dig", 2, parts={"coupling": 1}, lawful=(Window(8 * HOUR, 15 * HOUR),)),
    ],
    [crew(parts={"coupling": 1})],
    [shift(start_place=place(-6, 0), end_place=place(-6, 0), breaks=(Break(1_800, 11 * HOUR, 13 * HOUR),))],
    yards=(Yard("yard", YARD_PLACE, call_s=600),),
    kit=(Kit("receiver 1", "receiver", yard_id="yard"),),
    links=(OrderLink("locate", "dig", gap_min_s=HOUR // 2, gap_max_s=4 * HOUR),),
)
TRAVEL = great_circle_travel(places_of(CASE))


def sound() -> Plan:
    return make_plan(CASE, TRAVEL, Effort(seconds=20, most_rounds=80))


def change(plan: Plan, name: str, alter: Callable[[Stop], Stop | None]) -> Plan:
    tour = plan.tours[0]
    stops = []
    for stop in tour.stops:
        changed = alter(stop) if (stop.visit_id or stop.kind.value) == name else stop
        if changed is not None:
            stops.append(changed)
    return replace(plan, tours=(replace(tour, stops=tuple(stops)),))


def test_the_sound_plan_passes() -> None:
    plan = sound()
    assert plan.totals.planned == 2
    assert violations_of(CASE, TRAVEL, plan) == ()


ALTERED: list[tuple[str, str, Callable[[Stop], Stop | None]]] = [
    ("window", "dig", lambda s: replace(s, start_s=17 * HOUR, end_s=19 * HOUR)),
    ("duration", "dig", lambda s: replace(s, end_s=s.end_s - 60)),
    ("travel", "locate", lambda s: replace(s, arrive_s=s.arrive_s - 900, start_s=s.arrive_s - 900)),
    ("time", "locate", lambda s: replace(s, arrive_s=s.start_s + 60)),
    ("kit", "yard_call", lambda s: replace(s, kit_ids=())),
    ("kit", "yard_call", lambda s: replace(s, kit_ids=("no such item",))),
    ("yard", "yard_call", lambda s: replace(s, end_s=s.start_s + 60)),
    ("break", "break", lambda s: None),
    ("break", "break", lambda s: replace(s, start_s=s.start_s - 5 * HOUR, end_s=s.end_s - 5 * HOUR)),
    ("lost", "dig", lambda s: None),
    ("order", "locate", lambda s: None),
    ("gap", "dig", lambda s: replace(s, start_s=s.start_s - HOUR, end_s=s.end_s - HOUR)),
    ("twice", "dig", lambda s: replace(s, visit_id="locate")),
    ("unknown visit", "dig", lambda s: replace(s, visit_id="no such visit")),
    ("window", "dig", lambda s: replace(s, needs_renewal=True)),
]


@pytest.mark.parametrize(
    ("word", "name", "alter"), ALTERED, ids=[f"{n}: {w} {k}" for k, (w, n, _) in enumerate(ALTERED)]
)
def test_each_violation_is_named(word: str, name: str, alter: Callable[[Stop], Stop | None]) -> None:
    found = violations_of(CASE, TRAVEL, change(sound(), name, alter))
    assert any(line.startswith(f"{word}:") for line in found), found


OTHERWISE: list[tuple[str, Callable[[Problem], Problem]]] = [
    ("skill", lambda p: replace(p, visits=(replace(p.visits[0], skills=frozenset({"gas"})), p.visits[1]))),
    ("parts", lambda p: replace(p, crews=(replace(p.crews[0], parts={}),))),
    ("kit", lambda p: replace(p, kit=(replace(p.kit[0], fit_until_s=9 * HOUR),))),
    ("kit", lambda p: replace(p, kit=(replace(p.kit[0], out_of_service=True),))),
    ("pin", lambda p: replace(p, visits=(p.visits[0], replace(p.visits[1], pin=Pin("other shift"))))),
    ("pin", lambda p: replace(p, visits=(p.visits[0], replace(p.visits[1], pin=Pin("red 0", 5))))),
    ("shift", lambda p: replace(p, shifts=(replace(p.shifts[0], end_s=9 * HOUR),))),
    ("shift", lambda p: replace(p, shifts=(replace(p.shifts[0], start_s=8 * HOUR),))),
    ("unknown shift", lambda p: replace(p, shifts=(replace(p.shifts[0], id="other"),))),
    ("window", lambda p: replace(p, visits=(p.visits[0], replace(p.visits[1], expires_s=10 * HOUR)))),
    ("promise", lambda p: replace(p, visits=(p.visits[0], replace(p.visits[1], promised=(Window(DAY, DAY),))))),
]


@pytest.mark.parametrize(("word", "other"), OTHERWISE, ids=[f"{k} {w}" for k, (w, _) in enumerate(OTHERWISE)])
def test_the_plan_of_another_problem_is_caught(word: str, other: Callable[[Problem], Problem]) -> None:
    found = violations_of(other(CASE), TRAVEL, sound())
    assert any(line.startswith(f"{word}:") for line in found), found


def test_one_item_in_two_hands_is_caught() -> None:
    work = [visit(n, 2, kit=(KitNeed("camera"),), lawful=(Window(8 * HOUR, 8 * HOUR + 900),)) for n in ("a", "b")]
    kit = tuple(Kit(f"camera {n}", "camera", yard_id="yard") for n in (1, 2))
    both = problem(work, [crew("red"), crew("blue")], [shift("red"), shift("blue")], kit=kit)
    travel = great_circle_travel(places_of(both))
    plan = make_plan(both, travel, Effort(seconds=20, most_rounds=80))
    assert plan.violations == ()
    stolen = replace(
        plan,
        tours=tuple(
            replace(
                t,
                stops=tuple(
                    replace(s, kit_ids=("camera 1",)) if s.kind is StopKind.YARD_CALL else s for s in t.stops
                ),
            )
            for t in plan.tours
        ),
    )
    assert any(line.startswith("kit: camera 1 is fetched by") for line in violations_of(both, travel, stolen))
