"""A crew's day in one call."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from rest_framework.test import APIClient

from crews.models import Crew, Person, Visit
from tests.crews.factories import CrewFactory, EquipmentFactory, VisitFactory
from tests.crews.office import NOW, at, clear_job, copies, give_notice, make_job
from tickets import services as office
from tickets.models import Job

Clients = dict[str, APIClient]
Queries = Callable[[int], AbstractContextManager[Any]]
pytestmark = pytest.mark.usefixtures("frozen_now")


def put(job: Job, crew: Crew, start: datetime, hours: float = 1, **given: Any) -> Visit:
    return VisitFactory(job=job, crew=crew, starts_at=start, ends_at=start + timedelta(hours=hours), **given)


def day(client: APIClient, query: str = "") -> dict[str, Any]:
    answer = client.get(f"/api/v1/today{query}")
    assert answer.status_code == 200, answer.json()
    return answer.json()


def test_who_may_ask_for_which_day(clients: Clients, crew: Crew, other_crew: Crew) -> None:
    def status(who: str, query: str = "") -> int:
        return clients[who].get(f"/api/v1/today{query}").status_code

    own, others = f"?crew={crew.pk}", f"?crew={other_crew.pk}"
    assert {who: (status(who), status(who, own), status(who, others)) for who in clients} == {
        "owner": (400, 200, 200),
        "dispatcher": (400, 200, 200),
        "member": (200, 200, 404),
        "other": (200, 404, 200),
        "crewless": (400, 404, 404),
        "stranger": (403, 403, 403),
    }


def test_bad_questions_are_refused_by_field(clients: Clients) -> None:
    answer = clients["member"].get("/api/v1/today?crew=alder&date=17.9.2026")
    assert (answer.status_code, set(answer.json()["errors"])) == (400, {"crew", "date"})
    assert "say which crew" in clients["owner"].get("/api/v1/today").json()["detail"]


def test_a_clear_site_has_all_a_crew_needs(clients: Clients, crew: Crew) -> None:
    job = clear_job(work="Replace 30 ft.")
    put(job, crew, at(16, 13), hours=2.5, note="Shed cable.")
    found = day(clients["member"])
    assert (found["date"], found["date_words"]) == ("2026-09-16", "Wed 16 Sep 2026")
    assert found["as_of_words"] == "Wed 16 Sep, 10:00 AM EDT"
    (site,) = found["sites"]
    assert site["visit"]["words"] == "Wed 16 Sep, 1:00 PM to 3:30 PM EDT"
    assert (site["visit"]["kind_words"], site["visit"]["note"]) == ("Dig", "Shed cable.")
    assert (site["job"]["number"], site["job"]["customer_phone"]) == (job.number, "804-555-0140")
    assert site["place"]["state"] == "VA"
    verdict = site["verdict"]
    assert (verdict["state"], verdict["may_dig"], verdict["unverified"]) == ("clear", True, False)
    assert verdict["reasons"]
    assert any(reason["citation"] for reason in verdict["reasons"])
    assert site["window"]["closes_at"] == "2026-10-02T11:00:00Z"
    assert site["window"]["closes_words"] == "Fri 2 Oct, 7:00 AM EDT"
    (ticket,) = site["tickets"]
    assert [(a["operator"], a["outcome_words"]) for a in ticket["answers"]] == [
        ("Operator 0", "Marked"),
        ("Operator 1", "No facilities"),
    ]
    assert ticket["answers"][0]["answered_words"] == "Wed 9 Sep, 11:00 AM EDT"
    (area,) = site["dig_areas"]["features"]
    assert (site["dig_areas"]["type"], area["type"]) == ("FeatureCollection", "Feature")
    assert area["geometry"] == job.dig_areas.get().polygon
    assert area["properties"]["planned_depth_words"] == "4 ft"  # 1.2192 m; the foot is 0.3048 m exactly
    assert site["tolerance_zone"]["inches_each_side"] == 24  # Va. Code 56-265.24 A
    assert "2 ft" in site["tolerance_zone"]["words"]


def test_the_cautions_are_there_and_none_twice(clients: Clients, crew: Crew) -> None:
    put(clear_job(), crew, at(16, 13))
    found = day(clients["member"])
    assert [caution["code"] for caution in found["cautions"]] == ["computed_aid", "licensed_practice"]
    words = [caution["words"] for caution in found["sites"][0]["cautions"]]
    assert len(words) == len(set(words))
    assert sum("2 ft" in line for line in words) == 1
    everything = " ".join(words)
    for wanted in ("911", "notification centre", "Unknown is never clear", "by hand"):
        assert wanted in everything


@pytest.mark.parametrize(
    ("outcomes", "state", "may_dig"),
    [(("marked", ""), "waiting", False), (("marked", "asked_more_time"), "waiting", False)],
)
def test_a_missing_answer_is_never_clear(
    clients: Clients, crew: Crew, outcomes: tuple[str, ...], state: str, may_dig: bool
) -> None:
    job = make_job()
    give_notice(job, outcomes=outcomes)
    put(job, crew, at(16, 13))
    (site,) = day(clients["member"])["sites"]
    assert (site["verdict"]["state"], site["verdict"]["may_dig"]) == (state, may_dig)
    assert site["verdict"]["would_change"]
    answers = site["tickets"][0]["answers"]
    assert answers[1]["outcome"] == (outcomes[1] or "not_answered")


def test_the_latest_answer_is_shown(clients: Clients, crew: Crew, people: dict[str, Person | None]) -> None:
    job = make_job()
    ticket = give_notice(job, outcomes=("asked_more_time",))
    operator = ticket.operators.get()
    office.record_answer(
        operator=operator, actor=people["dispatcher"], now=at(10, 9), outcome="marked", note="Yellow flags"
    )
    put(job, crew, at(16, 13))
    (answer,) = day(clients["member"])["sites"][0]["tickets"][0]["answers"]
    assert (answer["outcome"], answer["note"]) == ("marked", "Yellow flags")


def test_a_site_without_a_ticket_says_so(clients: Clients, crew: Crew) -> None:
    put(make_job(), crew, at(16, 13), kind="white_line")
    (site,) = day(clients["member"])["sites"]
    assert (site["verdict"]["state"], site["verdict"]["may_dig"]) == ("unknown", False)
    assert site["window"]["opens_at"] is None
    assert (site["window"]["opens_words"], site["tickets"]) == ("", [])


def test_what_the_crew_sees_on_site_shows_at_once(clients: Clients, crew: Crew) -> None:
    job = clear_job()
    visit = put(job, crew, at(16, 13))
    assert day(clients["member"])["sites"][0]["verdict"]["may_dig"]
    office.record_sighting(job=job, actor=visit.created_by, now=NOW, kind="no_marks_seen")
    assert day(clients["member"])["sites"][0]["verdict"]["state"] == "stop"


def test_the_day_is_the_crews_own(clients: Clients, other_crew: Crew) -> None:
    # Basalt crew's yard is in Central time: its 16th runs from 05:00 UTC to 05:00 UTC.
    job = clear_job()
    last = put(job, other_crew, datetime.fromisoformat("2026-09-17T04:30+00:00"), hours=0.4)
    put(job, other_crew, datetime.fromisoformat("2026-09-17T05:00+00:00"), hours=0.4)
    over = put(job, other_crew, datetime.fromisoformat("2026-09-16T04:30+00:00"), hours=1)
    put(job, other_crew, at(16, 12), cancelled_at=NOW)
    found = day(clients["other"])
    assert [site["visit"]["id"] for site in found["sites"]] == [over.pk, last.pk]
    assert day(clients["other"], "?date=2026-09-19")["sites"] == []


def test_equipment_with_what_is_wrong_first(clients: Clients, crew: Crew) -> None:
    EquipmentFactory(name="A fine", crew=crew, calibration_due_on=date(2026, 9, 17))
    EquipmentFactory(name="B overdue", crew=crew, calibration_due_on=date(2026, 9, 14))
    EquipmentFactory(name="C no date", crew=crew)
    EquipmentFactory(name="D broken", crew=crew, kind="truck", out_of_service_reason="Brakes")
    EquipmentFactory(name="E elsewhere")
    items = day(clients["member"])["equipment"]
    assert [(item["name"], item["overdue"], item["flag"]) for item in items] == [
        ("B overdue", True, "Calibration overdue by 2 days"),
        ("C no date", False, "No calibration date on record"),
        ("D broken", False, "Out of service: Brakes"),
        ("A fine", False, ""),
    ]
    assert [item["may_go_out"] for item in items] == [False, False, False, True]
    due_day = {item["name"]: item for item in day(clients["member"], "?date=2026-09-17")["equipment"]}["A fine"]
    assert (due_day["overdue"], due_day["may_go_out"]) == (False, False)
    assert due_day["flag"] == "Calibration is due on the day itself, Thu 17 Sep 2026."
    after = day(clients["member"], "?date=2026-09-18")["equipment"]
    assert {item["name"]: item["overdue"] for item in after}["A fine"]


def test_the_day_is_constant_in_queries(clients: Clients, crew: Crew, django_assert_num_queries: Queries) -> None:
    jobs = copies(clear_job(), 25)
    queries = 17  # session, person, crew, visits, ten of the jobs' facts (no second dig), equipment, words, checks
    counts = []
    for many in (1, 25):
        Visit.objects.all().delete()
        for number, job in enumerate(jobs[:many]):
            put(job, crew, at(16, 11) + timedelta(minutes=20 * number), hours=0.3)
        EquipmentFactory.create_batch(many, crew=crew)
        with django_assert_num_queries(queries):
            counts.append(len(day(clients["member"])["sites"]))
    assert counts == [1, 25]


def test_an_empty_day_is_an_answer(clients: Clients) -> None:
    crew = CrewFactory()
    found = day(clients["owner"], f"?crew={crew.pk}")
    assert (found["sites"], found["equipment"]) == ([], [])
