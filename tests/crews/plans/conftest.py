"""Jobs and crews around the frozen instant, and plans computed with a small effort."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest

from crews import services
from crews.models import Crew, Equipment, Person, Plan, PlanStop
from crews.planning.planner import Effort
from crews.services import plans as plan_services
from tests.crews.factories import CrewFactory, PersonFactory
from tests.crews.office import NOW, at, clear_job, give_notice, make_job
from tickets.models import Job


@pytest.fixture(autouse=True)
def small_effort(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same plan on every machine, in a moment."""

    def effort(seconds: float, seed: int) -> Effort:
        return Effort(seconds=min(seconds, 2.0), most_rounds=40, seed=1)

    monkeypatch.setattr(plan_services, "Effort", effort)


@pytest.fixture
def dispatcher(db: None) -> Person:
    return PersonFactory(dispatcher=True)


@pytest.fixture
def owner(db: None) -> Person:
    return PersonFactory(owner=True)


@pytest.fixture
def crew(db: None) -> Crew:
    return CrewFactory(name="Alder crew")


@pytest.fixture
def clear(db: None, frozen_now: datetime) -> Job:
    """May be dug to Fri 2 Oct 2026, 7 AM EDT."""
    return clear_job(title="Lateral")


@pytest.fixture
def waiting(db: None, frozen_now: datetime) -> Job:
    """Opens Fri 18 Sep, 7 AM by Virginia's rule; nobody has answered."""
    job = make_job(title="Gas yard line", town="Quillhaven", latitude=37.44)
    give_notice(job, number="D-2", received_at=at(15, 10), outcomes=("", ""))
    return job


@pytest.fixture
def computed(dispatcher: Person) -> Callable[..., Plan]:
    """A plan asked for and computed at NOW."""

    def go(**given: Any) -> Plan:
        plan = services.ask_plan(actor=dispatcher, now=NOW, **given)
        assert services.compute_plan(plan_id=plan.pk, tick=lambda: NOW)
        plan.refresh_from_db()
        return plan

    return go


def stop_for(plan: Plan, job: Job, kind: str = "dig") -> PlanStop:
    return plan.stops.get(job=job, kind=kind)


def give_kit(crew: Crew, **due: Any) -> list[Equipment]:
    """A receiver and a transmitter on the crew's truck, good through 2027 unless said otherwise."""
    from datetime import date

    actor = PersonFactory(owner=True)
    return [
        services.add_equipment(
            kind=kind,
            name=kind.title(),
            serial=f"{kind}-{crew.pk}",
            crew=crew,
            calibration_due_on=due.get(kind, date(2027, 9, 1)),
            actor=actor,
        )
        for kind in ("receiver", "transmitter")
    ]
