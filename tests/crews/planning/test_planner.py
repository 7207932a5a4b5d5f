"""What a plan does with windows, kit, breaks, order, pins, and a plan in force."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import groupby

import pytest

from crews.planning.budget import Progress
from crews.planning.errors import BadProblem, PlanningCancelled
from crews.planning.plan import Plan, StopKind
from crews.planning.planner import Effort, make_plan
from crews.planning.problem import (
    Break,
    Kit,
    KitNeed,
    OrderLink,
    Pin,
    Planned,
    Priority,
    Problem,
    Weights,
    Window,
    Yard,
)
from crews.planning.reasons import moved_visits
from tests.crews.planning.small import DAY, HOUR, YARD_PLACE, crew, place, problem, shift, visit

EFFORT = Effort(seconds=20, most_rounds=120)


def planned(case: Problem, effort: Effort = EFFORT) -> Plan:
    plan = make_plan(case, effort=effort)
    assert plan.violations == ()
    return plan


def start_of(plan: Plan, visit_id: str) -> int | None:
    return next((s.start_s for t in plan.tours for s in t.stops if s.visit_id == visit_id), None)


def shift_of(plan: Plan, visit_id: str) -> str | None:
    return next((t.shift_id for t in plan.tours if visit_id in t.visit_ids), None)


def reason(plan: Plan, visit_id: str) -> str | None:
    return next((u.reason for u in plan.unplanned if u.visit_id == visit_id), None)


def test_nothing_to_plan_is_an_empty_plan() -> None:
    assert planned(problem([])).tours == ()


def test_a_dig_waits_for_its_lawful_window() -> None:
    plan = planned(problem([visit(lawful=(Window(11 * HOUR, 14 * HOUR),))]))
    start = start_of(plan, "a")
    assert start is not None
    assert 11 * HOUR <= start <= 14 * HOUR


def test_a_promise_is_kept_inside_the_law_only() -> None:
    inside = visit(lawful=(Window(8 * HOUR, 15 * HOUR),), promised=(Window(12 * HOUR, 13 * HOUR),))
    outside = replace(inside, promised=(Window(0, 7 * HOUR),))
    kept, missed = planned(problem([inside])), planned(problem([outside]))
    assert kept.totals.missed_promises == 0
    assert 12 * HOUR <= (start_of(kept, "a") or 0) <= 13 * HOUR
    assert missed.totals.missed_promises == 1
    assert (start_of(missed, "a") or 0) >= 8 * HOUR


def test_an_expired_ticket_is_planned_with_its_renewal_or_reported() -> None:
    closed = visit(lawful=(Window(0, 6 * HOUR),), expires_s=7 * HOUR)
    assert reason(planned(problem([closed])), "a") in {"expired", "window_closed"}
    renewed = planned(problem([replace(closed, renewed=(Window(8 * HOUR, 12 * HOUR),))]))
    assert renewed.totals.renewals == 1
    assert [s.needs_renewal for t in renewed.tours for s in t.stops if s.visit_id] == [True]


def test_an_emergency_goes_before_three_others() -> None:
    short = [shift(end_h=10)]
    work = [visit("calm 1", 1), visit("calm 2", 1), visit("urgent", 2.2, priority=Priority.EMERGENCY)]
    plan = planned(problem(work, shifts=short))
    assert shift_of(plan, "urgent") is not None
    assert {u.reason for u in plan.unplanned} == {"no_room"}


@pytest.mark.parametrize("urgent_east_km", [10, 60])
def test_what_is_wanted_soon_goes_before_the_rest_of_the_day(urgent_east_km: int) -> None:
    soon = tuple(range(8 * HOUR, 15 * HOUR, HOUR))
    urgent = visit(
        "urgent",
        2,
        place=place(5, urgent_east_km),
        priority=Priority.EMERGENCY,
        promised=(Window(0, 5),),
        sooner_s=soon,
    )
    rest = [visit(f"calm {km}", 1, place=place(5, km)) for km in (5, 30, 70)]
    plan = planned(problem([*rest, urgent]))
    starts = [start_of(plan, one.id) for one in (urgent, *rest)]
    assert all(start is not None for start in starts)
    assert starts[0] == min(start for start in starts if start is not None)


def test_instants_wished_for_must_rise() -> None:
    with pytest.raises(BadProblem, match="sooner_s"):
        planned(problem([replace(visit("urgent", 1), sooner_s=(9 * HOUR, 8 * HOUR))]))


def test_an_expiring_dig_goes_before_one_that_can_wait() -> None:
    day = [shift(end_h=10)]
    plan = planned(
        problem(
            [visit("later", 2.2), visit("now", 2.2, expires_s=16 * HOUR)],
            shifts=[
                *day,
            ],
        )
    )
    assert shift_of(plan, "now") is not None
    assert shift_of(plan, "later") is None


def test_kit_is_on_the_truck_fetched_or_nowhere() -> None:
    need = visit(kit=(KitNeed("camera"),))
    yard = (Yard("yard", YARD_PLACE, call_s=900),)
    home = [shift(start_place=place(-9, 0), end_place=place(-9, 0))]
    truck = planned(problem([need], shifts=home, yards=yard, kit=(Kit("camera 1", "camera", crew_id="red"),)))
    assert [s.kind for s in truck.tours[0].stops] == [StopKind.VISIT]
    fetched = planned(problem([need], shifts=home, yards=yard, kit=(Kit("camera 1", "camera", yard_id="yard"),)))
    call, stop = fetched.tours[0].stops
    assert (call.kind, call.kit_ids, call.end_s - call.start_s) == (StopKind.YARD_CALL, ("camera 1",), 900)
    assert stop.visit_id == "a"
    assert reason(planned(problem([need], shifts=home, yards=yard)), "a") == "no_kit"


@pytest.mark.parametrize(
    ("item", "words"),
    [
        (
            Kit("receiver 1", "receiver", crew_id="red", frequencies_hz=frozenset({512}), fit_until_s=5 * HOUR),
            "calibration",
        ),
        (
            Kit("receiver 1", "receiver", crew_id="red", frequencies_hz=frozenset({512}), out_of_service=True),
            "out of service",
        ),
        (Kit("receiver 1", "receiver", crew_id="red", frequencies_hz=frozenset({8192})), "512 Hz"),
    ],
)
def test_kit_that_is_unfit_is_not_there_and_the_reason_says_so(item: Kit, words: str) -> None:
    plan = planned(problem([visit(kit=(KitNeed("receiver", 512),))], kit=(item,)))
    assert [u.reason for u in plan.unplanned] == ["no_kit"]
    assert words in plan.unplanned[0].words


def test_a_transmitter_and_a_receiver_need_a_common_frequency() -> None:
    needs = (KitNeed("receiver", common_frequency_with="transmitter"), KitNeed("transmitter"))
    receiver = Kit("receiver 1", "receiver", crew_id="red", frequencies_hz=frozenset({512, 8192}))
    good = Kit("transmitter 1", "transmitter", crew_id="red", frequencies_hz=frozenset({8192}))
    deaf = replace(good, frequencies_hz=frozenset({33_000}))
    assert planned(problem([visit(kit=needs)], kit=(receiver, good))).totals.planned == 1
    assert planned(problem([visit(kit=needs)], kit=(receiver, deaf))).totals.planned == 0


def test_one_camera_at_the_yard_serves_one_crew_at_a_time() -> None:
    both = [crew("red"), crew("blue")]
    times = (Window(8 * HOUR, 9 * HOUR),)
    work = [visit(n, 5, kit=(KitNeed("camera"),), lawful=times) for n in ("a", "b")]
    kit = (Kit("camera 1", "camera", yard_id="yard"),)
    plan = planned(problem(work, both, [shift("red"), shift("blue")], kit=kit))
    assert plan.totals.planned == 1
    two = (*kit, Kit("camera 2", "camera", yard_id="yard"))
    assert planned(problem(work, both, [shift("red"), shift("blue")], kit=two)).totals.planned == 2


def test_movable_kit_of_an_absent_crew_lies_at_the_yard() -> None:
    item = Kit("camera 1", "camera", crew_id="blue", movable=True)
    work, crews = [visit(kit=(KitNeed("camera"),))], [crew("red"), crew("blue")]
    assert planned(problem(work, crews, [shift("red")], kit=(item,))).totals.planned == 1
    assert (
        planned(problem(work, crews, [shift("red"), shift("blue")], kit=(replace(item, movable=False),)))
        .tours[0]
        .shift_id
        == "blue 0"
    )


def test_parts_run_out_and_the_yard_has_more() -> None:
    work = [visit(n, parts={"coupling": 1}) for n in ("a", "b")]
    red = [crew(parts={"coupling": 1})]
    without = planned(problem(work, red))
    stocked = planned(problem(work, red, yards=(Yard("yard", YARD_PLACE, frozenset({"coupling"})),)))
    assert (without.totals.planned, stocked.totals.planned) == (1, 2)
    (gone,) = without.unplanned
    assert gone.reason == "no_parts"
    assert "used up by other visits of the day" in gone.words


def test_a_break_is_taken_between_visits() -> None:
    rest = Break(1_800, 11 * HOUR, 12 * HOUR)
    plan = planned(problem([visit("a", 3), visit("b", 3)], shifts=[shift(breaks=(rest,))]))
    stop = next(s for s in plan.tours[0].stops if s.kind is StopKind.BREAK)
    assert 11 * HOUR <= stop.start_s <= 12 * HOUR
    assert plan.totals.planned == 2


def test_order_and_gaps_hold_over_crews_and_days() -> None:
    crews = [crew("red", {"locate"}), crew("blue", {"dig"})]
    shifts = [shift(n, d) for n in ("red", "blue") for d in (0, 1)]
    work = [visit("locate", skills=frozenset({"locate"})), visit("dig", skills=frozenset({"dig"}))]
    link = OrderLink("locate", "dig", gap_min_s=2 * HOUR, gap_max_s=5 * HOUR)
    plan = planned(problem(work, crews, shifts, links=(link,)))
    locate, dig = start_of(plan, "locate"), start_of(plan, "dig")
    assert locate is not None
    assert dig is not None
    assert 2 * HOUR <= dig - (locate + HOUR) <= 5 * HOUR


def test_what_must_come_before_and_cannot_takes_the_later_one_with_it() -> None:
    work = [visit("locate", skills=frozenset({"camera"})), visit("dig")]
    plan = planned(problem(work, links=(OrderLink("locate", "dig"),)))
    assert reason(plan, "locate") == "no_skill"
    assert reason(plan, "dig") == "earlier_left_out"


def test_a_pinned_visit_stays() -> None:
    crews, shifts = [crew("red"), crew("blue")], [shift("red"), shift("blue", start_place=place(50, 0))]
    plan = planned(problem([visit(pin=Pin("blue 0", 10 * HOUR))], crews, shifts))
    assert (shift_of(plan, "a"), start_of(plan, "a")) == ("blue 0", 10 * HOUR)


def test_a_replan_moves_only_what_it_must() -> None:
    crews = [crew(n) for n in ("red", "blue", "green")]
    shifts = [shift(n) for n in ("red", "blue", "green")]
    work = [visit(f"v{k}", 2, place=place(4 * k, 3 * (k % 3))) for k in range(9)]
    before = planned(problem(work, crews, shifts))
    was = {i: Planned(t.shift_id, start_of(before, i) or 0) for t in before.tours for i in t.visit_ids}
    sick = before.tours[0].shift_id
    replan = problem(work, crews, [s for s in shifts if s.id != sick], previous=was, weights=Weights(moved=50_000))
    after = planned(replan)
    stayed = [i for i, at in was.items() if at.shift_id != sick]
    assert stayed
    assert all(shift_of(after, i) == was[i].shift_id for i in stayed if shift_of(after, i) is not None)
    moved = {m.visit_id: m for m in moved_visits(replan, after)}
    gone = [i for i, at in was.items() if at.shift_id == sick]
    assert set(gone) <= set(moved)
    assert all("no longer worked" in moved[i].words for i in gone if moved[i].now is not None)


def test_overtime_is_used_only_when_it_pays() -> None:
    day = [shift(end_h=11, overtime_max_s=2 * HOUR)]
    plan = planned(problem([visit("a", 2), visit("b", 2)], shifts=day))
    assert plan.totals.planned == 2
    assert 0 < plan.totals.overtime_s <= 2 * HOUR


def test_unevenness_spreads_the_work_when_the_owner_asks_for_it() -> None:
    crews, shifts = [crew("red"), crew("blue")], [shift("red"), shift("blue")]
    work = [visit(n, 1.5, place=place(1, k)) for k, n in enumerate("abcd")]
    lopsided = planned(problem(work, crews, shifts))
    even = planned(problem(work, crews, shifts, weights=Weights(unevenness=5)))
    assert lopsided.totals.shifts_used == 1
    assert sorted(len(t.visit_ids) for t in even.tours) == [2, 2]


def test_the_same_seed_and_rounds_give_the_same_plan() -> None:
    case = problem(
        [visit(f"v{k}", 1, place=place(3 * k, 7 - k)) for k in range(8)],
        [crew("red"), crew("blue")],
        [shift("red"), shift("blue")],
        links=(OrderLink("v0", "v5"),),
    )
    first, second = planned(case), planned(case)
    assert (first.tours, first.totals) == (second.tours, second.totals)


def test_beyond_a_hundred_visits_our_own_search_goes_on_from_the_engines_plan() -> None:
    rng = random.Random(7)
    many = [visit(f"v{k}", 0.25, place=place(rng.uniform(-9, 9), rng.uniform(-9, 9))) for k in range(120)]
    team = [crew(f"crew {k}") for k in range(8)]
    phases: list[str] = []
    case = problem(many, crews=team, shifts=[shift(one.id) for one in team])
    plan = make_plan(case, effort=Effort(seconds=1.5), listener=lambda told: phases.append(told.phase))
    assert plan.violations == ()
    assert plan.totals.planned == 120
    assert [phase for phase, _ in groupby(phases)][-2:] == ["planning tours", "improving tours"]


def test_progress_is_told_and_a_cancelled_search_changes_nothing() -> None:
    told: list[Progress] = []
    case = problem([visit("a"), visit("b")], links=(OrderLink("a", "b"),))
    make_plan(case, effort=EFFORT, listener=told.append)
    assert told
    phases = [progress.phase for progress in told if "making the search ready" not in progress.phase]
    assert phases[0] == "reading the problem"
    with pytest.raises(PlanningCancelled):
        make_plan(case, effort=Effort(seconds=20), cancelled=lambda: True)


def test_a_visit_on_the_second_day_only() -> None:
    late = visit(lawful=(Window(DAY, 2 * DAY),))
    assert shift_of(planned(problem([late], shifts=[shift(day=0), shift(day=1)])), "a") == "red 1"
    assert reason(planned(problem([late])), "a") == "not_open_yet"


def test_answers_not_yet_given_are_named_as_an_assumption() -> None:
    plan = planned(problem([visit("a", assumes_answers=True), visit("b")]))
    assert any("answers in time: a." in note for note in plan.notes)
