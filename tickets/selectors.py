"""Every read of the office that spans rows. Constant in queries whatever the number of rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Prefetch, Q, QuerySet

from tickets.gathering import FactSheet, facts_of_job
from tickets.models import (
    Answer,
    Customer,
    DigArea,
    EmergencyDig,
    EvidenceEntry,
    FollowUp,
    Job,
    LocalRule,
    PrivateLocate,
    Site,
    SiteSighting,
    Ticket,
    TicketOperator,
)
from tickets.verdict import Facts, Verdict, Window, dig_windows, verdict

_FACTS = (
    Prefetch("dig_areas", DigArea.objects.filter(removed_at=None).order_by("id")),
    Prefetch("tickets", Ticket.objects.order_by("received_at", "id")),
    Prefetch("tickets__operators", TicketOperator.objects.order_by("name", "id")),
    Prefetch("tickets__operators__answers", Answer.objects.order_by("answered_at", "id")),
    Prefetch("sightings", SiteSighting.objects.select_related("operator", "by").order_by("seen_at", "id")),
    "private_locates__by",
    "emergencies__declared_by",
    "local_rule_confirmations",
)


def jobs_with_facts() -> QuerySet[Job]:
    """Jobs with everything that a verdict rests on loaded: ten queries for any number of jobs."""
    return Job.objects.select_related("site", "customer").prefetch_related(*_FACTS)


def jobs_visible_to(person: Any) -> QuerySet[Job]:
    """The office sees every job, a crew member those to which the own crew has a visit."""
    if person.runs_the_office:
        return Job.objects.all()
    if person.crew_id is None:
        return Job.objects.none()
    own = Job.objects.filter(visits__crew_id=person.crew_id, visits__cancelled_at=None)
    return Job.objects.filter(pk__in=own.values("pk"))


def tickets_visible_to(person: Any) -> QuerySet[Ticket]:
    return _within(Ticket.objects.all(), "job", person)


def sites_visible_to(person: Any) -> QuerySet[Site]:
    if person.runs_the_office:
        return Site.objects.all()
    return Site.objects.filter(pk__in=jobs_visible_to(person).values("site_id"))


def operators_visible_to(person: Any) -> QuerySet[TicketOperator]:
    return _within(TicketOperator.objects.select_related("ticket"), "ticket__job", person)


def private_locates_visible_to(person: Any) -> QuerySet[PrivateLocate]:
    return _within(PrivateLocate.objects.all(), "job", person)


def emergencies_visible_to(person: Any) -> QuerySet[EmergencyDig]:
    return _within(EmergencyDig.objects.all(), "job", person)


def answers_visible_to(person: Any) -> QuerySet[Answer]:
    return _within(Answer.objects.all(), "operator__ticket__job", person)


def sightings_visible_to(person: Any) -> QuerySet[SiteSighting]:
    return _within(SiteSighting.objects.all(), "job", person)


def evidence_visible_to(person: Any) -> QuerySet[EvidenceEntry]:
    return _within(EvidenceEntry.objects.all(), "job", person)


def follow_ups_visible_to(person: Any) -> QuerySet[FollowUp]:
    return _within(FollowUp.objects.all(), "job", person)


def customers_visible_to(person: Any) -> QuerySet[Customer]:
    """The office alone keeps the customers; a crew member sees those of the own jobs."""
    if person.runs_the_office:
        return Customer.objects.all()
    return Customer.objects.filter(pk__in=jobs_visible_to(person).values("customer_id"))


def _within(rows: QuerySet[Any], path: str, person: Any) -> QuerySet[Any]:
    if person.runs_the_office:
        return rows
    return rows.filter(**{f"{path}__in": jobs_visible_to(person).values("pk")})


def local_rules_of(site: Site) -> list[LocalRule]:
    """The company's active local rules at a site."""
    return _rules_at(site, LocalRule.objects.filter(active=True, state__iexact=site.state))


def _rules_at(site: Site, rules: Iterable[LocalRule]) -> list[LocalRule]:
    return [
        rule
        for rule in rules
        if rule.state.upper() == site.state.upper()
        and _same(rule.county, site.county)
        and _same(rule.town, site.town)
    ]


def _same(asked: str, there: str) -> bool:
    """An empty place in the rule means everywhere; a site without a county is taken to be inside."""
    return not asked or not there or asked.casefold().strip() == there.casefold().strip()


def jobs_under_rule(rule: LocalRule) -> list[Job]:
    """Open jobs at sites where a local rule holds, whether the rule is active or not."""
    jobs = Job.objects.filter(closed_at=None, site__state__iexact=rule.state).select_related("site")
    return [job for job in jobs.order_by("pk") if _rules_at(job.site, [rule])]


