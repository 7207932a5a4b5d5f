"""What the office's pages read beyond the verdict's facts. Constant in queries whatever the number of rows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db.models import Q, QuerySet

from tickets.models import Answer, EvidenceEntry, Job, LocalRule, LocalRuleConfirmation, SiteSighting
from tickets.selectors import jobs_visible_to, jobs_with_facts, verdicts_of
from tickets.states import State
from tickets.verdict import Verdict


def jobs_list(
    person: Any, *, state: str = "", words: str = "", place: str = "", closed: bool = False
) -> QuerySet[Job]:
    """The jobs that a person may see, newest first: by the stored copy of the verdict, by words of number,
    title, customer or ticket, by town, county, street or state."""
    found = jobs_visible_to(person)
    if not closed:
        found = found.filter(closed_at=None)
    if state in set(State):
        found = found.filter(verdict_state=state)
    for word in words.split():
        with_ticket = Job.objects.filter(tickets__number__icontains=word).values("pk")
        found = found.filter(
            Q(number__icontains=word)
            | Q(title__icontains=word)
            | Q(customer__name__icontains=word)
            | Q(pk__in=with_ticket)
        )
    for word in place.split():
        found = found.filter(
            Q(site__town__icontains=word)
            | Q(site__county__icontains=word)
            | Q(site__street__icontains=word)
            | Q(site__state__iexact=word)
        )
    return found.order_by("-created_at", "-pk")


def with_verdicts(jobs: Sequence[Job], now: datetime) -> list[tuple[Job, Verdict]]:
    """The jobs in their order with the verdict at `now`: the stored copy may lag behind the clock, and a
    stale 'clear' must not be shown."""
    loaded = {job.pk: job for job in jobs_with_facts().filter(pk__in=[job.pk for job in jobs])}
    verdicts = verdicts_of(list(loaded.values()), now)
    return [(loaded[job.pk], verdicts[job.pk]) for job in jobs if job.pk in loaded]


def answers_by_operator(job: Job) -> dict[int, list[Answer]]:
    """Every answer on the job's tickets, the latest first, by operator."""
    found: dict[int, list[Answer]] = defaultdict(list)
    rows = Answer.objects.filter(operator__ticket__job=job).select_related("recorded_by")
    for answer in rows.order_by("-answered_at", "-pk"):
        found[answer.operator_id].append(answer)
    return found


def sightings_of(job: Job) -> QuerySet[SiteSighting]:
    return job.sightings.select_related("operator", "by").order_by("-seen_at", "-pk")


def confirmations_of(job: Job) -> dict[int, LocalRuleConfirmation]:
    """By local rule."""
    return {made.rule_id: made for made in job.local_rule_confirmations.select_related("confirmed_by")}


def visits_of(job: Job) -> QuerySet[Any]:
    """The crews' visits to the job, over the reverse relation: the crews' app stands above this one."""
    visits: QuerySet[Any] = job.visits.select_related("crew", "created_by")
    return visits.order_by("starts_at", "pk")


def evidence_of(job: Job) -> QuerySet[EvidenceEntry]:
    return job.evidence.select_related("actor").order_by("sequence", "pk")


def local_rules() -> QuerySet[LocalRule]:
    return LocalRule.objects.order_by("-active", "state", "county", "town", "name", "pk")
