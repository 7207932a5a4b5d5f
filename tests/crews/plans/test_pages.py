"""The pages of plans by role, and what their forms refuse."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client

from crews import services
from crews.models import Crew, DayOff, Person, Plan, PlanState, PlanWeights, Visit
from tests.crews.factories import CrewFactory, PersonFactory, VisitFactory
from tests.crews.office import NOW, at, copies, give_notice, make_job
from tests.crews.page_people import client_of
from tests.crews.plans.conftest import stop_for
from tickets.models import Job

Computed = Callable[..., Plan]


@pytest.fixture
def office(dispatcher: Person, frozen_now: object) -> Client:
    return client_of(dispatcher)


def test_who_may_see_plans(computed: Computed, crew: Crew, clear: Job, office: Client) -> None:
    plan = computed()
    member, stranger = client_of(PersonFactory(crew=crew)), Client()
    stop = stop_for(plan, clear)
    for address in ("/plans/", f"/plans/{plan.pk}/", f"/plans/{plan.pk}/days/", f"/plans/stops/{stop.pk}/"):
        assert office.get(address).status_code == 200, address
        assert member.get(address).status_code == 403, address
        assert stranger.get(address).status_code == 302, address
    assert member.post(f"/plans/{plan.pk}/accept").status_code == 403
    assert not Visit.objects.exists()


def test_asking_leads_to_the_plan_and_its_progress(office: Client, crew: Crew) -> None:
    answer = office.post("/plans/", {"working_days": 2, "seconds": 5})
    plan = Plan.objects.get()
    assert answer.headers["Location"] == f"/plans/{plan.pk}/"
    assert b"every 1s" in office.get(f"/plans/{plan.pk}/", headers={"HX-Request": "true"}).content
    refused = office.post("/plans/", {"working_days": 2, "seconds": 5})
    assert refused.status_code == 409
    assert b"being computed already" in refused.content
    office.post(f"/plans/{plan.pk}/call-off")
    plan.refresh_from_db()
    assert plan.state == PlanState.CALLED_OFF
    assert b"every 1s" not in office.get(f"/plans/{plan.pk}/").content


def test_a_form_that_makes_no_sense_is_refused(office: Client) -> None:
    assert office.post("/plans/", {"working_days": 99, "seconds": "x"}).status_code == 400
    assert not Plan.objects.exists()


def test_accepting_on_the_page(computed: Computed, crew: Crew, clear: Job, waiting: Job, office: Client) -> None:
    plan = computed()
    office.post(f"/plans/stops/{stop_for(plan, clear).pk}/accept")
    assert Visit.objects.get().job == clear
    office.post(f"/plans/{plan.pk}/accept")
    assert Visit.objects.count() == 2
    again = office.post(f"/plans/{plan.pk}/accept")
    assert again.status_code == 409
    assert b"not a proposal" in again.content


def test_an_unlawful_move_is_refused_beside_the_form(
    computed: Computed, crew: Crew, waiting: Job, office: Client
) -> None:
    stop = stop_for(computed(), waiting)
    before = stop.starts_at
    for headers in ({}, {"HX-Request": "true"}):
        answer = office.post(f"/plans/stops/{stop.pk}/move", {"day": "2026-09-17", "start": "09:00"}, headers=headers)
        assert answer.status_code == 422
        assert b"The first lawful start is Fri 18 Sep" in answer.content
    stop.refresh_from_db()
    assert stop.starts_at == before
    moved = office.post(f"/plans/stops/{stop.pk}/move", {"day": "2026-09-21", "start": "09:00"})
    assert moved.status_code == 302


def test_why_here_names_every_shift(computed: Computed, crew: Crew, clear: Job, office: Client) -> None:
    page = office.get(f"/plans/stops/{stop_for(computed(), clear).pk}/").content.decode()
    assert "It stands here." in page
    assert "Possible;" in page


def test_weights_page(office: Client, owner: Person, crew: Crew) -> None:
    assert b"The owner can change them" in office.get("/plans/weights/").content
    form = {name: str(value) for name, value in weights().items()} | {"drive": "5"}
    assert office.post("/plans/weights/", form).status_code == 403
    boss = client_of(owner)
    assert boss.post("/plans/weights/", form | {"drive": "-1"}).status_code == 400
    assert not PlanWeights.objects.exists()
    assert boss.post("/plans/weights/", form).status_code == 302
    assert PlanWeights.objects.get().values["drive"] == 5


def weights() -> dict[str, int]:
    from dataclasses import asdict

    from crews.planning.problem import Weights

    return asdict(Weights())


def test_queries_of_the_page_do_not_grow(
    computed: Computed, crew: Crew, clear: Job, office: Client, django_assert_max_num_queries: Callable[..., object]
) -> None:
    copies(clear, 8)
    plan = computed()
    with django_assert_max_num_queries(24):  # type: ignore[attr-defined]
        office.get(f"/plans/{plan.pk}/")


def test_the_plan_stands_on_the_crews_phone_page_once_accepted(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person, frozen_now: object
) -> None:
    plan = computed()
    member = client_of(PersonFactory(crew=crew))
    stop = stop_for(plan, clear)
    day = stop.starts_at.date().isoformat()
    assert member.get(f"/api/v1/today?date={day}").json()["sites"] == []
    services.accept_plan(plan=plan, actor=dispatcher, now=NOW)
    (site,) = member.get(f"/api/v1/today?date={day}").json()["sites"]
    assert site["job"]["number"] == clear.number


def test_a_dragged_card_is_read_on_the_clock_of_the_line_where_it_was_let_go(
    computed: Computed, crew: Crew, clear: Job, office: Client
) -> None:
    """The site is in Virginia; the other crew's line runs on Central time, an hour behind."""
    west = CrewFactory(name="Basalt crew", time_zone="America/Chicago")
    stop = stop_for(computed(), clear)
    dragged = {"day": "2026-09-18", "start": "09:00", "crew": str(west.pk), "dragged": "yes"}
    moved = office.post(f"/plans/stops/{stop.pk}/move", dragged, headers={"HX-Request": "true"})
    assert moved.status_code == 200, moved.content
    stop.refresh_from_db()
    assert (stop.crew, stop.starts_at) == (west, at(18, 10))
    refused = office.post(f"/plans/stops/{stop.pk}/move", {**dragged, "day": "soon", "crew": "x"})
    assert refused.status_code == 422


