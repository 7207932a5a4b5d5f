"""What contradicts itself is refused once, with one clear error, and nothing is half-saved: at the services, and by
the planner where a row slipped past them. A routing server that fails has its own tests beside `plan_travel`."""

from __future__ import annotations

from collections.abc import Callable
from datetime import time

import pytest

from crews import services
from crews.gather_plan.shifts import Hours
from crews.models import Crew, CrewHome, CrewShift, Person, Plan, PlanState, PlanStop, Visit, WantedVisit
from crews.services.hours import set_home, set_hours
from crews.services.wanted import want_visit
from locates.errors import FirstspadeError
from tests.crews.office import NOW
from tests.crews.page_people import client_of
from tests.crews.plans.conftest import clear, computed, crew, dispatcher, owner, small_effort, waiting
from tickets.models import Job, Site

__all__ = ["clear", "computed", "crew", "dispatcher", "owner", "small_effort", "waiting"]
Computed = Callable[..., Plan]
DAY = Hours(0, time(7), time(15), 30, 60)


def fails(plan: Plan, words: str, by: Person) -> None:
    """One sentence on the plan and its page, and no stop of it anywhere."""
    assert plan.state == PlanState.FAILED
    assert words in plan.failure
    page = client_of(by).get(f"/plans/{plan.pk}/")
    assert page.status_code == 200
    assert words in page.content.decode().replace("&#x27;", "'")
    assert not PlanStop.objects.exists()
    assert not Visit.objects.exists()


def test_overlapping_shifts(computed: Computed, crew: Crew, clear: Job, dispatcher: Person) -> None:
    second = DAY._replace(starts=time(14), ends=time(18))
    with pytest.raises(FirstspadeError, match="ends after it starts, overtime counted"):
        set_hours(crew=crew, hours=[DAY, second], actor=dispatcher)
    assert not CrewShift.objects.exists()
    for one in (DAY, second):
        CrewShift.objects.create(crew=crew, **{**one._asdict(), "weekday": 3})
    fails(computed(), "overlap", dispatcher)


def test_a_crew_without_a_yard(owner: Person, dispatcher: Person, frozen_now: object) -> None:
    form = {"name": "Dune crew", "yard_name": "", "yard_latitude": 37.5, "yard_longitude": -77.4}
    with pytest.raises(FirstspadeError) as refused:
        services.add_crew(**form, time_zone="America/New_York", skills=[], actor=owner)
    assert set(refused.value.fields) == {"yard_name"}
    assert not Crew.objects.exists()
    answer = client_of(owner).post("/api/v1/crews", {"name": "Dune crew", "time_zone": "America/New_York"})
    assert answer.status_code == 400
    assert {"yard_name", "yard_latitude", "yard_longitude"} <= set(answer.json()["errors"])


def test_a_visit_longer_than_any_shift(computed: Computed, crew: Crew, clear: Job, dispatcher: Person) -> None:
    """Refused when it is asked for; one that stands on file is left out with the reason, and the rest is planned."""
    set_hours(crew=crew, hours=[DAY._replace(weekday=n) for n in range(5)], actor=dispatcher)
    with pytest.raises(FirstspadeError, match="longer than any crew's shift"):
        want_visit(job=clear, kind="dig", minutes=541, actor=dispatcher, now=NOW)
    assert not WantedVisit.objects.exists()
    WantedVisit.objects.create(job=clear, kind="dig", minutes=600, asked_by=dispatcher, asked_at=NOW)
    WantedVisit.objects.create(job=clear, kind="white_line", minutes=30, asked_by=dispatcher, asked_at=NOW)
    plan = computed()
    (gone,) = plan.unplanned
    assert gone["reason"] == "too_long"
    assert "10.0 h" in gone["words"]
    assert plan.stops.filter(stop="visit").count() == 1


def test_a_position_outside_the_country(
    computed: Computed, crew: Crew, clear: Job, owner: Person, dispatcher: Person
) -> None:
    with pytest.raises(FirstspadeError, match="outside the United States"):
        services.change_crew(crew=crew, yard_latitude=52.5, yard_longitude=13.4, actor=owner, now=NOW)
    with pytest.raises(FirstspadeError, match="outside the United States"):
        set_home(crew=crew, latitude=52.5, longitude=13.4, actor=dispatcher)
    with pytest.raises(FirstspadeError, match="swapped"):
        set_home(crew=crew, latitude=-77.4, longitude=37.5, actor=dispatcher)
    assert not CrewHome.objects.exists()
    Site.objects.filter(pk=clear.site_id).update(latitude=52.5, longitude=13.4)
    fails(computed(), "outside the country", dispatcher)


@pytest.mark.parametrize("minutes", [-30, 0, 4])
def test_a_negative_duration(clear: Job, crew: Crew, dispatcher: Person, minutes: int) -> None:
    with pytest.raises(FirstspadeError, match="Give 5 to 1440 minutes"):
        want_visit(job=clear, kind="dig", minutes=minutes, actor=dispatcher, now=NOW)
    assert not WantedVisit.objects.exists()


def test_several_faults_are_told_at_once_and_nothing_is_kept(clear: Job, crew: Crew, dispatcher: Person) -> None:
    with pytest.raises(FirstspadeError) as refused:
        want_visit(
            job=clear,
            kind="tunnel",
            minutes=-1,
            priority="whenever",
            gap_least_hours=5,
            gap_most_hours=1,
            kit=["divining_rod"],
            parts={"Unobtainable": 1},
            actor=dispatcher,
            now=NOW,
        )
    assert set(refused.value.fields) == {"kind", "minutes", "priority", "gap_most_hours", "kit", "parts"}
    with pytest.raises(FirstspadeError, match="colour"):
        want_visit(job=clear, kind="dig", minutes=60, colour="red", actor=dispatcher, now=NOW)
    assert not WantedVisit.objects.exists()
