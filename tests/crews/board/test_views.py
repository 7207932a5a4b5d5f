"""The page at /: who sees it, what it says, how it is filtered; the same queries for one job and for sixty."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from crews.models import Crew, Person, Role, Visit
from tests.crews.factories import CrewFactory, PersonFactory
from tests.crews.office import NOW, copies, make_job
from tickets.models import Job

pytestmark = pytest.mark.django_db


def seen(client: Client, address: str = "/", **headers: str) -> str:
    answer = client.get(address, headers=headers)
    assert answer.status_code == 200, answer
    return answer.content.decode()


def numbers(client: Client, address: str) -> list[str]:
    return [row.job.number for row in client.get(address).context["board"].rows]


def test_a_stranger_is_sent_to_the_log_in(anonymous: Client) -> None:
    assert anonymous.get("/").url == "/login?next=/"


def test_a_crew_member_is_sent_to_the_day(frozen_now: object) -> None:
    client = Client()
    client.force_login(PersonFactory(role=Role.CREW_MEMBER, crew=CrewFactory()))
    assert client.get("/").url == "/today/"


@pytest.mark.parametrize("role", ["owner", "dispatcher"])
def test_the_office_sees_every_job(role: str, clear: Job, waiting: Job, frozen_now: object) -> None:
    client = Client()
    client.force_login(PersonFactory(**{role: True}))
    page = seen(client)
    assert clear.number in page
    assert waiting.number in page


def test_without_jobs_it_says_how_to_begin(office: Client) -> None:
    assert "Enter the first job and its ticket" in seen(office)
    assert "No open job matches" in seen(office, "/?text=nothing")


def test_a_last_call_that_has_passed_is_not_asked_for(
    office: Client, clear: Job, travel: Callable[[datetime], None]
) -> None:
    assert "renew by" in seen(office)
    travel(datetime(2026, 10, 1, 12, tzinfo=UTC))
    office.force_login(PersonFactory(dispatcher=True))
    page = seen(office)
    assert "Digging is lawful" in page
    assert "renew by" not in page


def test_a_row_leads_with_the_verdict_in_words(office: Client, clear: Job) -> None:
    page = seen(office)
    assert '<span class="state open">Clear to dig</span>' in page
    assert "Digging is lawful now under ticket D-1 until Fri 2 Oct, 7:00 AM EDT." in page
    assert f'href="/jobs/{clear.pk}/"' in page
    assert "Larkmoor, VA · EDT" in page
    assert "no-cache" not in page


def test_the_table_holds_the_same_facts(office: Client, clear: Job, put: Callable[..., Visit]) -> None:
    put(clear)
    for address in ("/", "/?view=table"):
        page = seen(office, address)
        assert "Dig windows of 1 job, in the local time of each site" in page
        for words in (
            "Wed 9 Sep 2026, 11:00 AM EDT",  # all had answered: Virginia lets work begin early
            "Fri 2 Oct 2026, 7:00 AM EDT",
            "Alder crew, dig, Thu 17 Sep, 8:00 AM to 12:00 PM EDT",
        ):
            assert words in page
    assert "<svg" not in seen(office, "/?view=table")


def test_a_visit_is_a_link_with_crew_kind_and_hour(office: Client, clear: Job, put: Callable[..., Visit]) -> None:
    visit = put(clear)
    assert 'aria-label="Alder crew, Dig, Thu 17 Sep, 8:00 AM to 12:00 PM EDT"' in seen(office)
    assert f'href="/visits/{visit.pk}?back=%2F"' in seen(office)


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("", ["clear", "waiting"]),
        ("state=clear", ["clear"]),
        ("state=waiting", ["waiting"]),
        ("state=clear&state=waiting", ["clear", "waiting"]),
        ("state=stop", []),
        ("text=gas yard", ["waiting"]),
        ("text=D-2", ["waiting"]),
        ("text=d-2 clear", []),
        ("text=Tilbrook", ["clear", "waiting"]),
        ("place=larkmoor", ["clear"]),
        ("place=va", ["clear", "waiting"]),
        ("place=WA", []),
        ("state=nonsense&days=x&start=yesterday&crew=x&page=99&view=upside", ["clear", "waiting"]),
        ("start=0001-01-01", ["clear", "waiting"]),
    ],
)
def test_filters(office: Client, clear: Job, waiting: Job, query: str, found: list[str]) -> None:
    names = {clear.number: "clear", waiting.number: "waiting"}
    assert sorted(names[number] for number in numbers(office, f"/?{query}")) == found


def test_the_crew_filter_finds_jobs_with_its_visits(
    office: Client, clear: Job, waiting: Job, crew: Crew, put: Callable[..., Visit]
) -> None:
    put(clear)
    assert numbers(office, f"/?crew={crew.pk}") == [clear.number]
    assert numbers(office, f"/?crew={CrewFactory().pk}") == []


def test_the_counts_are_of_the_other_filters_and_lead_to_a_state(office: Client, clear: Job, waiting: Job) -> None:
    tallies = {t.state: t.count for t in office.get("/?place=Larkmoor&state=stop").context["tallies"]}
    assert tallies["clear"] == 1
    assert sum(tallies.values()) == 1
    page = seen(office, "/?place=Larkmoor")
    assert 'href="/?place=Larkmoor&amp;state=clear"' in page


def test_a_closed_job_is_left_out(office: Client, clear: Job) -> None:
    Job.objects.filter(pk=clear.pk).update(closed_at=NOW)
    assert numbers(office, "/") == []


def test_the_days_shown_can_be_chosen_and_turned(office: Client, clear: Job) -> None:
    for query, first, days in (("", 16, 9), ("days=7", 16, 7), ("days=14&start=2026-09-20", 20, 14)):
        columns = office.get(f"/?{query}").context["board"].scale.columns
        assert (columns[0].day.day, len(columns)) == (first, days)
    assert 'href="/?days=7&amp;start=2026-09-23"' in seen(office, "/?days=7")


def test_weekends_are_narrow_and_a_holiday_is_named(office: Client, clear: Job) -> None:
    board = office.get("/?start=2026-09-04").context["board"]  # Labor Day is Mon 7 Sep 2026
    assert [c.day.day for c in board.scale.columns if c.narrow] == [5, 6, 7, 12]
    assert {h.column.day.day: h.note for h in board.heads if h.note} == {7: "Labor Day"}


def test_a_holiday_of_one_state_is_named_in_its_row(office: Client, clear: Job) -> None:
    """Patriots' Day, Mon 20 Apr 2026, is a legal holiday in Massachusetts (M.G.L. c. 4 s. 7) and not in
    Virginia (Code of Virginia 2.2-3300)."""
    there = make_job(town="Fenwick", state="MA", latitude=42.35, longitude=-72.2, dig_areas=[])
    board = office.get("/?start=2026-04-20&days=7").context["board"]
    shades = {row.job.pk: {s.day.day for s in row.strip.shades} for row in board.rows}
    assert 20 in shades[there.pk]
    assert 20 not in shades[clear.pk]
    assert "Patriots" in board.heads[0].note
    assert not board.scale.columns[0].narrow


def test_htmx_gets_the_part_and_caches_keep_them_apart(office: Client, clear: Job) -> None:
    whole = office.get("/")
    part = office.get("/", headers={"HX-Request": "true"})
    assert part.content.lstrip().startswith(b'<div id="board"')
    assert b"<html" in whole.content
    assert "HX-Request" in whole["Vary"]
    again = office.get("/", headers={"HX-Request": "true", "HX-History-Restore-Request": "true"})
    assert b"<html" in again.content


def test_pages_of_twenty(office: Client, clear: Job) -> None:
    copies(clear, 44)
    page = office.get("/?text=" + clear.number)
    assert len(page.context["board"].rows) == 20
    assert "45 jobs, 1 to 20 shown." in page.content.decode()
    assert len(numbers(office, "/?page=3")) == 5


def test_the_same_queries_for_one_job_and_for_sixty(
    office: Client, clear: Job, put: Callable[..., Visit], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("crews.board.views.ROWS_A_PAGE", 100)
    visit = put(clear)
    with CaptureQueriesContext(
        connection,
    ) as one:
        assert len(numbers(office, "/")) == 1
    for twin in copies(clear, 59):
        visit.pk, visit.job = None, twin
        visit.starts_at += timedelta(hours=1)
        visit.ends_at += timedelta(hours=1)
        visit.save()
    with CaptureQueriesContext(connection) as sixty:
        assert len(numbers(office, "/")) == 60
    assert len(one) == len(sixty), [q["sql"] for q in sixty.captured_queries][len(one) :]


def test_words_of_others_are_escaped(office: Client, frozen_now: Any) -> None:
    make_job(title="<script>alert(1)</script>")
    page = seen(office)
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_no_inline_style_or_script(office: Client, clear: Job, put: Callable[..., Visit]) -> None:
    """The content security policy would drop them."""
    put(clear)
    page = seen(office)
    assert " style=" not in page
    assert "<style" not in page
    assert "onclick" not in page


def test_the_dispatcher_is_not_told_of_people_only(dispatcher: Person, office: Client) -> None:
    assert office.post("/").status_code == 405
