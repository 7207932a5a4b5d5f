"""A job and its ticket on one page: all or nothing, each fault beside its field."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.test import Client

from tests.factories import LATITUDE, LONGITUDE, make_job, square
from tickets.models import Customer, DigArea, Job, LocalRule, Ticket

pytestmark = pytest.mark.django_db
CLIENTS = dict[str, Client]


def typed(**changes: Any) -> dict[str, Any]:
    """The page as a dispatcher fills it in."""
    return {
        "customer": "",
        "customer_name": "Fernhollow Orchard",
        "customer_phone": "804-555-0150",
        "title": "Yard drain, 40 ft",
        "work": "",
        "number": "",
        "private_lines_likely": "on",
        "street": "12 Larkrise",
        "town": "Larkmoor",
        "latitude": str(LATITUDE),
        "longitude": str(LONGITUDE),
        "state": "",
        "time_zone": "",
        "dig_way": "rectangle",
        "dig_length": "40 ft",
        "dig_width": "42 in",
        "dig_bearing": "90",
        "dig_depth": "4 ft 6 in",
        "dig_method": "machine",
        "notice": "given",
        "ticket_number": "T-77",
        "kind": "normal",
        "received_at": "2026-09-15T10:00",
        "given_by_name": "Robin Example",
        "area_way": "same",
        "operator_name": ["Ridge Power", "", "Fernbank Gas"],
        "operator_utility": ["power", "unknown", "gas"],
        **changes,
    }


def errors_of(answer: Any) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for form in (answer.context["job"], answer.context["ticket"]):
        found |= {name: list(words) for name, words in form.errors.items()}
    return found


def test_one_page_makes_customer_site_job_area_and_ticket(office: Client) -> None:
    answer = office.post("/jobs/new", typed())
    job = Job.objects.get()
    assert answer.status_code == 302, errors_of(answer)
    assert answer.headers["Location"] == f"/jobs/{job.pk}/"
    assert job.customer.name == "Fernhollow Orchard"
    assert (job.site.state, job.site.time_zone, job.site.place_source) == ("VA", "America/New_York", "resolved")
    area = DigArea.objects.get()
    assert area.planned_depth_m == pytest.approx(4.5 * 0.3048)
    assert area.planned_width_m == pytest.approx(3.5 * 0.3048)
    ticket = Ticket.objects.get()
    assert ticket.area == area.polygon
    assert ticket.received_at.isoformat() == "2026-09-15T14:00:00+00:00"
    assert list(ticket.operators.values_list("name", "utility")) == [
        ("Fernbank Gas", "gas"),
        ("Ridge Power", "power"),
    ]
    assert ticket.opens_at is not None


def test_a_known_customer_is_taken_and_none_is_made(office: Client) -> None:
    known = make_job().customer
    office.post("/jobs/new", typed(customer=str(known.pk), customer_name=""))
    assert Customer.objects.get() == known
    assert known.jobs.count() == 2


def test_a_job_without_its_notice(office: Client) -> None:
    answer = office.post("/jobs/new", typed(notice="later", ticket_number="", received_at="", dig_way="none"))
    assert answer.status_code == 302
    assert Ticket.objects.count() == 0
    assert Job.objects.get().verdict_state == "unknown"


FAULTS: list[tuple[dict[str, Any], str, str]] = [
    ({"customer_name": ""}, "customer_name", "Choose a customer"),
    ({"title": " "}, "title", "Fill this in"),
    ({"latitude": "thirty"}, "latitude", "Enter a number"),
    ({"longitude": "77.62"}, "longitude", "utside the United States"),
    ({"latitude": str(LONGITUDE), "longitude": str(LATITUDE)}, "latitude", ""),
    ({"state": "OR"}, "state", "lies in VA"),
    ({"dig_length": "40"}, "dig_length", "write it as 3 ft 6 in"),
    ({"dig_length": ""}, "dig_length", "Give the length"),
    ({"dig_depth": "200 ft"}, "dig_depth", "up to 30"),
    ({"dig_way": "outline", "dig_outline": ""}, "dig_outline", "Draw the outline"),
    ({"dig_way": "outline", "dig_outline": "{}"}, "dig_outline", ""),
    ({"dig_bearing": "400"}, "dig_bearing", "360"),
    ({"ticket_number": ""}, "ticket_number", "Fill this in"),
    ({"received_at": ""}, "received_at", "Fill this in"),
    ({"received_at": "yesterday"}, "received_at", "is not a date and time"),
    ({"received_at": "2026-09-17T10:00"}, "received_at", "lies after now (Wed 16 Sep, 10:00 AM EDT)"),
    ({"received_at": "2026-03-08T02:30"}, "received_at", "does not exist"),
    ({"printed_start_at": "2026-09-01T07:00"}, "printed_start_at", "lies before the notice was received"),
    ({"kind": "renewal"}, "kind", "not one of the available choices"),
    ({"operator_name": ["Ridge Power", "ridge  power"]}, "__all__", "one row cannot be used"),
    (
        {"operator_name": ["", "", ""], "operator_utility": ["gas", "unknown", "unknown"]},
        "__all__",
        "name is missing",
    ),
]


@pytest.mark.parametrize(("changes", "field", "words"), FAULTS)
def test_a_fault_is_told_beside_its_field_and_nothing_is_saved(
    office: Client, changes: dict[str, Any], field: str, words: str
) -> None:
    answer = office.post("/jobs/new", typed(**changes))
    assert answer.status_code == 422
    assert words in " ".join(errors_of(answer)[field])
    assert [Customer.objects.count(), Job.objects.count(), Ticket.objects.count()] == [0, 0, 0]
    for word in (" ".join(one) for one in errors_of(answer).values()):
        assert word.strip()
    assert "Yard drain" in answer.content.decode() or changes.get("title") is not None  # what was typed stays


def test_every_fault_of_the_page_is_told_at_once(office: Client) -> None:
    answer = office.post("/jobs/new", {"notice": "given", "dig_way": "rectangle"})
    assert {"customer_name", "title", "street", "latitude", "dig_length", "ticket_number", "received_at"} <= set(
        errors_of(answer)
    )


def test_a_time_that_comes_twice_asks_for_the_offset_in_a_field_that_can_take_it(office: Client) -> None:
    changes = {"received_at": "2025-11-02T01:30"}
    answer = office.post("/jobs/new", typed(**changes))
    assert "comes twice" in errors_of(answer)["received_at"][0]
    assert 'name="received_at" value="2025-11-02T01:30"' in answer.content.decode()
    assert 'type="text" name="received_at"' in answer.content.decode()
    again = office.post("/jobs/new", typed(received_at="2025-11-02T01:30-05:00"))
    assert again.status_code == 302
    assert Ticket.objects.get().received_at.isoformat() == "2025-11-02T06:30:00+00:00"


def test_near_a_state_line_the_page_asks_and_takes_the_answer(office: Client) -> None:
    # Bristol lies across the line of Virginia and Tennessee, State Street on it (position from memory).
    at_the_line = {"latitude": "36.5953", "longitude": "-82.1843"}
    answer = office.post("/jobs/new", typed(**at_the_line))
    assert "Choose the state whose law holds" in errors_of(answer)["state"][0]
    assert "Digging may begin" not in look(office, **at_the_line)  # of a state that may not be the one
    assert "Digging may begin" in look(office, **at_the_line, state="TN")
    assert Job.objects.count() == 0
    chosen = office.post("/jobs/new", typed(**at_the_line, state="TN"))
    assert chosen.status_code == 302, errors_of(chosen)
    site = Job.objects.get().site
    assert (site.state, site.place_source) == ("TN", "chosen")


def look(client: Client, **changes: Any) -> str:
    answer = client.post(
        "/jobs/new", {**typed(**changes), "look": "1"}, headers={"HX-Request": "true", "HX-Target": "look"}
    )
    assert answer.status_code == 200
    assert "<html" not in answer.content.decode()
    return answer.content.decode()


def test_the_window_is_worked_out_before_saving(office: Client) -> None:
    part = look(office)
    assert "Chesterfield County, Virginia; its clock is America/New_York" in part
    assert "Fri 18 Sep 2026, 7:00 AM EDT" in part  # 48 hours from 7 AM of the next working day
    assert "counted" in part
    assert Job.objects.count() == 0


def test_the_window_is_under_the_local_rules_of_the_place(office: Client) -> None:
    LocalRule.objects.create(
        name="Longer wait",
        state="VA",
        county="Chesterfield County",
        wait_amount=5,
        wait_unit="working_days",
        wait_begins="next_day",
        wait_ends="day_after",
        source="Town code 12-3",
    )
    part = look(office)
    assert "Longer wait" in part
    assert "Wed 23 Sep 2026" in part
    assert "Longer wait" not in look(office, latitude="37.27", longitude="-79.94")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"latitude": ""}, "Give the site&#x27;s position"),
        ({"received_at": ""}, "Say when the notice was received"),
        ({"kind": "emergency"}, "opens no window"),
        ({"latitude": "36.5953", "longitude": "-82.1843"}, "Choose the state whose law holds"),
        ({"received_at": "2001-01-05T10:00"}, "no rule is on file"),
        ({"dig_length": "", "title": ""}, "Fri 18 Sep 2026"),
    ],
)
def test_the_preview_says_what_is_missing(office: Client, changes: dict[str, Any], words: str) -> None:
    assert words in look(office, **changes)


def test_without_a_script_the_page_comes_back_with_the_window_and_no_scolding(office: Client) -> None:
    answer = office.post("/jobs/new", {**typed(title=""), "look": "1"})
    assert answer.status_code == 200
    assert "Fri 18 Sep 2026" in answer.content.decode()
    assert errors_of(answer) == {}


def test_more_rows_for_operators(office: Client) -> None:
    names = [f"Operator {n}" for n in range(6)]
    answer = office.post("/jobs/new", {**typed(operator_name=names, operator_utility=["water"] * 6), "rows": "1"})
    page = answer.content.decode()
    assert page.count('name="operator_name"') == 9
    assert 'value="Operator 5"' in page
    assert Job.objects.count() == 0


def test_who_may_enter_a_job(clients: CLIENTS) -> None:
    found = {name: client.get("/jobs/new").status_code for name, client in clients.items()}
    assert found == {"owner": 200, "dispatcher": 200, "member": 403, "other": 403, "crewless": 403, "stranger": 302}
    assert clients["member"].post("/jobs/new", typed()).status_code == 403
    assert Job.objects.count() == 0


def test_a_drawn_outline_is_kept_as_drawn(office: Client) -> None:
    drawn = square(2, 2, 6)
    office.post("/jobs/new", typed(dig_way="outline", dig_outline=json.dumps(drawn), dig_length=""))
    assert DigArea.objects.get().polygon == drawn
