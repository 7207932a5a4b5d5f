"""Visits that stand and cannot be moved keep their crew's hours, so that a proposal can be accepted whole."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date, datetime, timedelta
from itertools import pairwise

import pytest

from crews import services
from crews.models import Crew, DayOff, Person, Plan, PlanState, Visit, WantedVisit
from locates.errors import FirstspadeError
from tests.crews.factories import CrewFactory, VisitFactory
from tests.crews.office import NOW, at, clear_job, make_job
from tests.crews.plans.conftest import clear, computed, crew, dispatcher, owner, small_effort, stop_for, waiting
from tickets import services as office
from tickets.models import Job

__all__ = ["clear", "computed", "crew", "dispatcher", "owner", "small_effort", "waiting"]
Computed = Callable[..., Plan]


@pytest.fixture
def inspection(db: None, frozen_now: datetime) -> Job:
    """Its camera visit can be made by no crew: none has a camera."""
    return make_job(title="Inspection", latitude=37.45, dig_areas=[])


def only_on(crew: Crew, day: int, by: Person) -> None:
    """Of the days Wed 16 to Tue 22 the crew works on that one alone."""
    for other in {16, 17, 18, 21, 22} - {day}:
        DayOff.objects.create(crew=crew, on=date(2026, 9, other), set_by=by)


def overlaps(crew: Crew) -> list[tuple[Visit, Visit]]:
    visits = list(Visit.objects.filter(crew=crew, cancelled_at=None).order_by("starts_at", "pk"))
    return [(one, two) for one, two in pairwise(visits) if two.starts_at < one.ends_at]


def test_a_visit_that_nobody_can_make_keeps_its_hours(
    computed: Computed, crew: Crew, clear: Job, inspection: Job, dispatcher: Person
) -> None:
    stands = VisitFactory(job=inspection, crew=crew, kind="camera", starts_at=at(17, 10), ends_at=at(17, 11, 30))
    only_on(crew, 17, dispatcher)
    plan = computed()
    dig = stop_for(plan, clear)
    assert dig.starts_at >= stands.ends_at
    assert dig.drive_s > 0  # from the inspection's site, not from the yard
    (row,) = plan.unplanned
    assert row["reason"] == "no_skill"
    assert "stays where it is" in row["stands"]
    assert (plan.before["visits"], plan.after["visits"], plan.after["left"]) == (1, 2, 0)
    assert services.accept_plan(plan=plan, actor=dispatcher, now=NOW).done == 1
    assert overlaps(crew) == []
    stands.refresh_from_db()
    assert (stands.starts_at, stands.crew) == (at(17, 10), crew)


@pytest.mark.parametrize(
    ("starts", "ends", "first", "last"),
    [
        (at(17, 5), at(17, 8), at(17, 8), at(17, 17)),  # before the shift and into it
        (at(17, 14, 30), at(17, 19), at(17, 7), at(17, 14, 30)),  # into the shift's end and beyond
    ],
)
def test_a_pinned_visit_half_outside_the_shift_bounds_the_plan(
    computed: Computed,
    crew: Crew,
    clear: Job,
    inspection: Job,
    dispatcher: Person,
    starts: datetime,
    ends: datetime,
    first: datetime,
    last: datetime,
) -> None:
    VisitFactory(job=inspection, crew=crew, kind="white_line", starts_at=starts, ends_at=ends, pinned=True)
    only_on(crew, 17, dispatcher)
    plan = computed()
    dig = stop_for(plan, clear)
    assert first < dig.starts_at
    assert dig.ends_at <= last
    (row,) = plan.unplanned
    assert row["reason"] == "pinned_off_shift"
    services.accept_plan(plan=plan, actor=dispatcher, now=NOW)
    assert overlaps(crew) == []


def test_pinned_visits_with_no_time_to_drive_between_them_both_stay(
    computed: Computed, crew: Crew, clear: Job, inspection: Job, dispatcher: Person
) -> None:
    """No plan of ours could hold both; a person placed them, so both stay."""
    far = make_job(title="Far", latitude=37.8, dig_areas=[])
    for job, hour in ((inspection, 8), (far, 9)):
        VisitFactory(
            job=job, crew=crew, kind="white_line", starts_at=at(17, hour), ends_at=at(17, hour + 1), pinned=True
        )
    only_on(crew, 17, dispatcher)
    plan = computed()
    assert plan.state == PlanState.PROPOSED, plan.failure
    assert len(plan.held) >= 1
    assert stop_for(plan, clear).starts_at > at(17, 10)
    services.accept_plan(plan=plan, actor=dispatcher, now=NOW)
    assert overlaps(crew) == []
    assert Visit.objects.count() == 3


def test_a_full_day_is_planned_round_what_finds_no_other_place(
    computed: Computed, crew: Crew, clear: Job, inspection: Job, dispatcher: Person
) -> None:
    """The dig is worth more, but the visit that stands has nowhere else to go."""
    VisitFactory(job=inspection, crew=crew, kind="white_line", starts_at=at(17, 9), ends_at=at(17, 16))
    WantedVisit.objects.create(job=clear, kind="dig", minutes=300, priority="high", asked_by=dispatcher, asked_at=NOW)
    only_on(crew, 17, dispatcher)
    plan = computed()
    left = {row["key"]: row for row in plan.unplanned}
    assert left[f"{clear.number} dig"]["reason"] == "too_long"
    assert left[f"{clear.number} dig"]["stands"] == ""
    assert plan.held
    assert "stays where it is" in left[f"{inspection.number} white lining"]["stands"]
    with pytest.raises(FirstspadeError, match="moves no visit"):
        services.accept_plan(plan=plan, actor=dispatcher, now=NOW)


def test_an_emergency_comes_first_and_what_stands_in_its_hours_is_named(
    computed: Computed, crew: Crew, clear: Job, inspection: Job, dispatcher: Person
) -> None:
    stands = VisitFactory(job=inspection, crew=crew, kind="white_line", starts_at=at(17, 7, 30), ends_at=at(17, 16))
    office.declare_emergency(job=clear, actor=dispatcher, now=NOW, reason="Main broken, water in the street")
    only_on(crew, 17, dispatcher)
    plan = computed()
    assert stop_for(plan, clear).starts_at < at(17, 16)
    (row,) = plan.unplanned
    assert "hours of an emergency" in row["stands"]
    with pytest.raises(
        FirstspadeError, match=f"{clear.number} dig: Alder crew is already on job {inspection.number}"
    ):
        services.accept_plan(plan=plan, actor=dispatcher, now=NOW)
    assert Visit.objects.count() == 1
    plan.refresh_from_db()
    assert plan.state == PlanState.PROPOSED
    services.cancel_visit(visit=stands, reason="Emergency at Larkmoor", actor=dispatcher, now=NOW)
    plan = computed()
    assert services.accept_plan(plan=plan, actor=dispatcher, now=NOW).done == 1


def test_the_order_of_a_job_holds_round_a_visit_that_stays(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person
) -> None:
    """The white lining is pinned on a Saturday, so the dig comes after it and the photograph's visit stays."""
    VisitFactory(job=clear, crew=crew, kind="white_line", starts_at=at(19, 9), ends_at=at(19, 10), pinned=True)
    plan = computed()
    assert stop_for(plan, clear).starts_at >= at(21, 7)