def facts_of(jobs: Sequence[Job]) -> Mapping[int, FactSheet]:
    """The facts of jobs loaded by `jobs_with_facts`; one more query, for the local rules."""
    states = {job.site.state.upper() for job in jobs}
    rules = list(LocalRule.objects.filter(active=True, state__in=states)) if states else []
    return {job.pk: facts_of_job(job, _rules_at(job.site, rules)) for job in jobs}


def verdicts_of(jobs: Sequence[Job], now: datetime) -> dict[int, Verdict]:
    """The verdict on each job at `now`, by primary key; the jobs come from `jobs_with_facts`."""
    return {pk: verdict(sheet.facts, now) for pk, sheet in facts_of(jobs).items()}


def verdict_of(job: Job, now: datetime) -> Verdict:
    """The verdict on one job at `now`, from the facts as they are in the database."""
    return verdict(fresh_facts(job.pk), now)


def fresh_facts(job_id: int) -> Facts:
    """One job's facts as they are in the database."""
    return fresh_job(job_id)[1]


def fresh_job(job_id: int) -> tuple[Job, Facts]:
    """One job with everything that a verdict rests on loaded, and its facts."""
    job = jobs_with_facts().get(pk=job_id)
    return job, facts_of([job])[job_id].facts


@dataclass(frozen=True, slots=True)
class WindowRow:
    """One job's row of the chart of dig windows."""

    job: Job
    verdict: Verdict
    windows: tuple[Window, ...]
    tickets: tuple[Ticket, ...]


def chart_jobs(
    person: Any,
    *,
    states: Iterable[str] = (),
    crew_id: int | None = None,
    place: str = "",
    include_closed: bool = False,
) -> QuerySet[Job]:
    """The jobs that a person may see on the chart, filtered, the next change first; page it, then hand the
    page to `window_rows`. `states` filters by the stored copy of the verdict, `place` by town, county,
    street or state."""
    pks = jobs_visible_to(person)
    if not include_closed:
        pks = pks.filter(closed_at=None)
    wanted = [str(state) for state in states]
    if wanted:
        pks = pks.filter(verdict_state__in=wanted)
    if crew_id is not None:
        with_crew = Job.objects.filter(visits__crew_id=crew_id, visits__cancelled_at=None)
        pks = pks.filter(pk__in=with_crew.values("pk"))
    for word in place.split():
        pks = pks.filter(
            Q(site__town__icontains=word)
            | Q(site__county__icontains=word)
            | Q(site__street__icontains=word)
            | Q(site__state__iexact=word)
        )
    return jobs_with_facts().filter(pk__in=pks.values("pk")).order_by("verdict_next_change_at", "-created_at", "pk")


def window_rows(jobs: Sequence[Job], now: datetime) -> list[WindowRow]:
    """The chart's rows for jobs loaded by `jobs_with_facts` (or `chart_jobs`)."""
    sheets = facts_of(jobs)
    return [
        WindowRow(
            job,
            verdict(sheets[job.pk].facts, now),
            dig_windows(sheets[job.pk].facts, now),
            tuple(job.tickets.all()),
        )
        for job in jobs
    ]


def ticket_detail(ticket_id: int, person: Any) -> Ticket:
    """One ticket with its job, operators, answers and relatives. Raises Ticket.DoesNotExist also when the
    person may not see it."""
    return (
        tickets_visible_to(person)
        .select_related("job__site", "job__customer", "renews", "follows")
        .prefetch_related(
            Prefetch("operators__answers", Answer.objects.select_related("recorded_by")),
            "renewals",
            "followers",
        )
        .get(pk=ticket_id)
    )


def job_detail(job_id: int, person: Any) -> Job:
    """One job with its facts loaded. Raises Job.DoesNotExist also when the person may not see it."""
    return jobs_with_facts().filter(pk__in=jobs_visible_to(person).values("pk")).get(pk=job_id)


def due_follow_ups(person: Any, now: datetime) -> QuerySet[FollowUp]:
    """What fell due and was not done, and what was done last: the dispatcher's list of reminders."""
    rows = follow_ups_visible_to(person).filter(superseded_at=None, due_at__lte=now)
    return rows.select_related("job__site", "ticket").order_by("-due_at", "-id")


__all__ = [
    "FactSheet",
    "WindowRow",
    "answers_visible_to",
    "chart_jobs",
    "customers_visible_to",
    "due_follow_ups",
    "emergencies_visible_to",
    "evidence_visible_to",
    "facts_of",
    "follow_ups_visible_to",
    "fresh_facts",
    "fresh_job",
    "job_detail",
    "jobs_under_rule",
    "jobs_visible_to",
    "jobs_with_facts",
    "local_rules_of",
    "operators_visible_to",
    "private_locates_visible_to",
    "sightings_visible_to",
    "sites_visible_to",
    "ticket_detail",
    "tickets_visible_to",
    "verdict_of",
    "verdicts_of",
    "window_rows",
]
