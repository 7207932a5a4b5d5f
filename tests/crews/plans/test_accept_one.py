"""Visits of a proposal accepted one by one: none may clash with what other crews' days hold already."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from crews import services
from crews.models import Crew, DayOff, Person, Plan, PlanStop, Visit
from crews.services.wanted import want_visit
from locates.errors import FirstspadeError
from tests.crews.factories import CrewFactory, EquipmentFactory
from tests.crews.office import NOW, at, clear_job
from tickets.models import Job

Computed = Callable[..., Plan]


@pytest.fixture
def basalt(crew: Crew, dispatcher: Person) -> Crew:
    """A second crew of the same yard. Both work on Thursday 17 alone; two cameras lie at the yard."""
    other = CrewFactory(name="Basalt crew", skills=["camera"])
    crew.skills = ["camera"]
    crew.save()
    for one in (crew, other):
        for day in (16, 18, 21, 22):
            DayOff.objects.create(crew=one, on=date(2026, 9, day), set_by=dispatcher)
    for number in (1, 2):
        EquipmentFactory(kind="camera_reel", name=f"Camera {number}", serial=f"C{number}")
    return other


@pytest.fixture
def inspections(basalt: Crew, dispatcher: Person, frozen_now: object) -> list[Job]:
    """Two that must be made at the same hour."""
    jobs = [clear_job(title=f"Inspection {n}") for n in range(2)]
    for job in jobs:
        promise = {"promised_from": at(17, 9), "promised_until": at(17, 9, 30)}
        want_visit(job=job, kind="camera", minutes=120, **promise, actor=dispatcher, now=NOW)
    return jobs


def visits_of(plan: Plan) -> list[PlanStop]:
    return list(plan.stops.filter(stop="visit").order_by("pk"))


def same_camera(plan: Plan) -> None:
    """Tampered with: both calls at the yard fetch the first one's camera."""
    first, second = plan.stops.filter(stop="yard_call").order_by("pk")
    assert first.fetches != second.fetches
    second.fetches = first.fetches
    second.save()


def test_crews_each_with_a_camera_are_accepted_one_by_one_in_the_same_queries(
    computed: Computed, inspections: list[Job], dispatcher: Person
) -> None:
    for number in (2, 3):
        job = clear_job(title=f"Inspection {number}")
        promise = {"promised_from": at(17, 13), "promised_until": at(17, 13, 30)}
        want_visit(job=job, kind="camera", minutes=60, **promise, actor=dispatcher, now=NOW)
    plan = computed()
    counts = []
    for stop in visits_of(plan):
        with CaptureQueriesContext(connection) as asked:
            services.accept_stop(stop=stop, actor=dispatcher, now=NOW)
        counts.append(len(asked))
    assert Visit.objects.count() == 4
    assert counts[1] == counts[2]  # whatever was accepted before; the first makes no visit stand yet, the last closes


def test_a_visit_whose_camera_another_crew_has_then_is_refused(
    computed: Computed, inspections: list[Job], dispatcher: Person
) -> None:
    plan = computed()
    same_camera(plan)
    one, two = visits_of(plan)
    services.accept_stop(stop=one, actor=dispatcher, now=NOW)  # by itself it takes nothing from anybody
    with pytest.raises(FirstspadeError, match=r"Camera 1 .* is fetched by .* at the same time") as caught:
        services.accept_stop(stop=two, actor=dispatcher, now=NOW)
    assert caught.value.code == "plan_unsound"
    assert Visit.objects.count() == 1


def test_a_standing_visit_that_the_plan_does_not_move_holds_its_camera(
    computed: Computed, inspections: list[Job], dispatcher: Person
) -> None:
    """Accepted from an earlier plan: the new proposal has it where it stands."""
    first = computed()
    services.accept_stop(stop=visits_of(first)[0], actor=dispatcher, now=NOW)
    services.set_aside_plan(plan=first, actor=dispatcher)
    plan = computed()
    same_camera(plan)
    (left,) = plan.stops.filter(stop="visit", visit=None)
    with pytest.raises(FirstspadeError, match="at the same time"):
        services.accept_stop(stop=left, actor=dispatcher, now=NOW)


def test_a_fault_among_days_accepted_before_is_no_reason_to_refuse_another(
    computed: Computed, inspections: list[Job], dispatcher: Person
) -> None:
    third = clear_job(title="Inspection 3")
    want_visit(job=third, kind="camera", minutes=30, actor=dispatcher, now=NOW)
    plan = computed()
    stops = visits_of(plan)
    other = next(stop for stop in stops if stop.job_id == third.pk)
    elsewhere = next(stop for stop in stops if stop.shift != other.shift)
    services.accept_stop(stop=elsewhere, actor=dispatcher, now=NOW)
    PlanStop.objects.filter(pk=elsewhere.pk).update(ends_at=elsewhere.ends_at + timedelta(hours=9))
    services.accept_stop(stop=other, actor=dispatcher, now=NOW)
    assert Visit.objects.count() == 2
