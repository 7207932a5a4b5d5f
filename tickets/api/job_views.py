"""Doors to customers, sites and jobs, and to the verdict on a job."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from locates import clock
from locates.rest.roles import EveryRole, OfficeOnly
from tickets import evidence, selectors, services
from tickets.api.base import Register
from tickets.api.filters import CustomerFilter, JobFilter, SiteFilter
from tickets.api.forms import CustomerForm, DigAreaForm, JobCorrection, JobForm, ReasonForm, WorkForm
from tickets.api.shapes import (
    ChainShape,
    CustomerShape,
    JobDigArea,
    JobShape,
    SiteShape,
    VerdictShape,
    verdict_content,
)
from tickets.models import Customer, Job, Site
from tickets.verdict import Verdict


class CustomerViewSet(Register):
    """Customers. A crew member sees those of the own crew's jobs."""

    serializer_class = CustomerShape
    queryset = Customer.objects.all()
    filterset_class = CustomerFilter
    ordering_fields = ["name", "id"]
    ordering = ["name", "id"]

    def get_queryset(self) -> QuerySet[Customer]:
        return selectors.customers_visible_to(self.person)

    @extend_schema(request=CustomerForm, responses={201: CustomerShape})
    def create(self, request: Request) -> Response:
        made = services.create_customer(actor=self.person, now=clock.now(), **self.given(CustomerForm))
        return self.answer(made, created=True)

    @extend_schema(request=CustomerForm, responses=CustomerShape)
    def partial_update(self, request: Request, pk: str) -> Response:
        given = self.given(CustomerForm, partial=True)
        return self.answer(
            services.change_customer(customer=self.get_object(), actor=self.person, now=clock.now(), **given)
        )


class SiteViewSet(Register):
    """Sites that are on file; new ones come with a job."""

    http_method_names = ["get", "head", "options"]
    serializer_class = SiteShape
    queryset = Site.objects.all()
    filterset_class = SiteFilter
    ordering_fields = ["state", "town", "id"]
    ordering = ["state", "town", "id"]

    def get_queryset(self) -> QuerySet[Site]:
        return selectors.sites_visible_to(self.person)


class JobViewSet(Register):
    """Jobs, the newest first, each with the verdict of this instant. A crew member sees those to which the own
    crew has a visit."""

    serializer_class = JobShape
    queryset = Job.objects.all()
    filterset_class = JobFilter
    ordering_fields = ["created_at", "number", "verdict_next_change_at", "id"]
    ordering = ["-created_at", "-id"]

    def get_queryset(self) -> QuerySet[Job]:
        visible = selectors.jobs_visible_to(self.person).values("pk")
        return selectors.jobs_with_facts().filter(pk__in=visible)

    def get_serializer(self, jobs: Any = None, *args: Any, **kwargs: Any) -> Any:
        shown: Sequence[Job] = [jobs] if isinstance(jobs, Job) else list(jobs or ())
        context = {**self.get_serializer_context(), "verdicts": selectors.verdicts_of(shown, clock.now())}
        return JobShape(jobs, *args, **{**kwargs, "context": context})

    def _anew(self, job: Job, *, created: bool = False) -> Response:
        return self.answer(selectors.jobs_with_facts().get(pk=job.pk), created=created)

    @extend_schema(request=JobForm, responses={201: JobShape})
    def create(self, request: Request) -> Response:
        made = services.create_job(actor=self.person, now=clock.now(), **self.given(JobForm))
        return self._anew(made, created=True)

    @extend_schema(request=JobCorrection, responses=JobShape)
    def partial_update(self, request: Request, pk: str) -> Response:
        """Correct title, work or whether private lines are likely, with the reason."""
        given = self.given(JobCorrection)
        job = services.change_job(job=self.get_object(), actor=self.person, now=clock.now(), **given)
        return self._anew(job)

    @extend_schema(responses=VerdictShape, operation_id="jobs_verdict")
    @action(detail=True, methods=["get"])
    def verdict(self, request: Request, pk: str) -> Response:
        """May this crew dig here now; if not, when; with all reasons."""
        job, now = self.get_object(), clock.now()
        return _told(selectors.verdicts_of([job], now)[job.pk], now)

    @extend_schema(request=None, responses=VerdictShape)
    @action(detail=True, methods=["post"], url_path="verdict-seen", permission_classes=[EveryRole])
    def verdict_seen(self, request: Request, pk: str) -> Response:
        """Log that you have seen the verdict as it stands now."""
        now = clock.now()
        return _told(services.acknowledge_verdict(job=self.get_object(), actor=self.person, now=now), now)

    @extend_schema(request=DigAreaForm, responses={201: JobDigArea})
    @action(detail=True, methods=["post"], url_path="dig-areas")
    def dig_areas(self, request: Request, pk: str) -> Response:
        """Draw ground that the job opens."""
        given = self.given(DigAreaForm)
        area = services.add_dig_area(job=self.get_object(), actor=self.person, now=clock.now(), **given)
        return Response(JobDigArea(area).data, status=201)

    @extend_schema(request=WorkForm, responses=JobShape)
    @action(detail=True, methods=["post"], permission_classes=[EveryRole])
    def work(self, request: Request, pk: str) -> Response:
        """Note that work went on: the first time it begins the ticket, later it keeps it from lapsing."""
        given = self.given(WorkForm)
        job = services.note_work_begun(job=self.get_object(), actor=self.person, now=clock.now(), **given)
        return self._anew(job)

    @extend_schema(request=None, responses=JobShape)
    @action(detail=True, methods=["post"])
    def close(self, request: Request, pk: str) -> Response:
        """The work is over."""
        return self._anew(services.close_job(job=self.get_object(), actor=self.person, now=clock.now()))

    @extend_schema(request=ReasonForm, responses=JobShape)
    @action(detail=True, methods=["post"])
    def reopen(self, request: Request, pk: str) -> Response:
        """Work goes on after all."""
        given = self.given(ReasonForm)
        return self._anew(services.reopen_job(job=self.get_object(), actor=self.person, now=clock.now(), **given))

    @extend_schema(responses=ChainShape, operation_id="jobs_evidence_chain")
    @action(detail=True, methods=["get"], url_path="evidence-chain", permission_classes=[OfficeOnly])
    def evidence_chain(self, request: Request, pk: str) -> Response:
        """Recompute the job's chain of evidence and name the first break."""
        job = self.get_object()
        found = evidence.verify(job)
        told = {"holds": found is None, "entries": job.evidence_length, "first_break": found and str(found)}
        return Response(ChainShape(told).data)


def _told(found: Verdict, now: datetime) -> Response:
    return Response(VerdictShape(verdict_content(found, now)).data)
