"""A new plan after a change moves little, and says what it moved and why: from job and ticket to the page."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from crews import services
from crews.models import Crew, DayOff, Equipment, Person, Plan, PlanStop, Visit
from tests.crews.factories import CrewFactory
from tests.crews.office import NOW, at, clear_job, give_notice, make_job
from tests.crews.page_people import client_of
from tests.crews.plans.conftest import (
    clear,
    computed,
    crew,
    dispatcher,
    give_kit,
    owner,
    small_effort,
    stop_for,
    waiting,
)
from tickets import services as office
from tickets.models import Job

__all__ = ["clear", "computed", "crew", "dispatcher", "owner", "small_effort", "waiting"]
Computed = Callable[..., Plan]


@pytest.fixture
def other(crew: Crew) -> Crew:
    return CrewFactory(name="Basalt crew")


@pytest.fixture
def jobs(db: None, frozen_now: datetime) -> list[Job]:
    """Six digs that may be made now, in a row north of each other."""
    return [clear_job(title=f"Lateral {n}", latitude=37.40) for n in range(6)]


def accepted(plan: Plan, by: Person, now: datetime = NOW) -> dict[int, Visit]:
    services.accept_plan(plan=plan, actor=by, now=now)
    return {visit.pk: visit for visit in Visit.objects.select_related("crew", "job")}


def moved(plan: Plan) -> dict[str, str]:
    return {stop.key: stop.moved for stop in plan.stops.filter(stop="visit").exclude(moved="")}


def at_hand(plan: Plan, by: Person) -> str:
    return client_of(by).get(f"/plans/{plan.pk}/").content.decode()


def test_nothing_has_changed_and_nothing_moves(
    computed: Computed, crew: Crew, other: Crew, jobs: list[Job], dispatcher: Person
) -> None:
    accepted(computed(), dispatcher)
    again = computed()
    assert moved(again) == {}
    assert "What it moves" not in at_hand(again, dispatcher)


def test_a_crew_that_is_sick_hands_its_day_on_and_no_other_visit_moves(
    computed: Computed, crew: Crew, other: Crew, jobs: list[Job], dispatcher: Person
) -> None:
    visits = accepted(computed(), dispatcher)
    sick = min(visits.values(), key=lambda v: v.starts_at)
    day = (sick.starts_at - timedelta(hours=4)).date()
    struck = {
        v.pk for v in visits.values() if v.crew == sick.crew and (v.starts_at - timedelta(hours=4)).date() == day
    }
    DayOff.objects.create(crew=sick.crew, on=day, reason="Sick", set_by=dispatcher)
    plan = computed()
    changed = {s.visit_id for s in plan.stops.filter(stop="visit").exclude(moved="")}
    assert changed == struck
    for words in moved(plan).values():
        assert words.startswith(f"Moved from {sick.crew.name}, ")
        assert words.endswith(f"{sick.crew.name} has that day off (Sick).")
    page = at_hand(plan, dispatcher)
    assert "What it moves, and why" in page
    assert "has that day off (Sick)." in page
    after = accepted(plan, dispatcher)
    untouched = {pk: (v.crew_id, v.starts_at) for pk, v in visits.items() if pk not in struck}
    assert {pk: (after[pk].crew_id, after[pk].starts_at) for pk in untouched} == untouched


def test_an_emergency_takes_the_hours_it_needs_and_names_itself(
    computed: Computed, crew: Crew, jobs: list[Job], waiting: Job, dispatcher: Person
) -> None:
    for day in (16, 17):
        services.schedule_visit(
            job=jobs[day - 16],
            crew=crew,
            kind="dig",
            starts_at=at(day, 11 if day == 16 else 8),
            ends_at=at(day, 16),
            actor=dispatcher,
            now=NOW,
        )
    office.declare_emergency(job=waiting, actor=dispatcher, now=NOW, reason="Main broken, water in the street")
    plan = computed()
    urgent = stop_for(plan, waiting)
    assert urgent.starts_at < at(16, 17)
    words = moved(plan)[f"{jobs[0].number} dig"]
    assert words.endswith(f"it makes room for the emergency, {waiting.number} dig.")
    assert f"{jobs[1].number} dig" not in moved(plan)
    assert services.accept_plan(plan=plan, actor=dispatcher, now=NOW).done == plan.stops.filter(stop="visit").count()


def test_more_time_asked_for_moves_that_dig_alone(
    computed: Computed, crew: Crew, other: Crew, jobs: list[Job], waiting: Job, dispatcher: Person
) -> None:
    """The dig stands on Friday when an operator asks for time until Tuesday noon."""
    for n, hour, minute in ((0, 7, 40), (1, 12, 10)):
        services.schedule_visit(
            job=jobs[n],
            crew=other,
            kind="dig",
            starts_at=at(18, hour, minute),
            ends_at=at(18, hour + 4, minute),
            actor=dispatcher,
            now=NOW,
        )
    services.schedule_visit(
        job=waiting, crew=crew, kind="dig", starts_at=at(18, 8), ends_at=at(18, 12), actor=dispatcher, now=NOW
    )
    operator = waiting.tickets.get().operators.order_by("pk").first()
    office.record_answer(
        operator=operator, actor=dispatcher, now=NOW, outcome="asked_more_time", holds_until=at(22, 12)
    )
    plan = computed()
    told = moved(plan)
    assert list(told) == [f"{waiting.number} dig"]
    assert "not lawful there any more. As it stands now the first lawful start is Tue 22 Sep" in told.popitem()[1]
    assert stop_for(plan, waiting).starts_at >= at(22, 12)


def test_an_instrument_that_falls_due_moves_the_locate(
    computed: Computed, crew: Crew, other: Crew, dispatcher: Person, frozen_now: datetime
) -> None:
    job = clear_job(private_lines_likely=True)
    give_kit(crew)
    give_kit(other)
    visit = services.schedule_visit(
        job=job, crew=crew, kind="private_locate", starts_at=at(17, 8), ends_at=at(17, 9), actor=dispatcher, now=NOW
    )
    due = date(2026, 9, 17)
    Equipment.objects.filter(crew=crew).update(due_on=due, calibration_due_on=due, stated_due_on=due)
    for day in (16, 18, 21, 22):
        DayOff.objects.create(crew=crew, on=date(2026, 9, day), set_by=dispatcher)
    plan = computed()
    stop = PlanStop.objects.get(plan=plan, visit=visit)
    assert stop.crew == other
    assert stop.moved.endswith("what it needs (receiver, transmitter) may not go out with Alder crew that day.")


@pytest.fixture
def ending(db: None, frozen_now: datetime) -> Job:
    """Its ticket ends Mon 28 Sep, 7 AM EDT, and can be renewed to the end of Wed 23 Sep."""
    job = make_job(title="Ending")
    ticket = give_notice(job, number="D-9", received_at=at(1, 10))
    assert (ticket.closes_at, ticket.renew_by) == (at(28, 7), datetime(2026, 9, 24, 3, 59, 59, tzinfo=UTC))
    return job


def off_until_28(crew: Crew, by: Person) -> None:
    for day in (16, 17, 18, 21, 22, 23, 24, 25):
        DayOff.objects.create(crew=crew, on=date(2026, 9, day), set_by=by)


def plan_at(now: datetime, by: Person, **more: Any) -> Plan:
    plan = services.ask_plan(actor=by, now=now, working_days=10, **more)
    assert services.compute_plan(plan_id=plan.pk, tick=lambda: now)
    plan.refresh_from_db()
    return plan


def test_a_dig_that_outlives_its_ticket_is_planned_with_its_renewal(
    crew: Crew, ending: Job, dispatcher: Person
) -> None:
    off_until_28(crew, dispatcher)
    plan = plan_at(NOW, dispatcher)
    stop = stop_for(plan, ending)
    assert stop.needs_renewal
    assert stop.starts_at >= at(28, 7)
    assert stop.assumes.startswith("Renew the ticket first by Wed 23 Sep, 11:59 PM EDT")
    assert plan.after["renewals"] == 1
    page = at_hand(plan, dispatcher)
    assert "Renew the ticket first by Wed 23 Sep" in page
    for accept in (
        lambda: services.accept_plan(plan=plan, actor=dispatcher, now=NOW),
        lambda: services.accept_stop(stop=stop, actor=dispatcher, now=NOW),
    ):
        with pytest.raises(Exception, match=r"renewal|cannot be planned"):
            accept()
    assert not Visit.objects.exists()


def test_before_the_ticket_ends_the_dig_is_planned_without_a_renewal(
    crew: Crew, ending: Job, dispatcher: Person
) -> None:
    stop = stop_for(plan_at(NOW, dispatcher), ending)
    assert not stop.needs_renewal
    assert stop.ends_at <= at(28, 7)


def test_too_late_to_renew_is_reported_impossible_with_the_reason(
    crew: Crew, ending: Job, dispatcher: Person
) -> None:
    off_until_28(crew, dispatcher)
    late = at(25, 10)
    plan = plan_at(late, dispatcher)
    assert not plan.stops.filter(stop="visit").exists()
    (gone,) = plan.unplanned
    assert "ends before" in gone["words"] or "closes before" in gone["words"] or "leaves no room" in gone["words"]
    assert gone["words"] in at_hand(plan, dispatcher).replace("&#x27;", "'")


def test_answers_not_in_yet_are_shown_as_an_assumption(
    computed: Computed, crew: Crew, waiting: Job, dispatcher: Person
) -> None:
    plan = computed()
    assert "Counts on what is missing to come in time" in stop_for(plan, waiting).assumes
    page = at_hand(plan, dispatcher)
    assert "Assumed" in page


def test_an_hour_that_cannot_be_reached_is_said_to_be(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person
) -> None:
    """The shift begins at 7 at the yard, a drive of about 25 minutes away."""
    services.schedule_visit(
        job=clear, crew=crew, kind="dig", starts_at=at(17, 7), ends_at=at(17, 11), actor=dispatcher, now=NOW
    )
    plan = computed()
    words = moved(plan)[f"{clear.number} dig"]
    assert "sets out Thu 17 Sep, 7:00 AM EDT and needs" in words
    assert stop_for(plan, clear).starts_at <= at(17, 7, 40)
