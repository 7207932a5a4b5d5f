"""Doors to what was seen and done on site, to local rules, the evidence log and the follow-ups."""

from __future__ import annotations

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from locates import clock
from tickets import selectors, services
from tickets.api.base import FieldRegister, Register
from tickets.api.filters import (
    EmergencyFilter,
    EvidenceFilter,
    FollowUpFilter,
    LocalRuleFilter,
    PrivateLocateFilter,
    SightingFilter,
)
from tickets.api.forms import (
    ConfirmationForm,
    EmergencyForm,
    LocalRuleForm,
    PrivateLocateForm,
    ReasonForm,
    SightingForm,
    ToldForm,
)
from tickets.api.shapes import (
    EmergencyShape,
    EvidenceShape,
    FollowUpShape,
    LocalRuleShape,
    PrivateLocateShape,
    SightingShape,
)
from tickets.models import EmergencyDig, EvidenceEntry, FollowUp, LocalRule, PrivateLocate, SiteSighting

READ_ONLY = ["get", "head", "options"]
ADD_ONLY = ["get", "post", "head", "options"]


class SightingViewSet(FieldRegister):
    """What the crews saw of the marks, the latest first."""

    http_method_names = ADD_ONLY
    serializer_class = SightingShape
    queryset = SiteSighting.objects.all()
    filterset_class = SightingFilter
    ordering_fields = ["seen_at", "id"]
    ordering = ["-seen_at", "-id"]

    def get_queryset(self) -> QuerySet[SiteSighting]:
        return selectors.sightings_visible_to(self.person).select_related("operator", "by")

    @extend_schema(request=SightingForm, responses={201: SightingShape})
    def create(self, request: Request) -> Response:
        made = services.record_sighting(actor=self.person, now=clock.now(), **self.given(SightingForm))
        return self.answer(made, created=True)


class PrivateLocateViewSet(FieldRegister):
    """The company's own locates, and the office's word that none is needed."""

    http_method_names = ADD_ONLY
    serializer_class = PrivateLocateShape
    queryset = PrivateLocate.objects.all()
    filterset_class = PrivateLocateFilter
    ordering_fields = ["made_at", "id"]
    ordering = ["-made_at", "-id"]

    def get_queryset(self) -> QuerySet[PrivateLocate]:
        return selectors.private_locates_visible_to(self.person).select_related("by")

    @extend_schema(request=PrivateLocateForm, responses={201: PrivateLocateShape})
    def create(self, request: Request) -> Response:
        given = self.given(PrivateLocateForm)
        record = services.waive_private_locate if "reason" in given else services.record_private_locate
        return self.answer(record(actor=self.person, now=clock.now(), **given), created=True)


class EmergencyViewSet(FieldRegister):
    """Emergency digs. Anyone on the job may declare one; it is closed once the centre has been told."""

    http_method_names = ADD_ONLY
    serializer_class = EmergencyShape
    queryset = EmergencyDig.objects.all()
    filterset_class = EmergencyFilter
    ordering_fields = ["declared_at", "id"]
    ordering = ["-declared_at", "-id"]

    def get_queryset(self) -> QuerySet[EmergencyDig]:
        return selectors.emergencies_visible_to(self.person).select_related("declared_by")

    @extend_schema(request=EmergencyForm, responses={201: EmergencyShape})
    def create(self, request: Request) -> Response:
        made = services.declare_emergency(actor=self.person, now=clock.now(), **self.given(EmergencyForm))
        return self.answer(made, created=True)

    @extend_schema(request=ToldForm, responses=EmergencyShape)
    @action(detail=True, methods=["post"])
    def told(self, request: Request, pk: str) -> Response:
        """When the notification centre or the operators were told."""
        given = self.given(ToldForm)
        dig = services.note_emergency_told(emergency=self.get_object(), actor=self.person, now=clock.now(), **given)
        return self.answer(dig)

    @extend_schema(request=None, responses=EmergencyShape)
    @action(detail=True, methods=["post"])
    def close(self, request: Request, pk: str) -> Response:
        """The danger is over."""
        dig = services.close_emergency(emergency=self.get_object(), actor=self.person, now=clock.now())
        return self.answer(dig)


class LocalRuleViewSet(Register):
    """The company's stricter local rules. They can lengthen the wait or ask for something, never shorten."""

    http_method_names = ADD_ONLY
    serializer_class = LocalRuleShape
    queryset = LocalRule.objects.all()
    filterset_class = LocalRuleFilter
    ordering_fields = ["state", "name", "id"]
    ordering = ["state", "county", "town", "name", "id"]

    @extend_schema(request=LocalRuleForm, responses={201: LocalRuleShape})
    def create(self, request: Request) -> Response:
        made = services.create_local_rule(actor=self.person, now=clock.now(), **self.given(LocalRuleForm))
        return self.answer(made, created=True)

    @extend_schema(request=ReasonForm, responses=LocalRuleShape)
    @action(detail=True, methods=["post"])
    def end(self, request: Request, pk: str) -> Response:
        """The rule no longer holds; it stays on file."""
        given = self.given(ReasonForm)
        rule = services.end_local_rule(rule=self.get_object(), actor=self.person, now=clock.now(), **given)
        return self.answer(rule)

    @extend_schema(request=ConfirmationForm, responses=LocalRuleShape)
    @action(detail=True, methods=["post"])
    def confirm(self, request: Request, pk: str) -> Response:
        """Your word that the rule's requirement is met for a job."""
        rule = self.get_object()
        services.confirm_local_rule(rule=rule, actor=self.person, now=clock.now(), **self.given(ConfirmationForm))
        return self.answer(rule)


class EvidenceViewSet(Register):
    """The evidence log, by job in order. The database refuses every change to it."""

    http_method_names = READ_ONLY
    serializer_class = EvidenceShape
    queryset = EvidenceEntry.objects.all()
    filterset_class = EvidenceFilter
    ordering_fields = ["at", "sequence", "id"]
    ordering = ["job_id", "sequence"]

    def get_queryset(self) -> QuerySet[EvidenceEntry]:
        return selectors.evidence_visible_to(self.person).select_related("job", "actor")


class FollowUpViewSet(Register):
    """What falls due and when, soonest first; superseded ones are left out."""

    http_method_names = READ_ONLY
    serializer_class = FollowUpShape
    queryset = FollowUp.objects.all()
    filterset_class = FollowUpFilter
    ordering_fields = ["due_at", "id"]
    ordering = ["due_at", "id"]

    def get_queryset(self) -> QuerySet[FollowUp]:
        found = selectors.follow_ups_visible_to(self.person).filter(superseded_at=None)
        return found.select_related("job", "ticket")
