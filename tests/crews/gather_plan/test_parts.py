"""A truck's parts are counted once a day, the visits that keep their hours included."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime

import pytest

from crews import services
from crews.gather_plan import gather
from crews.models import Crew, DayOff, Person, Plan, Visit, WantedVisit
from crews.planning.problem import Weights
from crews.services.parts import add_part, set_stock
from crews.services.wanted import want_visit
from locates.errors import FirstspadeError
from tests.crews.factories import VisitFactory
from tests.crews.office import NOW, at, clear_job, make_job
from tickets.models import Job

Computed = Callable[..., Plan]
COUPLING = "Coupling, 2 in"


@pytest.fixture
def thursday(crew: Crew, dispatcher: Person) -> Crew:
    """Of the days Wed 16 to Tue 22 the crew works on Thursday 17 alone; one coupling is on its truck."""
    for day in (16, 18, 21, 22):
        DayOff.objects.create(crew=crew, on=date(2026, 9, day), set_by=dispatcher)
    part = add_part(name=COUPLING, actor=dispatcher)
    set_stock(part=part, on_trucks={crew.pk: 1}, at_yards=(), actor=dispatcher)
    return crew


def with_part(job: Job, crew: Crew, by: Person, starts: datetime, ends: datetime, *, pinned: bool = True) -> Visit:
    """A visit that uses up a coupling."""
    visit = VisitFactory(job=job, crew=crew, kind="white_line", starts_at=starts, ends_at=ends, pinned=pinned)
    WantedVisit.objects.create(
        job=job, kind="white_line", minutes=30, parts={COUPLING: 1}, visit=visit, asked_by=by, asked_at=NOW
    )
    return visit


def gone(crew: Crew) -> dict[int, int]:
    """Couplings gone from the crew's truck, by day of September."""
    found = gather(NOW, 5, Weights()).problem.parts_gone
    return {16 + day: used[COUPLING] for (name, day), used in found.items() if name == crew.name}


def test_the_pieces_of_a_cut_day_have_one_coupling(
    computed: Computed, thursday: Crew, clear: Job, dispatcher: Person
) -> None:
    """A visit of a closed job stands in the middle of the day; two short digs want a coupling each."""
    closed, other = make_job(title="Closed", dig_areas=[]), clear_job(title="Other")
    VisitFactory(job=closed, crew=thursday, kind="white_line", starts_at=at(17, 11), ends_at=at(17, 12))
    Job.objects.filter(pk=closed.pk).update(closed_at=NOW)
    for job in (clear, other):
        want_visit(job=job, kind="dig", minutes=180, parts={COUPLING: 1}, actor=dispatcher, now=NOW)
    plan = computed()
    assert plan.stops.filter(stop="visit").count() == 1
    services.accept_plan(plan=plan, actor=dispatcher, now=NOW)
    assert Visit.objects.filter(kind="dig").count() == 1


def test_what_a_visit_that_stays_uses_is_gone_from_its_day(
    computed: Computed, thursday: Crew, clear: Job, dispatcher: Person
) -> None:
    stays = make_job(title="Stays", dig_areas=[])
    with_part(stays, thursday, dispatcher, at(17, 5), at(17, 8))  # pinned from before the shift on: no plan moves it
    want_visit(job=clear, kind="dig", minutes=120, parts={COUPLING: 1}, actor=dispatcher, now=NOW)
    assert gone(thursday) == {17: 1}
    plan = computed()
    assert not plan.stops.filter(stop="visit").exists()
    reasons = {row["key"]: row["reason"] for row in plan.unplanned}
    assert reasons[f"{clear.number} dig"] == "no_parts"
    with pytest.raises(FirstspadeError, match="moves no visit"):
        services.accept_plan(plan=plan, actor=dispatcher, now=NOW)


def test_a_visit_that_plans_may_move_is_counted_by_the_plan_alone(
    thursday: Crew, clear: Job, dispatcher: Person
) -> None:
    moves = make_job(title="Moves", dig_areas=[])
    with_part(moves, thursday, dispatcher, at(17, 9), at(17, 10), pinned=False)
    assert gone(thursday) == {}


def test_what_was_used_earlier_today_is_gone_and_yesterdays_is_made_up(
    thursday: Crew, clear: Job, dispatcher: Person
) -> None:
    """NOW is the morning of Wednesday 16."""
    done = [make_job(title=f"Done {n}", dig_areas=[]) for n in range(3)]
    with_part(done[0], thursday, dispatcher, at(16, 6), at(16, 6, 30))
    with_part(done[1], thursday, dispatcher, at(15, 15), at(15, 16))
    cancelled = with_part(done[2], thursday, dispatcher, at(16, 5), at(16, 5, 30))
    Visit.objects.filter(pk=cancelled.pk).update(cancelled_at=NOW)
    assert gone(thursday) == {16: 1}
