"""One job's page: who sees it, what each act does to the verdict, and what it costs in queries."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from crews.models import Crew
from tests.crews.factories import VisitFactory
from tests.factories import (
    NOW,
    LocalRuleFactory,
    answer_all,
    dispatcher,
    make_clear_job,
    make_job,
    make_ticket,
)
from tickets import services
from tickets.models import Answer, EvidenceEntry, Job, PrivateLocate, SiteSighting

pytestmark = pytest.mark.django_db
Clients = dict[str, Client]
HTMX = {"HX-Request": "true", "HX-Target": "job"}


def do(client: Client, job: Job, act: str, *, htmx: bool = True, **given: Any) -> Any:
    return client.post(f"/jobs/{job.pk}/do/{act}", given, headers=HTMX if htmx else {})


def sentence(answer: Any) -> str:
    return str(answer.context["verdict"].sentence)


def test_who_may_see_a_job(clients: Clients, job: Job) -> None:
    found = {name: client.get(f"/jobs/{job.pk}/").status_code for name, client in clients.items()}
    assert found == {"owner": 200, "dispatcher": 200, "member": 200, "other": 404, "crewless": 404, "stranger": 302}


def test_the_verdict_comes_first_with_reasons_and_sources(office: Client, job: Job) -> None:
    page = office.get(f"/jobs/{job.pk}/").content.decode()
    assert "Digging is lawful now under ticket N1" in page
    assert page.index("Digging is lawful now") < page.index("Operators' answers") < page.index("Cautions")
    assert "Source:" in page
    assert "Hand dig or vacuum within 2 ft" in page
    assert "<svg" in page
    assert "style=" not in page


@pytest.mark.parametrize(
    ("outcome", "said", "may_dig"),
    [
        ("marked", "Recorded: Fernbank Gas, marked.", True),
        ("no_facilities", "no facilities", True),
        ("not_answered", "not answered", False),
        ("needs_information", "needs information", False),
    ],
)
def test_an_answer_in_one_click_changes_the_verdict_in_place(
    office: Client, job: Job, outcome: str, said: str, may_dig: bool
) -> None:
    operator = job.tickets.get().operators.get(name="Fernbank Gas")
    answer = do(office, job, "answer", operator=operator.pk, outcome=outcome)
    assert answer.status_code == 200
    assert said in answer.content.decode()
    assert "<html" not in answer.content.decode()
    assert operator.answers.order_by("-pk").first().outcome == outcome  # type: ignore[union-attr]
    assert f"<details open><summary>Record another answer of {operator.name}<" in answer.content.decode()
    job.refresh_from_db()
    assert answer.context["verdict"].state == job.verdict_state
    assert answer.context["verdict"].may_dig is may_dig


def test_without_a_script_the_browser_is_sent_back(office: Client, job: Job) -> None:
    operator = job.tickets.get().operators.get(name="Fernbank Gas")
    answer = do(office, job, "answer", htmx=False, operator=operator.pk, outcome="marked")
    assert (answer.status_code, answer.headers["Location"]) == (302, f"/jobs/{job.pk}/")
    assert "Recorded: Fernbank Gas, marked." in office.get(answer.headers["Location"]).content.decode()


@pytest.mark.parametrize("outcome", ["asked_more_time", "agreed_schedule"])
def test_an_answer_that_holds_for_a_time_asks_until_when(office: Client, job: Job, outcome: str) -> None:
    operator = job.tickets.get().operators.get(name="Ridge Power")
    before = Answer.objects.count()
    asked = do(office, job, "answer", operator=operator.pk, outcome=outcome)
    assert asked.status_code == 200
    assert "Ridge Power: until when?" in asked.content.decode()
    assert f'<option value="{outcome}" selected>' in asked.content.decode()
    assert Answer.objects.count() == before
    done = do(office, job, "answer", operator=operator.pk, outcome=outcome, holds_until="2026-09-18T12:00")
    assert "Recorded: Ridge Power" in done.content.decode()
    assert "Fri 18 Sep" in done.content.decode()
    assert operator.answers.get(outcome=outcome).holds_until.isoformat() == "2026-09-18T16:00:00+00:00"
    unknown = do(office, job, "answer", operator=operator.pk, outcome=outcome, until_unknown="1")
    assert unknown.status_code == 200
    assert operator.answers.filter(outcome=outcome, holds_until=None).count() == 1


def test_a_refused_answer_is_shown_beside_its_field_with_what_was_typed(office: Client, job: Job) -> None:
    operator = job.tickets.get().operators.get(name="Ridge Power")
    before = Answer.objects.count()
    answer = do(
        office,
        job,
        "answer",
        operator=operator.pk,
        outcome="marked",
        answered_at="2026-09-01T10:00",
        note="Rang.",
    )
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "lies before the notice was received (Tue 8 Sep, 10:00 AM EDT)" in page
    assert "Rang." in page
    assert "Nothing was recorded." in page
    assert Answer.objects.count() == before


@pytest.mark.parametrize(
    ("act", "given"),
    [
        ("answer", {"outcome": "marked"}),
        ("waived", {"reason": "None there."}),
        ("close", {}),
        ("cancel", {"reason": "Called off."}),
        ("operator", {"name": "Larkmoor Water", "utility": "water"}),
    ],
)
def test_a_crew_member_does_no_office_work(clients: Clients, job: Job, act: str, given: dict[str, Any]) -> None:
    ticket = job.tickets.get()
    before = EvidenceEntry.objects.count()
    row = {"answer": {"operator": ticket.operators.first().pk}, "cancel": {"ticket": ticket.pk}}  # type: ignore[union-attr]
    given = {**given, **row.get(act, {"ticket": ticket.pk})}
    assert do(clients["member"], job, act, **given).status_code == 403
    assert do(clients["other"], job, act, **given).status_code == 404
    assert do(clients["stranger"], job, act, htmx=False, **given).status_code == 302
    assert EvidenceEntry.objects.count() == before
    page = clients["member"].get(f"/jobs/{job.pk}/").content.decode()
    assert "/do/answer" not in page
    assert "Marks seen" in page


def test_the_crew_records_what_it_saw(clients: Clients, job: Job) -> None:
    operator = job.tickets.get().operators.get(name="Ridge Power")
    answer = do(clients["member"], job, "sighting", kind="no_marks_seen", operator=operator.pk, note="No flags.")
    assert "Ridge Power: on site no marks were seen" in sentence(answer)
    assert SiteSighting.objects.get().operator == operator
    later = do(clients["other"], job, "sighting", kind="marks_seen")
    assert later.status_code == 404


def test_private_lines_are_located_or_waived_with_a_reason(office: Client, crew: Crew) -> None:
    job = make_clear_job(private_lines_likely=True)
    assert "have not been located" in sentence(office.get(f"/jobs/{job.pk}/"))
    empty = do(office, job, "waived", reason=" ")
    assert empty.status_code == 422
    assert "Fill this in." in empty.content.decode()
    done = do(office, job, "located", result_words="Power to the shed, 2 ft 4 in deep.")
    assert "Digging is lawful" in sentence(done)
    assert PrivateLocate.objects.get().result_words == "Power to the shed, 2 ft 4 in deep."


def test_each_line_located_is_an_item_of_its_own(office: Client) -> None:
    job = make_clear_job(private_lines_likely=True)
    page = do(office, job, "located", result_words="Power to the shed, 2 ft deep.\r\nDrain <main>.").content.decode()
    block = page[page.index('class="listed"') :]
    assert block.startswith('class="listed"><li>Power to the shed, 2 ft deep.</li><li>Drain &lt;main&gt;.</li></ul>')
    assert (
        "<summary>2 findings</summary><ul><li>Power to the shed, 2 ft deep.</li><li>Drain &lt;main&gt;.</li></ul>"
        in page
    )


def test_local_rules_are_confirmed(office: Client, job: Job) -> None:
    rule = LocalRuleFactory(name="Street opening permit", requirement="A permit is in hand.")
    page = office.get(f"/jobs/{job.pk}/")
    assert "Street opening permit" in sentence(page)
    done = do(office, job, "rule", rule=rule.pk, note="Permit 41-B.")
    assert "Digging is lawful" in sentence(done)
    assert "Permit 41-B." in done.content.decode()
    assert do(office, job, "rule", rule=rule.pk).status_code == 409
    assert do(office, job, "rule", rule=rule.pk + 99).status_code == 404


def test_work_is_noted_and_the_job_closed_and_opened_again(office: Client, job: Job) -> None:
    assert "Noted: work went on." in do(office, job, "work").content.decode()
    job.refresh_from_db()
    assert job.work_begun_at == NOW
    closed = do(office, job, "close")
    assert "The job is closed." in closed.content.decode()
    assert "/do/answer" not in closed.content.decode()
    assert do(office, job, "work").status_code == 409
    assert do(office, job, "reopen", reason="").status_code == 422
    assert "The job is open again." in do(office, job, "reopen", reason="Sink hole.").content.decode()


def test_who_saw_the_verdict_is_logged(clients: Clients, job: Job) -> None:
    do(clients["member"], job, "seen")
    entry = EvidenceEntry.objects.get(kind="verdict_seen")
    assert (entry.actor.username, entry.payload["state"]) == ("member", "clear")  # type: ignore[union-attr]


def test_an_operator_is_added_and_a_ticket_cancelled(office: Client, job: Job) -> None:
    ticket = job.tickets.get()
    twice = do(office, job, "operator", ticket=ticket.pk, name="ridge power", utility="power")
    assert twice.status_code == 422
    assert "is on this ticket already" in twice.content.decode()
    done = do(office, job, "operator", ticket=ticket.pk, name="Larkmoor Water", utility="water")
    assert "Larkmoor Water has not answered" in done.content.decode()
    cancelled = do(office, job, "cancel", ticket=ticket.pk, reason="Called off.")
    assert "Cancelled: ticket N1." in cancelled.content.decode()
    assert cancelled.context["verdict"].may_dig is False
    assert do(office, job, "cancel", ticket=ticket.pk, reason="Again.").status_code == 409


def test_rows_of_another_job_are_out_of_reach(office: Client, job: Job) -> None:
    ticket = make_clear_job().tickets.get()
    operator = ticket.operators.first()
    assert operator is not None
    before = EvidenceEntry.objects.count()
    for act, given in (
        ("answer", {"operator": operator.pk, "outcome": "marked"}),
        ("cancel", {"ticket": ticket.pk, "reason": "x"}),
        ("operator", {"ticket": ticket.pk, "name": "x", "utility": "gas"}),
        ("no-such-act", {}),
    ):
        assert do(office, job, act, **given).status_code == 404
    assert do(office, job, "sighting", kind="marks_seen", operator=operator.pk).status_code == 422
    assert office.get(f"/jobs/{job.pk}/do/close").status_code == 405
    assert EvidenceEntry.objects.count() == before


def test_empty_and_full_pages_cost_the_same_number_of_queries(office: Client, crew: Crew) -> None:
    small, large = make_clear_job(), make_clear_job()
    VisitFactory(job=small, crew=crew, starts_at=NOW)
    services.record_sighting(job=small, actor=dispatcher(), now=NOW, kind="marks_seen")
    services.waive_private_locate(job=small, actor=dispatcher(), now=NOW, reason="None there.")
    LocalRuleFactory()
    actor = dispatcher()
    for n in range(4):
        ticket = make_ticket(large, number=f"M{n}", operators=[f"Operator {n}{m}" for m in range(5)])
        answer_all(ticket, at=NOW - timedelta(hours=3), actor=actor)
        answer_all(ticket, at=NOW - timedelta(hours=2), actor=actor)
        VisitFactory(job=large, crew=crew, starts_at=NOW + timedelta(days=n))
        services.record_sighting(job=large, actor=actor, now=NOW, kind="marks_seen")
        services.waive_private_locate(job=large, actor=actor, now=NOW, reason="None there.")
        LocalRuleFactory()

    def queries(job: Job) -> int:
        with CaptureQueriesContext(connection) as seen:
            assert office.get(f"/jobs/{job.pk}/").status_code == 200
        return len(seen)

    assert queries(small) == queries(large) <= 24


def test_a_bare_job_says_how_to_begin(office: Client) -> None:
    job = make_job(dig_areas=[])
    page = office.get(f"/jobs/{job.pk}/").content.decode()
    assert "No notice is on file" in page
    assert "Draw the dig area" in page
    assert f"/jobs/{job.pk}/tickets/new" in page
