"""Doors to plans: asked for, watched, accepted whole or visit by visit. The office alone."""

from __future__ import annotations

from typing import Any, cast

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import mixins, serializers, status
from rest_framework.decorators import action
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from crews import services
from crews.models import Crew, Person, Plan, PlanStop
from crews.services.plans import SECONDS, WORKING_DAYS
from locates import clock
from locates.rest.fields import Instant
from locates.rest.roles import OfficeOnly
from locates.rest.views import Api


class PlanStopSerializer(serializers.ModelSerializer):
    """A stop of a crew's day; `key` names the visit in words, empty for a break or a call at the yard."""

    crew_name = serializers.CharField(source="crew.name", read_only=True)
    job_number = serializers.CharField(source="job.number", read_only=True, default=None)
    starts_at = Instant(read_only=True)
    ends_at = Instant(read_only=True)
    accepted_at = Instant(read_only=True, allow_null=True)

    class Meta:
        model = PlanStop
        fields = [
            "id",
            "stop",
            "key",
            "crew",
            "crew_name",
            "shift",
            "job",
            "job_number",
            "kind",
            "visit",
            "starts_at",
            "ends_at",
            "drive_s",
            "latitude",
            "longitude",
            "pinned",
            "needs_renewal",
            "promise_kept",
            "assumes",
            "moved",
            "fetches",
            "accepted_at",
        ]
        read_only_fields = fields


class LeftOutShape(serializers.Serializer):
    """A visit without a place in the plan, and why."""

    key = serializers.CharField()
    job = serializers.IntegerField()
    reason = serializers.CharField()
    words = serializers.CharField()
    stands = serializers.CharField(allow_blank=True, help_text="Empty, or what becomes of the visit it has")
    visit = serializers.IntegerField(allow_null=True)


class PlanSerializer(serializers.ModelSerializer):
    """A plan: how far it is while it is computed, then the proposal's sums and what is left out."""

    asked_at = Instant(read_only=True)
    computed_at = Instant(read_only=True, allow_null=True)
    state_words = serializers.CharField(source="get_state_display", read_only=True)
    unplanned = serializers.SerializerMethodField()

    class Meta:
        model = Plan
        fields = [
            "id",
            "state",
            "state_words",
            "asked_by",
            "asked_at",
            "working_days",
            "seconds",
            "phase",
            "best_cost",
            "left_s",
            "failure",
            "computed_at",
            "weights",
            "before",
            "after",
            "unplanned",
            "notes",
        ]
        read_only_fields = fields

    @extend_schema_field(LeftOutShape(many=True))
    def get_unplanned(self, plan: Plan) -> list[dict[str, Any]]:
        return cast(list[dict[str, Any]], plan.unplanned)


class WholePlanSerializer(PlanSerializer):
    """The plan with every stop."""

    stops = PlanStopSerializer(many=True, read_only=True)

    class Meta(PlanSerializer.Meta):
        fields = [*PlanSerializer.Meta.fields, "stops"]
        read_only_fields = fields


class AskPlanSerializer(serializers.Serializer):
    """How far ahead, and how long to search."""

    working_days = serializers.ChoiceField(choices=WORKING_DAYS, default=5)
    seconds = serializers.ChoiceField(choices=SECONDS, default=10)


class ChangeStopSerializer(serializers.Serializer):
    """Another crew or start for one visit of a proposal."""

    crew = serializers.PrimaryKeyRelatedField(queryset=Crew.objects.all(), required=False)
    starts_at = Instant()


class PinStopSerializer(serializers.Serializer):
    """Whether later plans leave the visit where it is."""

    pinned = serializers.BooleanField()


