"""A crew's page of the day: who sees whose, what stands on it, what a tap records, what is refused."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client

from crews.models import Crew, Visit
from tests.crews.factories import EquipmentFactory, VisitFactory
from tests.crews.office import NOW, at, clear_job, copies, give_notice, make_job
from tests.crews.page_people import Clients
from tickets import services as office
from tickets.models import EvidenceEntry, Job, SiteSighting

Queries = Callable[[int], AbstractContextManager[Any]]
pytestmark = pytest.mark.usefixtures("frozen_now")
HTMX = {"HX-Request": "true"}


def put(job: Job, crew: Crew, start: datetime, hours: float = 1, **given: Any) -> Visit:
    return VisitFactory(job=job, crew=crew, starts_at=start, ends_at=start + timedelta(hours=hours), **given)


def shown(client: Client, address: str = "/today/", status: int = 200) -> str:
    answer = client.get(address)
    assert answer.status_code == status
    return answer.content.decode()


def digest_on(page: str) -> str:
    return page.partition('name="digest" value="')[2].partition('"')[0]


def test_who_sees_whose_day(clients: Clients, crew: Crew, other_crew: Crew) -> None:
    own, others = f"/today/?crew={crew.pk}", f"/today/?crew={other_crew.pk}"
    reached = {
        who: tuple(clients[who].get(address).status_code for address in ("/today/", own, others)) for who in clients
    }
    assert reached == {
        "owner": (200, 200, 200),
        "dispatcher": (200, 200, 200),
        "member": (200, 200, 404),
        "other": (200, 404, 200),
        "crewless": (200, 404, 404),
        "stranger": (302, 302, 302),
    }
    assert "Basalt crew" in shown(clients["other"])
    assert "ask the owner to put you on one" in shown(clients["crewless"])


def test_before_the_first_crew_the_owner_is_shown_where_to_begin(clients: Clients) -> None:
    Crew.objects.update(active=False)
    assert 'href="/people/crews/new/"' in shown(clients["owner"])
    assert "the owner adds one" in shown(clients["dispatcher"])


def test_the_office_chooses_a_crew_and_a_member_cannot(clients: Clients) -> None:
    assert '<select id="id_crew"' in shown(clients["dispatcher"])
    assert '<select id="id_crew"' not in shown(clients["member"])


def test_the_verdict_comes_first_and_all_a_crew_needs_follows(clients: Clients, crew: Crew) -> None:
    job = clear_job(work="Replace 30 ft.")
    put(job, crew, at(16, 13), hours=2.5, note="Shed cable runs beside the trench.")
    page = shown(clients["member"])
    in_order = [
        "Clear to dig",
        "until Fri 2 Oct, 7:00 AM EDT",  # the sentence
        "What do you see on the ground?",
    ]
    places = [page.index(words) for words in in_order]
    assert places == sorted(places)
    for wanted in (
        "118 Copperthorn Road, Larkmoor, VA",
        "1:00 PM to 3:30 PM EDT",
        "Shed cable runs beside the trench.",
        "Machine, 4 ft deep",  # 1.2192 m; the foot is 0.3048 m exactly (NIST SP 811)
        "Operator 0",
        "No facilities",
        "24 in each side",  # Va. Code 56-265.24 A
        "by hand or vacuum",
        "tel:804-555-0140",
        "call 911",
        "A gas or oil line is named here.",
    ):
        assert wanted in page, wanted
    assert "A power line is named here." not in page
    assert 'class="swatch gas"' in page
    assert 'class="state open"' in page


def test_a_last_call_that_has_passed_is_said_to_have(
    clients: Clients, crew: Crew, travel: Callable[[datetime], None]
) -> None:
    put(clear_job(), crew, at(30, 13))
    address = "/today/?date=2026-09-30"
    assert "; renew by " in shown(clients["member"], address)
    travel(datetime(2026, 9, 30, 12, tzinfo=UTC))
    assert "; the last call to renew was " in shown(clients["member"], address)


def test_a_site_without_a_notice_says_do_not_dig(clients: Clients, crew: Crew) -> None:
    put(make_job(), crew, at(16, 13), kind="white_line")
    page = shown(clients["member"])
    assert "Not known: do not dig" in page
    assert "Nobody has entered a notice for this job: do not dig." in page
    assert "Work begun</button>" not in page


def test_the_days_before_and_after(clients: Clients, crew: Crew) -> None:
    put(clear_job(), crew, at(17, 9))
    assert "Nothing is planned for that day" in shown(clients["member"])
    tomorrow = shown(clients["member"], "/today/?date=2026-09-17")
    assert "118 Copperthorn Road" in tomorrow
    assert f'href="?crew={crew.pk}&amp;date=2026-09-18"' in tomorrow
    assert f'href="?crew={crew.pk}&amp;date=2026-09-16"' in tomorrow
    assert "Work begun</button>" not in tomorrow  # nobody is there yet


def test_a_verdict_of_today_is_not_sold_as_one_of_tomorrow(clients: Clients, crew: Crew) -> None:
    job = make_job()
    give_notice(job, received_at=at(15, 10), outcomes=("", ""))  # opens Fri 18 Sep, 7:00 AM
    put(job, crew, at(18, 9))
    put(clear_job(), crew, at(18, 11))
    page = shown(clients["member"], "/today/?date=2026-09-18")
    assert "The verdicts hold for now, not for Fri 18 Sep 2026" in page
    assert page.count("It changes before this visit") == 1
    assert "The verdicts hold for now" not in shown(clients["member"])


def test_a_day_that_is_none_is_said_beside_its_field(clients: Clients) -> None:
    page = shown(clients["member"], "/today/?date=17.9.2026", status=400)
    assert "Give the day as 2026-09-17." in page
    assert "Wed 16 Sep 2026" in page


def test_what_was_seen_changes_the_verdict_in_place(clients: Clients, crew: Crew) -> None:
    job = clear_job()
    visit = put(job, crew, at(16, 13))
    operator = job.tickets.get().operators.order_by("pk").first()
    assert operator is not None
    given = {"kind": "no_marks_seen", "operator": operator.pk, "note": "Nothing at the kerb."}
    answer = clients["member"].post(f"/today/{visit.pk}/marks?date=2026-09-16", given, headers=HTMX)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert page.lstrip().startswith('<div id="day"')
    assert "Recorded: No marks seen, Operator 0." in page
    assert 'class="state stop"' in page
    assert 'class="state open"' not in page
    seen = SiteSighting.objects.get()
    assert (seen.kind, seen.operator, seen.note, seen.seen_at) == (
        "no_marks_seen",
        operator,
        "Nothing at the kerb.",
        NOW,
    )


def test_without_javascript_it_is_post_and_redirect(clients: Clients, crew: Crew) -> None:
    visit = put(clear_job(), crew, at(16, 13))
    answer = clients["member"].post(f"/today/{visit.pk}/marks?date=2026-09-16", {"kind": "marks_seen"})
    assert answer.status_code == 302
    assert answer["Location"] == f"/today/?crew={crew.pk}&date=2026-09-16#visit-{visit.pk}"
    page = shown(clients["member"], answer["Location"])
    assert "Recorded: Marks seen." in page
    assert "Marks seen: Wed 16 Sep, 10:00 AM EDT, Ines Dunmarrow" in page


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"kind": "looks_fine"}, "Choose one of the four buttons."),
        ({"kind": "marks_seen", "operator": "999"}, "Choose an operator named on a ticket of this job."),
        ({"kind": "marks_seen", "note": "x" * 1001}, "at most 1000 characters"),
    ],
)
def test_bad_input_is_refused_whole(clients: Clients, crew: Crew, given: dict[str, str], words: str) -> None:
    visit = put(clear_job(), crew, at(16, 13))
    for headers in ({}, HTMX):
        answer = clients["member"].post(f"/today/{visit.pk}/marks", given, headers=headers)
        assert answer.status_code == 400
        assert words in answer.content.decode()
    assert not SiteSighting.objects.exists()


def test_a_closed_job_takes_no_more_sightings(clients: Clients, crew: Crew, people: dict[str, Any]) -> None:
    job = clear_job()
    visit = put(job, crew, at(16, 13))
    office.close_job(job=job, actor=people["owner"], now=NOW)
    answer = clients["member"].post(f"/today/{visit.pk}/marks", {"kind": "marks_seen"}, headers=HTMX)
    assert answer.status_code == 409
    assert "is closed" in answer.content.decode()


def test_whose_sites_may_be_written_to(clients: Clients, crew: Crew) -> None:
    visit = put(clear_job(), crew, at(16, 13))
    for act in ("marks", "begun", "read"):
        reached = {who: clients[who].post(f"/today/{visit.pk}/{act}", {}).status_code for who in clients}
        assert (reached["other"], reached["crewless"]) == (404, 404), act
        assert reached["stranger"] == 302, act
    assert clients["member"].get(f"/today/{visit.pk}/marks").status_code == 405
    visit.cancelled_at = NOW
    visit.save()
    assert clients["member"].post(f"/today/{visit.pk}/marks", {"kind": "marks_seen"}).status_code == 404


def test_work_begun_is_noted_once_a_day(clients: Clients, crew: Crew) -> None:
    job = clear_job()
    visit = put(job, crew, at(16, 9), hours=6)
    assert "Work begun</button>" in shown(clients["member"])
    answer = clients["member"].post(f"/today/{visit.pk}/begun", headers=HTMX)
    page = answer.content.decode()
    assert "Recorded: work begun." in page
    assert "Work is noted for today." in page
    assert "Work begun</button>" not in page
    job.refresh_from_db()
    assert (job.work_begun_at, job.last_worked_on) == (NOW, date(2026, 9, 16))


def test_who_read_the_verdict_goes_into_the_log(clients: Clients, crew: Crew, people: dict[str, Any]) -> None:
    job = clear_job()
    visit = put(job, crew, at(16, 13))
    digest = digest_on(shown(clients["member"]))
    answer = clients["member"].post(f"/today/{visit.pk}/read", {"digest": digest}, headers=HTMX)
    page = answer.content.decode()
    assert "Read by Ines Dunmarrow Wed 16 Sep, 10:00 AM EDT." in page
    assert "I have read this verdict" not in page
    entry = EvidenceEntry.objects.get(job=job, kind="verdict_seen")
    assert (entry.actor, entry.payload["verdict_digest"]) == (people["member"], digest)
    assert "I have read this verdict" in shown(clients["dispatcher"], f"/today/?crew={crew.pk}")


def test_nobody_is_put_down_for_a_verdict_that_was_not_shown(clients: Clients, crew: Crew) -> None:
    job = clear_job()
    visit = put(job, crew, at(16, 13))
    digest = digest_on(shown(clients["member"]))
    office.record_sighting(job=job, actor=visit.created_by, now=NOW, kind="no_marks_seen")
    answer = clients["member"].post(f"/today/{visit.pk}/read", {"digest": digest}, headers=HTMX)
    assert answer.status_code == 409
    assert "The verdict has changed" in answer.content.decode()
    assert not EvidenceEntry.objects.filter(kind="verdict_seen").exists()


def test_a_reading_of_the_verdict_before_does_not_count(clients: Clients, crew: Crew) -> None:
    job = clear_job()
    visit = put(job, crew, at(16, 13))
    clients["member"].post(f"/today/{visit.pk}/read", {"digest": digest_on(shown(clients["member"]))})
    assert "I have read this verdict" not in shown(clients["member"])
    office.record_sighting(job=job, actor=visit.created_by, now=NOW, kind="no_marks_seen")
    page = shown(clients["member"])
    assert "I have read this verdict" in page
    assert "Read by" not in page


def test_what_the_crew_carries_is_flagged_on_top(clients: Clients, crew: Crew) -> None:
    EquipmentFactory(name="Receiver B", crew=crew, calibration_due_on=date(2026, 9, 14))
    EquipmentFactory(name="Receiver A", crew=crew, calibration_due_on=date(2027, 9, 14))
    page = shown(clients["member"])
    assert "Calibration overdue by 2 days" in page
    assert "1 of the items you carry needs a look" in page
    assert page.index("1 of the items") < page.index("Calibration overdue by 2 days")
    assert page.index("Receiver B") < page.index("Receiver A")


@pytest.mark.parametrize(
    ("received", "fresh_s"),
    [
        (at(14, 10), 600),  # nothing changes for a long time: ten minutes at most
        (at(11, 10), 60),  # opens Wed 16 Sep, 7:00 AM; see the travel below
    ],
)
def test_a_page_is_fresh_until_the_next_change(
    clients: Clients, crew: Crew, travel: Callable[[datetime], None], received: datetime, fresh_s: int
) -> None:
    job = make_job()
    give_notice(job, received_at=received, outcomes=())
    put(job, crew, at(16, 13))
    opens = job.tickets.get().opens_at
    assert opens is not None
    travel(opens - timedelta(seconds=60) if fresh_s == 60 else at(14, 12))
    page = shown(clients["member"], "/today/?date=2026-09-16")
    assert f'data-fresh-s="{fresh_s}"' in page


def test_the_page_is_constant_in_queries(clients: Clients, crew: Crew, django_assert_num_queries: Queries) -> None:
    jobs = copies(clear_job(), 25)
    queries = 18  # session, person, crew, visits, ten of the jobs' facts, equipment, words, checks, who has read
    counts = []
    for many in (1, 25):
        Visit.objects.all().delete()
        for number, job in enumerate(jobs[:many]):
            put(job, crew, at(16, 11) + timedelta(minutes=20 * number), hours=0.3)
        EquipmentFactory.create_batch(many, crew=crew)
        with django_assert_num_queries(queries):
            counts.append(shown(clients["member"]).count('<article class="site"'))
    assert counts == [1, 25]


def test_each_line_located_is_an_item_of_its_own(clients: Clients, crew: Crew, people: dict[str, Any]) -> None:
    job = clear_job(private_lines_likely=True)
    put(job, crew, at(16, 13))
    found = [f"Branch {number} of the drip line, 8 in deep." for number in range(6)]
    office.record_private_locate(job=job, actor=people["member"], now=NOW, result_words="\n".join(found))
    page = shown(clients["member"])
    assert "6 findings:" in page
    block = page.partition('<ul class="listed">')[2].partition("</ul>")[0]
    assert block == "".join(f"<li>{line}</li>" for line in found)
