"""What plans are made of, through the API: by role, refused whole, constant in queries."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from crews.models import Crew, CrewHome, CrewShift, DayOff, PlanWeights, SparePart, TruckStock, WantedVisit
from tests.crews.factories import PersonFactory
from tests.crews.office import clear_job
from tickets.models import Job

pytestmark = pytest.mark.usefixtures("frozen_now")
Clients = dict[str, APIClient]
PLACES = ("wanted-visits", "crew-weeks", "days-off", "spare-parts", "plan-weights")
DIG = {"kind": "dig", "minutes": 180}
WEEK = [{"weekday": day, "starts": "06:30", "ends": "15:00"} for day in range(4)]
INSIDE, OUTSIDE = {"latitude": 37.52, "longitude": -77.43}, {"latitude": 52.5, "longitude": 13.4}


@pytest.fixture
def job(db: None) -> Job:
    return clear_job()


@pytest.mark.parametrize("place", PLACES)
def test_the_office_alone(clients: Clients, place: str) -> None:
    for name, code in (("owner", 200), ("dispatcher", 200), ("member", 403), ("crewless", 403)):
        assert clients[name].get(f"/api/v1/{place}").status_code == code, name
    assert clients["stranger"].get(f"/api/v1/{place}").status_code in {401, 403}
    refused = clients["member"].post(f"/api/v1/{place}", {})
    assert refused.status_code == 403
    assert refused.headers["Content-Type"] == "application/problem+json"


def test_a_wish_from_asking_to_dropping(clients: Clients, job: Job) -> None:
    office = clients["dispatcher"]
    SparePart.objects.create(name="Repair coupling")
    asked = {
        "job": job.pk,
        **DIG,
        "priority": "high",
        "skills": ["gas"],
        "kit": ["gas_monitor"],
        "parts": {"Repair coupling": 2},
        "promised_from": "2026-09-17T08:00-04:00",
        "promised_until": "2026-09-17T10:00-04:00",
        "more_promises": [{"opens_at": "2026-09-18T08:00-04:00", "closes_at": "2026-09-18T10:00-04:00"}],
        "gap_least_hours": 2,
        "gap_most_hours": 48,
    }
    made = office.post("/api/v1/wanted-visits", asked, format="json")
    assert made.status_code == 201, made.json()
    one = made.json()
    assert (one["job_number"], one["kind_words"], one["parts"]) == (job.number, "Dig", {"Repair coupling": 2})
    assert one["more_promises"] == [{"opens_at": "2026-09-18T12:00:00Z", "closes_at": "2026-09-18T14:00:00Z"}]
    here = f"/api/v1/wanted-visits/{one['id']}"
    changed = office.patch(here, {"minutes": 120, "more_promises": []}, format="json").json()
    assert (changed["minutes"], changed["more_promises"], changed["priority"]) == (120, [], "high")
    assert office.post(f"{here}/drop").json()["dropped_at"]
    assert office.patch(here, {"minutes": 60}, format="json").status_code == 409
    left = office.get("/api/v1/wanted-visits?dropped_at__isnull=true").json()
    assert left["results"] == []


BAD: list[tuple[dict[str, Any], str]] = [
    ({"minutes": -30}, "minutes"),
    ({"minutes": 0}, "minutes"),
    ({"minutes": 605}, "minutes"),  # the longest shift is 9 h and an hour of overtime
    ({"kind": "tunnel"}, "kind"),
    ({"priority": "whenever"}, "priority"),
    ({"kit": ["divining_rod"]}, "kit"),
    ({"frequency_hz": -1}, "frequency_hz"),
    ({"parts": {"Unobtainable": 1}}, "parts"),
    ({"surface_only": True}, "surface_only"),
    ({"promised_from": "2026-09-17T08:00-04:00"}, "promised_until"),
    ({"promised_from": "2026-09-17T08:00", "promised_until": "2026-09-17T09:00"}, "promised_from"),
    ({"promised_from": "2026-09-15T08:00Z", "promised_until": "2026-09-15T09:00Z"}, "promised_until"),
    ({"gap_least_hours": -1}, "gap_least_hours"),
    ({"gap_least_hours": 8, "gap_most_hours": 4}, "gap_most_hours"),
    ({"job": 99_999}, "job"),
]


@pytest.mark.parametrize(("given", "field"), BAD)
def test_a_bad_wish_is_refused_whole(clients: Clients, job: Job, crew: Crew, given: Any, field: str) -> None:
    answer = clients["dispatcher"].post("/api/v1/wanted-visits", {"job": job.pk, **DIG, **given}, format="json")
    assert answer.status_code == 400
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert field in answer.json()["errors"]
    assert not WantedVisit.objects.exists()


def test_a_week_its_home_and_what_is_refused(clients: Clients, crew: Crew) -> None:
    office, here = clients["dispatcher"], f"/api/v1/crew-weeks/{crew.pk}"
    assert office.get(here).json()["usual"] is True
    homeless = [{**WEEK[0], "begins_from": "home"}]
    assert office.put(here, {"hours": homeless}, format="json").status_code == 400
    refused = office.put(f"{here}/home", {"home": OUTSIDE}, format="json")
    assert refused.status_code == 400
    assert "outside the United States" in refused.json()["errors"]["latitude"][0]
    assert not CrewHome.objects.exists()
    assert office.put(f"{here}/home", {"home": INSIDE}, format="json").json()["home"] == INSIDE
    week = office.put(here, {"hours": homeless}, format="json").json()
    assert (week["usual"], week["hours"][0]["begins_from"], len(week["hours"])) == (False, "home", 1)
    assert office.put(f"{here}/home", {"home": None}, format="json").status_code == 409
    assert office.put(here, {"hours": []}, format="json").json()["usual"] is True
    assert office.put(f"{here}/home", {"home": None}, format="json").json()["home"] is None


@pytest.mark.parametrize(
    "second",
    [
        {"weekday": 0, "starts": "14:00", "ends": "18:00"},
        {"weekday": 0, "starts": "15:30", "ends": "18:00"},  # within the first one's overtime
        {"weekday": 0, "starts": "16:00", "ends": "15:00"},
        {"weekday": 0, "starts": "16:00", "ends": "18:00", "break_minutes": -5},
        {"weekday": 0, "starts": "16:00", "ends": "18:00", "overtime_minutes": 5_000},
        {"weekday": 9, "starts": "16:00", "ends": "18:00"},
    ],
)
def test_overlapping_and_impossible_shifts_are_refused_whole(
    clients: Clients, crew: Crew, second: dict[str, Any]
) -> None:
    CrewShift.objects.create(crew=crew, weekday=2, starts="07:00", ends="15:00")
    answer = clients["dispatcher"].put(f"/api/v1/crew-weeks/{crew.pk}", {"hours": [WEEK[0], second]}, format="json")
    assert answer.status_code == 400, answer.json()
    assert answer.json()["errors"]
    assert CrewShift.objects.get().weekday == 2


def test_a_night_shift_may_not_run_into_the_next_morning(clients: Clients, crew: Crew) -> None:
    late = {"weekday": 6, "starts": "15:00", "ends": "23:30"}
    early = {"weekday": 0, "starts": "00:15", "ends": "08:00"}
    put = clients["dispatcher"].put
    assert put(f"/api/v1/crew-weeks/{crew.pk}", {"hours": [early, late]}, format="json").status_code == 400
    late["overtime_minutes"] = 30
    assert put(f"/api/v1/crew-weeks/{crew.pk}", {"hours": [early, late]}, format="json").status_code == 200


def test_days_off(clients: Clients, crew: Crew) -> None:
    office = clients["dispatcher"]
    made = office.post("/api/v1/days-off", {"crew": crew.pk, "on": "2026-09-18", "reason": "Sick"})
    assert made.status_code == 201, made.json()
    assert office.post("/api/v1/days-off", {"crew": crew.pk, "on": "2026-09-18"}).status_code == 409
    assert office.post("/api/v1/days-off", {"crew": crew.pk, "on": "2026-09-01"}).status_code == 400
    assert office.get(f"/api/v1/days-off?crew={crew.pk}").json()["results"][0]["crew_name"] == crew.name
    assert office.delete(f"/api/v1/days-off/{made.json()['id']}").status_code == 204
    assert not DayOff.objects.exists()


def test_spare_parts(clients: Clients, crew: Crew) -> None:
    office = clients["dispatcher"]
    part = office.post("/api/v1/spare-parts", {"name": " Repair  coupling "}).json()
    assert part["name"] == "Repair coupling"
    assert office.post("/api/v1/spare-parts", {"name": "repair coupling"}).status_code == 409
    here = f"/api/v1/spare-parts/{part['id']}"
    stock = {"on_trucks": [{"crew": crew.pk, "pieces": 4}], "at_yards": [crew.yard_name]}
    assert office.put(here, stock, format="json").json()["on_trucks"] == stock["on_trucks"]
    for bad in (
        {"on_trucks": [{"crew": crew.pk, "pieces": -1}]},
        {"on_trucks": [{"crew": 99_999, "pieces": 1}]},
        {"at_yards": ["Nowhere"]},
    ):
        assert office.put(here, {**stock, **bad}, format="json").status_code == 400
    assert TruckStock.objects.get().pieces == 4
    WantedVisit.objects.create(
        job=clear_job(),
        **DIG,
        parts={"Repair coupling": 1},
        asked_by=PersonFactory(dispatcher=True),
        asked_at="2026-09-16T14:00Z",
    )
    assert office.delete(here).status_code == 409
    WantedVisit.objects.update(dropped_at="2026-09-16T14:00Z")
    assert office.delete(here).status_code == 204


def test_weights_are_seen_by_the_office_and_changed_by_the_owner(clients: Clients) -> None:
    usual = clients["dispatcher"].get("/api/v1/plan-weights").json()
    assert usual["drive"] == 1
    assert clients["dispatcher"].patch("/api/v1/plan-weights", {"drive": 3}).status_code == 403
    assert clients["owner"].patch("/api/v1/plan-weights", {"drive": -3}).status_code == 400
    assert not PlanWeights.objects.exists()
    assert clients["owner"].patch("/api/v1/plan-weights", {"drive": 3}).json() == {**usual, "drive": 3}


@pytest.mark.parametrize("place", PLACES[:4])
def test_lists_are_constant_in_queries(
    clients: Clients, job: Job, crew: Crew, place: str, django_assert_num_queries: Callable[..., Any]
) -> None:
    def more(count: int) -> None:
        for n in range(count):
            twin = Crew.objects.get(pk=crew.pk)
            twin.pk, twin.name = None, f"{place} {count} {n}"
            twin.save()
            CrewHome.objects.create(crew=twin, **INSIDE)
            CrewShift.objects.create(crew=twin, weekday=1, starts="07:00", ends="15:00")
            DayOff.objects.create(crew=twin, on="2026-09-18", set_by=PersonFactory(dispatcher=True))
            part = SparePart.objects.create(name=twin.name)
            TruckStock.objects.create(part=part, crew=twin, pieces=1)
            one = WantedVisit.objects.create(
                job=job, **DIG, asked_by=PersonFactory(dispatcher=True), asked_at="2026-09-16T14:00Z"
            )
            one.more_promises.create(opens_at="2026-09-17T14:00Z", closes_at="2026-09-17T15:00Z")

    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    office = clients["dispatcher"]
    more(2)
    with CaptureQueriesContext(connection) as few:
        office.get(f"/api/v1/{place}")
    more(12)
    with django_assert_num_queries(len(few)):
        assert len(office.get(f"/api/v1/{place}").json()["results"]) >= 14