class PlanViewSet(Api, mixins.ListModelMixin, mixins.RetrieveModelMixin, GenericViewSet):
    """Plans, the newest first. A plan is a proposal until it is accepted; what is accepted becomes visits."""

    serializer_class = PlanSerializer
    permission_classes: list[type[BasePermission]] = [OfficeOnly]
    queryset = Plan.objects.all()
    filterset_fields = ["state"]
    ordering_fields = ["asked_at", "id"]
    ordering = ["-asked_at", "-id"]

    @property
    def person(self) -> Person:
        return cast(Person, self.request.user)

    def get_queryset(self) -> QuerySet[Plan]:
        stops = PlanStop.objects.select_related("crew", "job").order_by("starts_at", "pk")
        return Plan.objects.prefetch_related(Prefetch("stops", stops))

    def _whole(self, pk: int, code: int = status.HTTP_200_OK) -> Response:
        return Response(WholePlanSerializer(self.get_queryset().get(pk=pk)).data, status=code)

    @extend_schema(responses=WholePlanSerializer)
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return self._whole(self.get_object().pk)

    @extend_schema(request=AskPlanSerializer, responses={201: WholePlanSerializer})
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Ask for a plan; the worker computes it. Read it again to see how far it is."""
        form = AskPlanSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        plan = services.ask_plan(actor=self.person, now=clock.now(), **form.validated_data)
        return self._whole(plan.pk, status.HTTP_201_CREATED)

    @extend_schema(request=None, responses=WholePlanSerializer)
    @action(detail=True, methods=["post"])
    def accept(self, request: Request, pk: str | None = None) -> Response:
        """Accept the whole proposal, or nothing (409 with what stands in the way). What needs a renewal first
        stays proposed (`accepted_at` null)."""
        plan = self.get_object()
        services.accept_plan(plan=plan, actor=self.person, now=clock.now())
        return self._whole(plan.pk)

    @extend_schema(request=None, responses=WholePlanSerializer)
    @action(detail=True, methods=["post"], url_path="call-off")
    def call_off(self, request: Request, pk: str | None = None) -> Response:
        """Stop the computing."""
        plan = self.get_object()
        services.call_off_plan(plan=plan, actor=self.person)
        return self._whole(plan.pk)

    @extend_schema(request=None, responses=WholePlanSerializer)
    @action(detail=True, methods=["post"], url_path="set-aside")
    def set_aside(self, request: Request, pk: str | None = None) -> Response:
        """The proposal is not wanted; what was accepted of it stays."""
        plan = self.get_object()
        services.set_aside_plan(plan=plan, actor=self.person)
        return self._whole(plan.pk)

    @extend_schema(request=PinStopSerializer, responses=WholePlanSerializer)
    @action(detail=True, methods=["post"], url_path=r"stops/(?P<stop_id>[0-9]+)/pin")
    def pin_stop(self, request: Request, pk: str | None = None, stop_id: str = "") -> Response:
        """Pin one visit where it stands, or take the pin off; it counts once the visit is accepted."""
        plan = self.get_object()
        stop = get_object_or_404(PlanStop, plan=plan, pk=stop_id)
        form = PinStopSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        services.pin_stop(stop=stop, **form.validated_data, actor=self.person)
        return self._whole(plan.pk)

    @extend_schema(request=None, responses=WholePlanSerializer)
    @action(detail=True, methods=["post"], url_path=r"stops/(?P<stop_id>[0-9]+)/accept")
    def accept_stop(self, request: Request, pk: str | None = None, stop_id: str = "") -> Response:
        """Accept one visit of the proposal."""
        plan = self.get_object()
        stop = get_object_or_404(PlanStop, plan=plan, pk=stop_id)
        services.accept_stop(stop=stop, actor=self.person, now=clock.now())
        return self._whole(plan.pk)

    @extend_schema(request=ChangeStopSerializer, responses=WholePlanSerializer)
    @action(detail=True, methods=["post"], url_path=r"stops/(?P<stop_id>[0-9]+)/move")
    def move_stop(self, request: Request, pk: str | None = None, stop_id: str = "") -> Response:
        """Move one visit of the proposal; refused (409) where it would not be lawful or would not fit."""
        plan = self.get_object()
        stop = get_object_or_404(PlanStop.objects.select_related("crew"), plan=plan, pk=stop_id)
        form = ChangeStopSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        crew = form.validated_data.get("crew", stop.crew)
        at = form.validated_data["starts_at"]
        services.move_stop(stop=stop, crew=crew, starts_at=at, actor=self.person, now=clock.now())
        return self._whole(plan.pk)
