"""A further ticket from one that is there, corrections, and more ground."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from tests.factories import NOW, RECEIVED, make_clear_job, make_job, make_ticket, square
from tickets.models import DigArea, Job, Ticket

pytestmark = pytest.mark.django_db


def address(job: Job, kind: str = "", of: Ticket | None = None) -> str:
    return f"/jobs/{job.pk}/tickets/new" + (f"?kind={kind}&of={of.pk}" if of else "")


def typed(kind: str, **changes: Any) -> dict[str, Any]:
    return {
        "ticket_number": "N2",
        "kind": kind,
        "received_at": "2026-09-16T09:30",
        "area_way": "of_ticket",
        "operator_name": ["Ridge Power"],
        "operator_utility": ["power"],
        **changes,
    }


@pytest.mark.parametrize(
    ("kind", "title", "relative"),
    [
        ("renewal", "Renew ticket N1", "renews"),
        ("second_notice", "Second notice on ticket N1", "follows"),
        ("re_mark", "Re-mark on ticket N1", "follows"),
    ],
)
def test_a_ticket_starts_from_the_one_it_belongs_to(
    office: Client, job: Job, kind: str, title: str, relative: str
) -> None:
    first = job.tickets.get()
    page = office.get(address(job, kind, first)).content.decode()
    assert title in page
    assert 'value="Fernbank Gas"' in page
    assert 'value="2026-09-16T10:00"' in page
    assert "not save" not in page
    answer = office.post(address(job, kind, first), typed(kind))
    assert answer.status_code == 302
    made = job.tickets.get(number="N2")
    assert getattr(made, relative) == first
    assert made.area == first.area
    assert list(made.operators.values_list("name", flat=True)) == ["Ridge Power"]
    shown = office.get(f"/jobs/{job.pk}/").content.decode()
    assert ("Renews ticket N1." if relative == "renews" else "Belongs to ticket N1.") in shown


def test_the_window_of_a_renewal_is_shown_before_saving(office: Client, job: Job) -> None:
    first = job.tickets.get()
    page = office.get(address(job, "renewal", first)).content.decode()
    assert "Sat 19 Sep 2026" in page or "Mon 21 Sep 2026" in page or "Fri 18 Sep 2026" in page
    part = office.post(
        address(job, "renewal", first), {**typed("renewal"), "look": "1"}, headers={"HX-Request": "true"}
    ).content.decode()
    assert "Digging may begin" in part
    assert "<html" not in part
    assert job.tickets.count() == 1


def test_a_refused_ticket_is_told_beside_its_field(office: Client, job: Job) -> None:
    first = job.tickets.get()
    for changes, field, words in (
        ({"ticket_number": "n1"}, "ticket_number", "on this job already"),
        ({"received_at": "2026-09-07T10:00"}, "received_at", "was received"),
        ({"kind": "normal"}, "kind", "available choices"),
    ):
        answer = office.post(address(job, "renewal", first), typed("renewal") | changes)
        assert answer.status_code == 422
        assert words in " ".join(answer.context["ticket"].errors[field])
    assert job.tickets.count() == 1


def test_a_new_ticket_may_cover_all_the_jobs_ground(office: Client) -> None:
    job = make_job(
        dig_areas=[
            {"polygon": square(0, 0, 5), "method": "hand"},
            {"polygon": square(20, 0, 5), "method": "machine"},
        ]
    )
    answer = office.post(address(job), typed("normal", area_way="same"))
    assert answer.status_code == 302
    area = job.tickets.get().area
    assert area is not None
    assert area["type"] == "MultiPolygon"
    assert len(area["coordinates"]) == 2


@pytest.mark.parametrize(
    "query", ["?kind=renewal", "?of=1", "?kind=normal&of=1", "?kind=renewal&of=x", "?kind=x&of=1"]
)
def test_half_a_question_is_no_page(office: Client, job: Job, query: str) -> None:
    assert office.get(f"/jobs/{job.pk}/tickets/new{query}").status_code == 404


def test_another_jobs_ticket_is_no_start(office: Client, job: Job) -> None:
    other = make_clear_job().tickets.get()
    assert office.get(address(job, "renewal", other)).status_code == 404


@pytest.mark.parametrize("page", ["tickets/new", "area"])
def test_the_office_alone_enters(clients: dict[str, Client], job: Job, page: str) -> None:
    found = {name: client.get(f"/jobs/{job.pk}/{page}").status_code for name, client in clients.items()}
    assert found == {"owner": 200, "dispatcher": 200, "member": 403, "other": 403, "crewless": 403, "stranger": 302}


class TestCorrection:
    def fields(self, **changes: Any) -> dict[str, Any]:
        return {
            "number": "N1",
            "received_at": "2026-09-08T10:00",
            "area_way": "as_it_is",
            "reason": "Misread.",
            **changes,
        }

    def test_only_what_differs_is_corrected(self, office: Client, job: Job) -> None:
        ticket = job.tickets.get()
        there = f"/jobs/{job.pk}/tickets/{ticket.pk}/correct"
        assert 'value="2026-09-08T10:00"' in office.get(there).content.decode()
        answer = office.post(there, self.fields(printed_expiry_at="2026-09-24T07:00"))
        assert answer.status_code == 302
        entry = job.evidence.get(kind="ticket_corrected")
        assert list(entry.payload["after"]) == ["printed_expiry_at"]
        assert entry.payload["reason"] == "Misread."
        ticket.refresh_from_db()
        assert (ticket.received_at, ticket.closes_at) == (RECEIVED, ticket.printed_expiry_at)

    @pytest.mark.parametrize(
        ("changes", "field", "words"),
        [
            ({"reason": "", "number": "N9"}, "reason", "Fill this in"),
            ({}, "reason", "Nothing to correct"),
            ({"received_at": "2026-09-17T10:00"}, "received_at", "lies after now"),
            ({"area_way": "outline", "area_outline": "x"}, "area_outline", "GeoJSON"),
        ],
    )
    def test_a_refused_correction(
        self, office: Client, job: Job, changes: dict[str, str], field: str, words: str
    ) -> None:
        ticket = job.tickets.get()
        answer = office.post(f"/jobs/{job.pk}/tickets/{ticket.pk}/correct", self.fields(**changes))
        assert answer.status_code == 422
        assert words in " ".join(answer.context["form"].errors[field])
        assert not job.evidence.filter(kind="ticket_corrected").exists()


def test_ground_is_added_and_taken_off(office: Client, job: Job) -> None:
    there = f"/jobs/{job.pk}/area"
    fields = {"dig_way": "rectangle", "dig_length": "6 ft", "dig_width": "3 ft", "dig_method": "hand"}
    refused = office.post(there, {**fields, "dig_length": "6"})
    assert refused.status_code == 422
    assert "write it as 3 ft 6 in" in refused.context["form"].errors["dig_length"][0]
    assert office.post(there, fields).status_code == 302
    added = DigArea.objects.order_by("-pk")[0]
    assert (added.job_id, added.method) == (job.pk, "hand")
    page = office.get(f"/jobs/{job.pk}/")
    assert "reaches" in page.context["verdict"].sentence  # the new ground sticks out of the ticket's area
    office.post(f"/jobs/{job.pk}/do/area-removed", {"area": added.pk, "reason": "Not needed."})
    added.refresh_from_db()
    assert added.removed_at == NOW


def test_a_ticket_after_one_that_was_cancelled_is_refused_in_words(office: Client) -> None:
    job = make_job()
    ticket = make_ticket(job)
    office.post(f"/jobs/{job.pk}/do/cancel", {"ticket": ticket.pk, "reason": "Called off."})
    answer = office.post(address(job, "renewal", ticket), typed("renewal"))
    assert answer.status_code == 422
    assert "give a new notice instead" in " ".join(answer.context["ticket"].errors["kind"])
