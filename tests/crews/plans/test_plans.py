"""Plans from asking to acceptance, through the services and the database."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest
import time_machine

from crews import services
from crews.gather_plan import gather
from crews.models import Crew, CrewShift, DayOff, Person, Plan, PlanState, Visit, WantedVisit
from crews.planning.problem import Weights
from crews.services.plans import SILENT
from crews.tasks import compute_plan, sweep_plans
from locates.errors import FirstspadeError
from tests.crews.factories import CrewFactory, EquipmentFactory, PersonFactory
from tests.crews.office import NOW, at, clear_job, make_job
from tests.crews.plans.conftest import give_kit, stop_for
from tickets import services as office
from tickets.models import Job

Computed = Callable[..., Plan]


def refused(code: str) -> pytest.RaisesExc:
    return pytest.RaisesExc(FirstspadeError, check=lambda problem: problem.code == code)


def test_a_dig_is_planned_inside_its_window_and_says_what_it_assumes(
    computed: Computed, crew: Crew, clear: Job, waiting: Job
) -> None:
    plan = computed()
    assert plan.state == PlanState.PROPOSED, plan.failure
    now, later = stop_for(plan, clear), stop_for(plan, waiting)
    assert now.starts_at >= NOW
    assert now.assumes == ""
    assert later.starts_at >= at(18, 7)
    assert "Counts on what is missing" in later.assumes
    assert later.starts_at.minute % 5 == 0
    assert not Visit.objects.exists()  # a proposal touches no crew's day


def test_accepting_the_whole_makes_the_visits(
    computed: Computed, crew: Crew, clear: Job, waiting: Job, dispatcher: Person
) -> None:
    plan = computed()
    assert services.accept_plan(plan=plan, actor=dispatcher, now=NOW).done == 2
    plan.refresh_from_db()
    assert plan.state == PlanState.ACCEPTED
    for stop in plan.stops.filter(stop="visit"):
        visit = Visit.objects.get(job=stop.job)
        assert (visit.crew, visit.starts_at, visit.ends_at) == (stop.crew, stop.starts_at, stop.ends_at)


def test_a_second_plan_leaves_accepted_visits_where_they_are(
    computed: Computed, crew: Crew, clear: Job, waiting: Job, dispatcher: Person
) -> None:
    services.accept_plan(plan=computed(), actor=dispatcher, now=NOW)
    again = computed()
    assert {stop.moved for stop in again.stops.filter(stop="visit")} == {""}
    assert again.before["visits"] == again.after["visits"] == 2


def test_a_changed_fact_is_named_and_nothing_is_saved(
    computed: Computed, crew: Crew, clear: Job, waiting: Job, dispatcher: Person
) -> None:
    plan = computed()
    operator = waiting.tickets.get().operators.order_by("pk").first()
    office.record_answer(
        operator=operator, actor=dispatcher, now=NOW, outcome="asked_more_time", holds_until=at(22, 7)
    )
    with refused("plan_out_of_date") as caught:
        services.accept_plan(plan=plan, actor=dispatcher, now=NOW)
    assert waiting.number in str(caught.value)
    assert not Visit.objects.exists()
    # What does not bear on the change may still be accepted by itself.
    services.accept_stop(stop=stop_for(plan, clear), actor=dispatcher, now=NOW)
    with refused("plan_out_of_date"):
        services.accept_stop(stop=stop_for(plan, waiting), actor=dispatcher, now=NOW)
    assert Visit.objects.get().job == clear


def test_a_visit_placed_by_hand_since_is_a_change(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person
) -> None:
    plan = computed()
    other = make_job(title="Other", latitude=37.45)
    services.schedule_visit(
        job=other, crew=crew, kind="camera", starts_at=at(17, 9), ends_at=at(17, 10), actor=dispatcher, now=NOW
    )
    with refused("plan_out_of_date") as caught:
        services.accept_plan(plan=plan, actor=dispatcher, now=NOW)
    assert "was placed since" in str(caught.value)


def test_moving_to_an_unlawful_hour_is_refused_with_the_reason(
    computed: Computed, crew: Crew, waiting: Job, dispatcher: Person
) -> None:
    plan = computed()
    stop = stop_for(plan, waiting)
    with refused("window_refused") as caught:
        services.move_stop(stop=stop, crew=crew, starts_at=at(17, 9), actor=dispatcher, now=NOW)
    assert "Fri 18 Sep" in str(caught.value)
    stop.refresh_from_db()
    assert stop.starts_at >= at(18, 7)


def test_moving_within_the_law_keeps_the_day_whole(
    computed: Computed, crew: Crew, clear: Job, waiting: Job, dispatcher: Person
) -> None:
    plan = computed()
    stop = services.move_stop(stop=stop_for(plan, waiting), crew=crew, starts_at=at(21, 9), actor=dispatcher, now=NOW)
    assert stop.starts_at == at(21, 9)
    plan.refresh_from_db()
    assert plan.after["by_hand"] is True
    assert plan.stops.filter(stop="break", shift=stop.shift).count() == 1
    with refused("stop_refused"):  # on top of the other dig
        clash = stop_for(plan, clear)
        services.move_stop(stop=clash, crew=crew, starts_at=at(21, 11), actor=dispatcher, now=NOW)
    with refused("off_shift"):
        services.move_stop(stop=stop, crew=crew, starts_at=at(20, 10), actor=dispatcher, now=NOW)  # a Sunday
    assert services.accept_plan(plan=plan, actor=dispatcher, now=NOW).done == 2
    assert Visit.objects.get(job=waiting).starts_at == at(21, 9)


def test_the_independent_check_runs_again_before_acceptance(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person
) -> None:
    plan = computed()
    stop = stop_for(plan, clear)
    stop.ends_at += timedelta(hours=9)  # tampered with, past every shift
    stop.save()
    with refused("plan_unsound"):
        services.accept_plan(plan=plan, actor=dispatcher, now=NOW)
    assert not Visit.objects.exists()


def test_a_locate_comes_before_its_dig_and_needs_fit_kit(
    computed: Computed, crew: Crew, dispatcher: Person, frozen_now: object
) -> None:
    job = clear_job(private_lines_likely=True)

    plan = computed()
    left = {gone["key"]: gone for gone in plan.unplanned}
    assert left[f"{job.number} private locate"]["reason"] == "no_kit"
    give_kit(crew)
    plan = computed()
    locate = plan.stops.get(job=job, kind="private_locate")
    dig = plan.stops.filter(job=job, kind="dig").first()
    if dig is None:  # the verdict says stop until the locate is on record: the reason must say so
        assert any(gone["key"] == f"{job.number} dig" and gone["words"] for gone in plan.unplanned)
    else:
        assert locate.ends_at <= dig.starts_at


def test_an_item_past_its_date_is_not_there(computed: Computed, crew: Crew, frozen_now: object) -> None:
    job = clear_job(private_lines_likely=True)
    give_kit(crew, receiver=date(2026, 9, 10))
    gone = {g["key"]: g["words"] for g in computed().unplanned}
    assert "calibration" in gone[f"{job.number} private locate"]


def test_what_cannot_be_planned_has_a_reason(computed: Computed, frozen_now: object) -> None:
    CrewFactory(name="Basalt crew", skills=["camera"])
    job, bare = clear_job(), make_job(title="No ticket", latitude=37.41)
    reasons = {g["key"]: g for g in computed().unplanned}
    assert reasons[f"{job.number} dig"]["reason"] == "no_skill"
    assert reasons[f"{bare.number} dig"]["reason"] == "no_window"
    assert reasons[f"{bare.number} dig"]["words"]


def test_days_off_and_hours_bind(computed: Computed, crew: Crew, clear: Job, owner: Person) -> None:
    for day in (16, 17, 18):
        DayOff.objects.create(crew=crew, on=date(2026, 9, day), set_by=owner)
    CrewShift.objects.create(crew=crew, weekday=0, starts="09:00", ends="17:00")
    stop = stop_for(computed(), clear)
    assert stop.starts_at >= at(21, 9)
    assert stop.ends_at <= at(21, 18)


def test_wanted_work_brings_its_length_promise_and_gap(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person
) -> None:
    common = {"job": clear, "asked_by": dispatcher, "asked_at": NOW}
    promise = {"promised_from": at(17, 13), "promised_until": at(17, 14)}
    WantedVisit.objects.create(kind="dig", minutes=120, **promise, **common)
    WantedVisit.objects.create(kind="restore", minutes=60, gap_least_hours=24, **common)
    plan = computed()
    dig, after = stop_for(plan, clear), stop_for(plan, clear, "restore")
    assert at(17, 13) <= dig.starts_at <= at(17, 14)
    assert dig.ends_at - dig.starts_at == timedelta(hours=2)
    assert after.starts_at - dig.ends_at >= timedelta(hours=24)
    with refused("accept_in_order"):
        services.accept_stop(stop=after, actor=dispatcher, now=NOW)
    services.accept_plan(plan=plan, actor=dispatcher, now=NOW)
    assert WantedVisit.objects.filter(visit=None).count() == 0


def test_pinned_visits_stay(computed: Computed, crew: Crew, clear: Job, waiting: Job, dispatcher: Person) -> None:
    services.schedule_visit(
        job=clear,
        crew=crew,
        kind="dig",
        starts_at=at(18, 8, 10),
        ends_at=at(18, 12, 10),
        actor=dispatcher,
        now=NOW,
        pinned=True,
    )
    plan = computed()
    assert stop_for(plan, clear).starts_at == at(18, 8, 10)
    pinned = services.pin_stop(stop=stop_for(plan, waiting), pinned=True, actor=dispatcher)
    services.accept_plan(plan=plan, actor=dispatcher, now=NOW)
    assert Visit.objects.get(job=waiting).pinned
    assert pinned.pinned


def test_contradictions_are_told_and_nothing_is_kept(computed: Computed, crew: Crew, clear: Job) -> None:
    CrewShift.objects.create(crew=crew, weekday=2, starts="07:00", ends="12:00", overtime_minutes=60)
    CrewShift.objects.create(crew=crew, weekday=2, starts="11:00", ends="16:00")
    plan = computed()
    assert plan.state == PlanState.FAILED
    assert "overlap" in plan.failure
    assert not plan.stops.exists()


def test_only_the_office_asks_and_one_at_a_time(dispatcher: Person, crew: Crew) -> None:
    with refused("forbidden"):
        services.ask_plan(actor=PersonFactory(crew=crew), now=NOW)
    with refused("bad_input"):
        services.ask_plan(actor=dispatcher, now=NOW, working_days=400)
    services.ask_plan(actor=dispatcher, now=NOW)
    with refused("plan_under_way"):
        services.ask_plan(actor=dispatcher, now=NOW)


def test_calling_off(dispatcher: Person, crew: Crew, clear: Job) -> None:
    plan = services.ask_plan(actor=dispatcher, now=NOW)
    services.call_off_plan(plan=plan, actor=dispatcher)
    assert not services.compute_plan(plan_id=plan.pk, tick=lambda: NOW)
    plan = services.ask_plan(actor=dispatcher, now=NOW)
    Plan.objects.filter(pk=plan.pk).update(call_off=True)  # as if pressed while the worker reads the facts
    assert services.compute_plan(plan_id=plan.pk, tick=lambda: NOW)
    plan.refresh_from_db()
    assert (plan.state, plan.stops.count()) == (PlanState.CALLED_OFF, 0)


def test_a_silent_worker_is_given_up(dispatcher: Person, crew: Crew) -> None:
    plan = services.ask_plan(actor=dispatcher, now=NOW)
    Plan.objects.filter(pk=plan.pk).update(state=PlanState.COMPUTING, told_at=NOW)
    later = NOW + SILENT + timedelta(seconds=1)
    again = services.ask_plan(actor=dispatcher, now=later)
    plan.refresh_from_db()
    assert plan.state == PlanState.FAILED
    assert again.state == PlanState.WAITING


def test_the_task_computes_what_waits_once(
    dispatcher: Person, crew: Crew, clear: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    handed: list[int] = []
    monkeypatch.setattr(compute_plan, "delay", handed.append)
    plan = services.ask_plan(actor=dispatcher, now=NOW)
    assert sweep_plans() == 1
    assert handed == [plan.pk]
    with time_machine.travel(NOW, tick=True):
        assert compute_plan(plan.pk)
    assert not compute_plan(plan.pk)  # a second delivery
    plan.refresh_from_db()
    assert plan.state == PlanState.PROPOSED


def test_weights_are_the_owners(dispatcher: Person, owner: Person, computed: Computed, crew: Crew) -> None:
    with refused("forbidden"):
        services.set_weights(actor=dispatcher, now=NOW, drive=2)
    with refused("bad_input"):
        services.set_weights(actor=owner, now=NOW, drive=-1)
    services.set_weights(actor=owner, now=NOW, drive=3)
    plan = computed()
    assert plan.weights["drive"] == 3
    assert plan.weights["overtime"] == Weights().overtime


def test_queries_do_not_grow_with_the_jobs(
    crew: Crew, clear: Job, django_assert_max_num_queries: Callable[..., object]
) -> None:
    from tests.crews.office import copies

    copies(clear, 12)
    with django_assert_max_num_queries(30):  # type: ignore[attr-defined]
        gathered = gather(NOW, 5, Weights())
    assert len(gathered.work) == 13


def test_an_emergency_comes_first_and_soon(
    computed: Computed, crew: Crew, waiting: Job, dispatcher: Person, frozen_now: object
) -> None:
    office.declare_emergency(job=waiting, actor=dispatcher, now=NOW, reason="Main broken, water in the street")
    stop = stop_for(computed(), waiting)
    assert stop.starts_at <= NOW + timedelta(hours=12)
    assert "mergency" in stop.assumes


def test_a_day_that_still_works_keeps_its_hours(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person
) -> None:
    """Against the planner's own wish to start as early as it can."""
    services.change_crew(crew=crew, actor=PersonFactory(owner=True), now=NOW, skills=["dig", "camera"])
    for hour, length in ((13, 2), (9, 1)):
        services.schedule_visit(
            job=clear,
            crew=crew,
            kind="camera" if length == 1 else "dig",
            starts_at=at(18, hour),
            ends_at=at(18, hour + length),
            actor=dispatcher,
            now=NOW,
        )
    give_kit(crew)
    EquipmentFactory(kind="camera_reel", crew=crew)
    plan = computed()
    starts = set(plan.stops.filter(job=clear, stop="visit").values_list("starts_at", flat=True))
    assert starts == {at(18, 13), at(18, 9)}, plan.unplanned


