"""Wanted visits, hours and days off: their pages and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.test import Client

from crews.models import Crew, CrewHome, CrewShift, DayOff, Person, Plan, WantedVisit
from crews.services.hours import add_day_off
from crews.services.wanted import want_visit
from locates.errors import FirstspadeError
from tests.crews.factories import PersonFactory
from tests.crews.office import NOW, at
from tests.crews.page_people import client_of
from tickets.models import Job

WEEK = {"break_minutes": "30", "overtime_minutes": "60"}


@pytest.fixture
def office(dispatcher: Person, frozen_now: object) -> Client:
    return client_of(dispatcher)


def test_asking_for_a_visit(office: Client, clear: Job) -> None:
    form = {
        "job": clear.pk,
        "kind": "dig",
        "minutes": "180",
        "priority": "high",
        "promised_day": "2026-09-17",
        "promised_from": "08:00",
        "promised_until": "10:00",
        "skills": "gas, ",
        "kit": ["receiver"],
    }
    assert office.post("/plans/wanted/", form).status_code == 302
    wanted = WantedVisit.objects.get()
    assert (wanted.minutes, wanted.skills, wanted.kit) == (180, ["gas"], ["receiver"])
    assert (wanted.promised_from, wanted.promised_until) == (at(17, 8), at(17, 10))
    assert clear.number in office.get("/plans/wanted/").content.decode()
    office.post(f"/plans/wanted/{wanted.pk}/drop")
    wanted.refresh_from_db()
    assert wanted.dropped_at == NOW


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"minutes": "-5"}, "minutes"),
        ({"minutes": "2000"}, "minutes"),
        ({"kind": "tunnel"}, "kind"),
        ({"promised_from": "08:00"}, "promised_day"),
        ({"promised_day": "2026-09-17", "promised_from": "10:00", "promised_until": "08:00"}, "promised_until"),
        ({"gap_least_hours": "8", "gap_most_hours": "4"}, "gap_most_hours"),
    ],
)
def test_bad_wishes_are_refused_whole(office: Client, clear: Job, given: dict[str, str], field: str) -> None:
    form = {"job": clear.pk, "kind": "dig", "minutes": "180", "priority": "high"} | given
    answer = office.post("/plans/wanted/", form)
    assert answer.status_code == 400
    assert answer.context["form"].errors[field]
    assert not WantedVisit.objects.exists()


def test_a_member_asks_for_nothing(crew: Crew, clear: Job) -> None:
    member = PersonFactory(crew=crew)
    with pytest.raises(FirstspadeError):
        want_visit(job=clear, kind="dig", minutes=60, actor=member, now=NOW)
    browser = client_of(member)
    for address in ("/plans/wanted/", "/plans/hours/", f"/plans/hours/{crew.pk}/"):
        assert browser.get(address).status_code == 403


def test_hours_are_kept_and_shown(office: Client, crew: Crew) -> None:
    assert b"the usual hours" in office.get("/plans/hours/").content
    form = WEEK | {"starts_0": "06:30", "ends_0": "15:00", "starts_5": "08:00", "ends_5": "12:00"}
    assert office.post(f"/plans/hours/{crew.pk}/", form).status_code == 302
    assert list(CrewShift.objects.values_list("weekday", flat=True)) == [0, 5]
    page = office.get("/plans/hours/").content
    assert b"Saturday 08:00 to 12:00" in page
    assert b"the usual hours" not in page


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"starts_0": "15:00", "ends_0": "06:30"}, "ends_0"),
        ({"starts_0": "15:00"}, "ends_0"),
        ({"starts_0": "07:00", "ends_0": "15:00", "break_minutes": "-1"}, "break_minutes"),
    ],
)
def test_bad_hours_are_refused_whole(office: Client, crew: Crew, given: dict[str, str], field: str) -> None:
    CrewShift.objects.create(crew=crew, weekday=2, starts="07:00", ends="15:00")
    answer = office.post(f"/plans/hours/{crew.pk}/", WEEK | given)
    assert answer.status_code == 400
    assert answer.context["form"].errors[field]
    assert CrewShift.objects.get().weekday == 2


def test_days_off(office: Client, crew: Crew, dispatcher: Person) -> None:
    assert office.post(f"/plans/hours/{crew.pk}/off", {"on": "2026-09-18", "reason": "Training"}).status_code == 302
    assert b"Training" in office.get(f"/plans/hours/{crew.pk}/").content
    assert office.post(f"/plans/hours/{crew.pk}/off", {"on": "2026-09-18"}).status_code == 409
    assert office.post(f"/plans/hours/{crew.pk}/off", {"on": "2026-09-01"}).status_code == 400
    day = DayOff.objects.get()
    office.post(f"/plans/days-off/{day.pk}/end")
    assert not DayOff.objects.exists()
    today = date(2026, 9, 16)
    again = add_day_off(crew=crew, on=today + timedelta(days=1), today=today, actor=dispatcher)
    assert again.set_by == dispatcher


def test_a_home_is_kept_used_and_given_up(office: Client, crew: Crew) -> None:
    here = f"/plans/hours/{crew.pk}/"
    assert b"begins_from_0" not in office.get(here).content
    for bad in ({"latitude": "52.5", "longitude": "13.4"}, {"latitude": "", "longitude": "x"}, {"latitude": "95"}):
        assert office.post(f"{here}home", bad).status_code == 400
    assert not CrewHome.objects.exists()
    assert office.post(f"{here}home", {"latitude": "37.52", "longitude": "-77.43"}).status_code == 302
    form = WEEK | {"starts_0": "06:30", "ends_0": "15:00", "begins_from_0": "home", "ends_back_at_0": "yard"}
    assert office.post(here, form).status_code == 302
    assert CrewShift.objects.get().begins_from == "home"
    assert b"Monday 06:30 to 15:00 (from home)" in office.get("/plans/hours/").content
    office.post(f"{here}home", {"leave": "yes"})
    assert CrewHome.objects.exists()  # a shift begins there
    office.post(here, WEEK)
    office.post(f"{here}home", {"leave": "yes"})
    assert not CrewHome.objects.exists()


def test_a_shift_from_home_drives_from_home(
    computed: Callable[..., Plan], crew: Crew, clear: Job, dispatcher: Person
) -> None:
    site = clear.site
    CrewHome.objects.create(crew=crew, latitude=site.latitude, longitude=site.longitude)
    CrewShift.objects.create(crew=crew, weekday=3, starts="07:00", ends="15:00", begins_from="home")
    stop = computed().stops.get(stop="visit")
    assert (stop.drive_s, stop.starts_at) == (0, at(17, 7))