def test_a_visit_of_a_closed_job_keeps_its_hours_too(
    computed: Computed, crew: Crew, clear: Job, inspection: Job, dispatcher: Person
) -> None:
    VisitFactory(job=inspection, crew=crew, kind="white_line", starts_at=at(17, 7), ends_at=at(17, 11))
    Job.objects.filter(pk=inspection.pk).update(closed_at=NOW)
    only_on(crew, 17, dispatcher)
    plan = computed()
    assert stop_for(plan, clear).starts_at >= at(17, 11)
    services.accept_plan(plan=plan, actor=dispatcher, now=NOW)
    assert overlaps(crew) == []


@pytest.mark.parametrize("seed", range(6))
def test_whatever_stands_a_whole_acceptance_never_collides(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person, seed: int
) -> None:
    """Visits strewn by a seeded die over crews and hours, some pinned, some that nobody can make, some unlawful."""
    die = random.Random(seed)
    other = CrewFactory(name="Basalt crew", skills=["dig", "white_line"], yard_latitude=37.3)
    jobs = [clear, *(clear_job(title=f"Job {n}") for n in range(4))]
    for who in (crew, other):
        for day in (16, 17, 18, 21):
            clock = at(day, die.choice((6, 11, 12)))
            while clock < at(day, 17):
                length = timedelta(minutes=die.choice((30, 60, 120, 240)))
                if die.random() < 0.5:
                    VisitFactory(
                        job=die.choice(jobs),
                        crew=who,
                        kind=die.choice(("dig", "camera", "white_line", "private_locate", "restore")),
                        starts_at=clock,
                        ends_at=clock + length,
                        pinned=die.random() < 0.4,
                    )
                clock += length
    before = Visit.objects.count()
    plan = computed(working_days=3)
    assert plan.state == PlanState.PROPOSED, plan.failure
    if not plan.stops.filter(stop="visit").exists():
        return
    done = services.accept_plan(plan=plan, actor=dispatcher, now=NOW).done
    assert done == plan.stops.filter(stop="visit", needs_renewal=False).count()
    assert overlaps(crew) == overlaps(other) == []
    assert Visit.objects.count() >= before
