"""The pages of wanted visits and spare parts, and what the planner makes of them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import pytest
from django.test import Client

from crews import services
from crews.models import Crew, DayOff, Person, Plan, SparePart, TruckStock, VisitKind, WantedVisit, YardStock
from crews.planning.planner import Effort
from crews.services import plans as plan_services
from crews.services.wanted import change_wanted, want_visit
from tests.crews.factories import CrewFactory, EquipmentFactory, PersonFactory
from tests.crews.office import NOW, at
from tests.crews.page_people import client_of
from tests.crews.plans.conftest import give_kit, stop_for
from tickets.models import Job

Computed = Callable[..., Plan]
COUPLING = "Repair coupling"


@pytest.fixture
def office(dispatcher: Person, frozen_now: object) -> Client:
    return client_of(dispatcher)


@pytest.fixture
def coupling(db: None) -> SparePart:
    return SparePart.objects.create(name=COUPLING)


def dig(job: Job, by: Person, **more: Any) -> WantedVisit:
    return want_visit(job=job, actor=by, now=NOW, **{"kind": "dig", "minutes": 120, **more})


def test_a_wish_is_changed_on_its_page(office: Client, clear: Job, dispatcher: Person, coupling: SparePart) -> None:
    one = dig(clear, dispatcher, kit=["receiver"], parts={COUPLING: 2}, gap_least_hours=3)
    here = f"/plans/wanted/{one.pk}/"
    shown = office.get(here).context["form"].initial
    assert shown["parts"] == f"2 {COUPLING}"
    given = {
        "kind": "restore_surface",
        "minutes": "60",
        "priority": "low",
        "promised_day": "2026-09-17",
        "promised_from": "08:00",
        "promised_until": "09:00",
        "other_day": "2026-09-18",
        "other_from": "13:00",
        "more_promises": "14:00",
        "parts": f"1 {COUPLING}\n2 x {COUPLING}\n",
        "frequency_hz": "512",
    }
    assert office.post(here, given).status_code == 302
    one.refresh_from_db()
    assert (one.kind, one.surface_only, one.minutes, one.parts) == ("restore", True, 60, {COUPLING: 3})
    more = one.more_promises.get()
    assert (more.opens_at, more.closes_at) == (at(18, 13), at(18, 14))
    page = office.get("/plans/wanted/").content.decode()
    assert "Thu 17 Sep" in page
    assert "Fri 18 Sep" in page
    assert f"3 {COUPLING}, 512 Hz, on the surface" in page
    assert office.get(here).context["form"].initial["kind"] == "restore_surface"


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"parts": "couplings, some"}, "parts"),
        ({"parts": "2 Unobtainable"}, "parts"),
        ({"other_from": "08:00"}, "other_day"),
        ({"minutes": "700"}, "minutes"),
        ({"frequency_hz": "-512"}, "frequency_hz"),
    ],
)
def test_a_bad_change_is_refused_whole(
    office: Client, clear: Job, crew: Crew, dispatcher: Person, given: dict[str, str], field: str
) -> None:
    one = dig(clear, dispatcher)
    form = {"kind": "dig", "minutes": "60", "priority": "low"} | given
    answer = office.post(f"/plans/wanted/{one.pk}/", form)
    assert answer.status_code == 400
    assert answer.context["form"].errors[field]
    one.refresh_from_db()
    assert (one.minutes, one.priority) == (120, "normal")


def test_parts_are_listed_placed_and_dropped(office: Client, crew: Crew, clear: Job, dispatcher: Person) -> None:
    made = office.post("/plans/parts/", {"name": COUPLING})
    part = SparePart.objects.get()
    assert made.headers["Location"] == f"/plans/parts/{part.pk}/"
    assert office.post("/plans/parts/", {"name": COUPLING.upper()}).status_code == 409
    bad = office.post(f"/plans/parts/{part.pk}/", {f"pieces_{crew.pk}": "-1"})
    assert bad.status_code == 400
    stock = {f"pieces_{crew.pk}": "4", "at_yards": [crew.yard_name]}
    assert office.post(f"/plans/parts/{part.pk}/", stock).status_code == 302
    assert f"{crew.name} 4" in office.get("/plans/parts/").content.decode()
    one = dig(clear, dispatcher, parts={COUPLING: 1})
    office.post(f"/plans/parts/{part.pk}/drop")
    assert SparePart.objects.exists()
    services_drop = office.post(f"/plans/wanted/{one.pk}/drop")
    assert services_drop.status_code == 302
    office.post(f"/plans/parts/{part.pk}/drop")
    assert not SparePart.objects.exists()
    member = client_of(PersonFactory(crew=crew))
    assert member.get("/plans/parts/").status_code == 403


def test_parts_on_the_truck_are_used_without_a_call(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person, coupling: SparePart
) -> None:
    TruckStock.objects.create(part=coupling, crew=crew, pieces=2)
    dig(clear, dispatcher, parts={COUPLING: 2})
    plan = computed()
    assert stop_for(plan, clear)
    assert not plan.stops.filter(stop="yard_call").exists()


def test_parts_at_the_yard_are_fetched_on_a_call_with_its_time(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person, coupling: SparePart
) -> None:
    TruckStock.objects.create(part=coupling, crew=crew, pieces=1)
    YardStock.objects.create(part=coupling, yard_name=crew.yard_name)
    dig(clear, dispatcher, parts={COUPLING: 2})
    plan = computed()
    stop, call = stop_for(plan, clear), plan.stops.get(stop="yard_call")
    assert call.shift == stop.shift
    assert call.ends_at - call.starts_at == timedelta(minutes=15)
    assert call.ends_at <= stop.starts_at
    assert services.accept_plan(plan=plan, actor=dispatcher, now=NOW).done == 1


def test_parts_that_are_nowhere_are_reported(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person, coupling: SparePart
) -> None:
    TruckStock.objects.create(part=coupling, crew=crew, pieces=1)
    YardStock.objects.create(part=coupling, yard_name="Another yard")
    dig(clear, dispatcher, parts={COUPLING: 2})
    (gone,) = computed().unplanned
    assert gone["reason"] == "no_parts"
    assert "2 pieces of Repair coupling" in gone["words"]


def test_either_promised_window_will_do(computed: Computed, crew: Crew, clear: Job, dispatcher: Person) -> None:
    DayOff.objects.create(crew=crew, on=date(2026, 9, 17), set_by=dispatcher)
    promise = {"promised_from": at(17, 13), "promised_until": at(17, 14)}
    dig(clear, dispatcher, **promise, more_promises=[(at(18, 10), at(18, 11))])
    stop = stop_for(computed(), clear)
    assert at(18, 10) <= stop.starts_at <= at(18, 11)
    assert stop.promise_kept


def test_every_kind_of_visit_is_planned_in_the_jobs_order(
    computed: Computed, clear: Job, dispatcher: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plan_services, "Effort", lambda seconds, seed: Effort(seconds=3.0, most_rounds=600, seed=1))
    crew = CrewFactory(name="Alder crew", skills=[str(kind) for kind in VisitKind])
    give_kit(crew)
    EquipmentFactory(kind="camera_reel", crew=crew)
    for kind in VisitKind:
        want_visit(job=clear, actor=dispatcher, now=NOW, kind=str(kind), minutes=60)
    plan = computed()
    assert plan.unplanned == []
    order = ["white_line", "private_locate", "re_mark_check", "dig", "restore"]
    stops = [stop_for(plan, clear, kind) for kind in order]
    for first, second in pairwise(stops):
        assert first.ends_at <= second.starts_at, (first.kind, second.kind)
    assert services.accept_plan(plan=plan, actor=dispatcher, now=NOW).done == 6


def test_a_restoration_that_moves_earth_stays_in_the_window(
    computed: Computed, crew: Crew, waiting: Job, dispatcher: Person
) -> None:
    """The ticket opens Fri 18 Sep: on the surface the work may come before, with earth moved it may not."""
    dug = want_visit(job=waiting, actor=dispatcher, now=NOW, kind="restore", minutes=60)
    stop = stop_for(computed(), waiting, "restore")
    assert stop.starts_at >= at(18, 7)
    assert "Counts on what is missing" in stop.assumes
    for day in (18, 21, 22):
        DayOff.objects.create(crew=crew, on=date(2026, 9, day), set_by=dispatcher)
    (gone,) = computed().unplanned
    assert gone["reason"] in {"window_off_shift", "not_open_yet"}
    change_wanted(wanted=dug, surface_only=True, actor=dispatcher, now=NOW)
    stop = stop_for(computed(), waiting, "restore")
    assert stop.ends_at <= at(17, 17)
    assert stop.assumes == ""