def test_two_visits_that_trade_their_hours_are_moved_together(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person
) -> None:
    other = make_job(title="Second", latitude=37.41)
    services.change_crew(crew=crew, actor=PersonFactory(owner=True), now=NOW, skills=["dig", "camera"])
    EquipmentFactory(kind="camera_reel", crew=crew)
    first, second = (
        services.schedule_visit(
            job=job,
            crew=crew,
            kind="camera",
            starts_at=at(17, hour),
            ends_at=at(17, hour + 2),
            actor=dispatcher,
            now=NOW,
        )
        for job, hour in ((clear, 9), (other, 12))
    )
    plan = computed()
    one, two = stop_for(plan, clear, "camera"), stop_for(plan, other, "camera")
    assert (one.starts_at, two.starts_at) == (at(17, 9), at(17, 12))
    for stop, hour in ((one, 12), (two, 9)):
        stop.starts_at, stop.ends_at = at(17, hour), at(17, hour + 2)
        stop.save()
    plan.stops.filter(stop="break", shift=one.shift).update(starts_at=at(17, 11, 10), ends_at=at(17, 11, 40))
    accepted = services.accept_plan(plan=plan, actor=dispatcher, now=NOW)
    assert accepted.done == 3  # the dig that the job needs as well
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.starts_at, second.starts_at) == (at(17, 12), at(17, 9))