def test_a_visit_that_stays_is_on_the_chart_and_in_the_crews_day(
    computed: Computed, crew: Crew, clear: Job, office: Client
) -> None:
    visit = VisitFactory(job=clear, crew=crew, kind="camera", starts_at=at(17, 10), ends_at=at(17, 11))
    plan = computed()
    chart = office.get(f"/plans/{plan.pk}/").content.decode()
    assert "stays as it stands" in chart
    assert f'href="/visits/{visit.pk}"' in chart
    assert "stays as it stands" in office.get(f"/plans/{plan.pk}/days/").content.decode()


def test_a_holiday_on_which_crews_go_out_is_named(crew: Crew, dispatcher: Person, frozen_now: object) -> None:
    """Labor Day, the first Monday of September (5 U.S.C. 6103): Mon 7 Sep 2026."""
    job = make_job(title="Early")
    give_notice(job, number="D-7", received_at=at(1, 10))
    for day in (4, 8, 9, 10):
        DayOff.objects.create(crew=crew, on=date(2026, 9, day), set_by=dispatcher)
    asked = services.ask_plan(actor=dispatcher, now=at(4, 9), working_days=5)
    services.compute_plan(plan_id=asked.pk, tick=lambda: at(4, 9))
    page = client_of(dispatcher).get(f"/plans/{asked.pk}/").content.decode()
    assert page.count("Crews go out on a holiday: Mon 7 Sep 2026 (Labor Day)") == 1
