"""Reads that span rows: constant in queries, and only what the person may see."""

from __future__ import annotations

from typing import Any

import pytest

from tests.crews.factories import CrewFactory, PersonFactory
from tests.factories import (
    NOW,
    OPENS,
    JobFactory,
    LocalRuleFactory,
    SiteFactory,
    dispatcher,
    make_clear_job,
    make_job,
    make_ticket,
)
from tests.tickets.api.test_access import many_jobs
from tickets import selectors
from tickets.models import Job, Ticket
from tickets.states import State

pytestmark = pytest.mark.django_db


def test_verdicts_and_windows_of_a_page_are_constant_in_queries(
    django_assert_num_queries: Any, django_assert_max_num_queries: Any
) -> None:
    def verdicts() -> int:
        jobs = list(selectors.jobs_with_facts())
        return len(selectors.verdicts_of(jobs, NOW))

    def chart() -> int:
        return len(selectors.window_rows(list(selectors.chart_jobs(dispatch, place="Larkmoor")), NOW))

    dispatch = dispatcher()
    many_jobs(1)
    with django_assert_max_num_queries(13) as verdict_queries:
        assert verdicts() == 1
    with django_assert_max_num_queries(13) as chart_queries:
        assert chart() == 1
    many_jobs(49)
    with django_assert_num_queries(len(verdict_queries)):
        assert verdicts() == 50
    with django_assert_num_queries(len(chart_queries)):
        assert chart() == 50


def test_a_ticket_in_detail_is_constant_in_queries(django_assert_num_queries: Any) -> None:
    ticket = make_ticket(make_job(), operators=[f"Operator {n}" for n in range(12)])
    reader = dispatcher()
    with django_assert_num_queries(5):
        found = selectors.ticket_detail(ticket.pk, reader)
        assert len([a for o in found.operators.all() for a in o.answers.all()]) == 0
        assert found.job.site.state == "VA"
        assert list(found.renewals.all()) == list(found.followers.all()) == []


def test_verdicts_of_many_are_the_verdicts_of_each() -> None:
    jobs = [make_clear_job(), make_job(), make_job(private_lines_likely=True)]
    LocalRuleFactory(town="Nowhere")
    found = selectors.verdicts_of(list(selectors.jobs_with_facts()), NOW)
    assert found == {job.pk: selectors.verdict_of(job, NOW) for job in jobs}
    assert selectors.verdicts_of([], NOW) == {}


def test_local_rules_hold_where_they_say() -> None:
    site = SiteFactory(state="VA", county="Example County", town="Larkmoor")
    everywhere, county, town = (
        LocalRuleFactory(state="VA"),
        LocalRuleFactory(state="VA", county="example county"),
        LocalRuleFactory(state="VA", county="Example County", town="Larkmoor"),
    )
    for other in ({"state": "OH"}, {"county": "Other"}, {"town": "Other"}, {"active": False}):
        LocalRuleFactory(**{"state": "VA", **other})
    assert set(selectors.local_rules_of(site)) == {everywhere, county, town}
    assert county in selectors.local_rules_of(SiteFactory(county=""))  # not known is taken to be inside


def test_the_chart_shows_windows_and_is_filtered() -> None:
    clear, fresh = make_clear_job(), make_job(town="Otherfield")
    reader = dispatcher()
    rows = selectors.window_rows(list(selectors.chart_jobs(reader)), NOW)
    assert {row.job for row in rows} == {clear, fresh}
    row = next(row for row in rows if row.job == clear)
    [window] = row.windows
    assert (window.opens_at, window.closes_at) == (OPENS, clear.tickets.get().closes_at)
    assert list(selectors.chart_jobs(reader, states=[State.CLEAR])) == [clear]
    assert list(selectors.chart_jobs(reader, place="other")) == [fresh]
    assert list(selectors.chart_jobs(reader, place="larkmoor va")) == [clear]
    assert list(selectors.chart_jobs(reader, crew_id=1)) == []
    Job.objects.filter(pk=fresh.pk).update(closed_at=NOW)
    assert list(selectors.chart_jobs(reader)) == [clear]
    assert selectors.chart_jobs(reader, include_closed=True).count() == 2


def test_a_crew_member_sees_the_own_crews_jobs_while_the_visit_stands() -> None:
    job = make_clear_job()
    JobFactory()
    crew = CrewFactory()
    mate, stranger = PersonFactory(crew=crew), PersonFactory(crew=CrewFactory())
    visit = job.visits.create(
        crew=crew, kind="dig", starts_at=OPENS, ends_at=NOW, created_by=dispatcher(), created_at=OPENS
    )
    job.visits.create(crew=crew, kind="dig", starts_at=OPENS, ends_at=NOW, created_by=mate, created_at=OPENS)
    assert list(selectors.jobs_visible_to(mate)) == [job]  # once, though there are two visits
    assert selectors.job_detail(job.pk, mate) == job
    assert list(selectors.jobs_visible_to(stranger)) == []
    with pytest.raises(Job.DoesNotExist):
        selectors.job_detail(job.pk, stranger)
    with pytest.raises(Ticket.DoesNotExist):
        selectors.ticket_detail(job.tickets.get().pk, stranger)
    assert selectors.ticket_detail(job.tickets.get().pk, mate).job == job
    job.visits.update(cancelled_at=NOW)
    assert list(selectors.jobs_visible_to(mate)) == []
    assert visit.crew == crew


def test_reminders_that_fell_due() -> None:
    job = make_job()
    make_ticket(job)
    assert not selectors.due_follow_ups(dispatcher(), OPENS.replace(hour=10)).exists()
    assert {row.kind for row in selectors.due_follow_ups(dispatcher(), OPENS)} == {
        "window_opens",
        "answers_missing",
        "verdict_changes",
    }
