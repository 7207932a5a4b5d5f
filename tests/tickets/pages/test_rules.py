"""The company's local rules: the owner adds and retires, the office reads."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from tests.factories import LocalRuleFactory, make_clear_job, make_job
from tickets.models import Job, LocalRule

pytestmark = pytest.mark.django_db
Clients = dict[str, Client]


def typed(**changes: Any) -> dict[str, Any]:
    return {
        "name": "Street opening permit",
        "state": "VA",
        "county": "",
        "town": "Larkmoor",
        "requirement": "A permit is in hand.",
        "wait_unit": "working_days",
        "wait_begins": "next_day",
        "wait_ends": "day_after",
        "source": "Town code 12-3",
        **changes,
    }


def test_who_reads_and_who_writes(clients: Clients) -> None:
    found = {name: client.get("/rules/").status_code for name, client in clients.items()}
    assert found == {"owner": 200, "dispatcher": 200, "member": 403, "other": 403, "crewless": 403, "stranger": 302}
    for name in ("dispatcher", "member"):
        assert clients[name].post("/rules/", typed()).status_code == 403
    rule = LocalRuleFactory()
    assert clients["dispatcher"].post(f"/rules/{rule.pk}/retire", {"reason": "Repealed."}).status_code == 403
    assert LocalRule.objects.get().active
    assert "Add a local rule" not in clients["dispatcher"].get("/rules/").content.decode()


def test_a_rule_holds_from_the_moment_it_is_added_until_it_is_retired(clients: Clients) -> None:
    owner, job = clients["owner"], make_clear_job()
    assert owner.post("/rules/", typed()).status_code == 302
    job.refresh_from_db()
    assert job.verdict_state == "unknown"
    rule = LocalRule.objects.get()
    assert owner.post(f"/rules/{rule.pk}/retire", {"reason": ""}).status_code == 422
    assert owner.post(f"/rules/{rule.pk}/retire", {"reason": "Repealed."}).status_code == 302
    job.refresh_from_db()
    assert job.verdict_state == "clear"
    assert "No, retired" in owner.get("/rules/").content.decode()
    assert owner.post(f"/rules/{rule.pk}/retire", {"reason": "Again."}).status_code == 409
    assert owner.post("/rules/999/retire", {"reason": "x"}).status_code == 404


@pytest.mark.parametrize("county", ["Chesterfield County", "chesterfield", "  Chesterfield  county "])
def test_a_countys_rule_holds_at_a_site_found_from_its_position(clients: Clients, county: str) -> None:
    job: Job = make_job(state="", time_zone="")
    assert clients["owner"].post("/rules/", typed(county=county, town="")).status_code == 302
    job.refresh_from_db()
    assert "Street opening permit" in job.verdict_sentence
    assert LocalRule.objects.get().county == "Chesterfield County"


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"name": ""}, "name", "Fill this in"),
        ({"state": ""}, "state", "Fill this in"),
        ({"source": " "}, "source", "Fill this in"),
        ({"requirement": ""}, "requirement", "or give a longer wait"),
        ({"wait_amount": "0"}, "wait_amount", "1"),
        ({"wait_amount": "many"}, "wait_amount", "number"),
        ({"county": "Chesterfeld"}, "county", "Did you mean Chesterfield County"),
        ({"county": "Roanoke"}, "county", "Roanoke city"),
        ({"county": "Travis County"}, "county", "There is no county 'Travis County' in Virginia."),
    ],
)
def test_refusals(clients: Clients, changes: dict[str, str], field: str, words: str) -> None:
    answer = clients["owner"].post("/rules/", typed(**changes))
    assert answer.status_code == 422
    assert words in " ".join(answer.context["form"].errors[field])
    assert LocalRule.objects.count() == 0
