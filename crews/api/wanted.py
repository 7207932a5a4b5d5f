"""Doors to wanted visits: what a plan is to find a day for. The office alone."""

from __future__ import annotations

from typing import Any, cast

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers, status
from rest_framework.decorators import action
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from crews.models import Person, PromisedWindow, VisitKind, WantedPriority, WantedVisit
from crews.services.wanted import change_wanted, drop_wanted, want_visit
from locates import clock
from locates.rest.fields import Instant
from locates.rest.roles import OfficeOnly
from locates.rest.views import Api
from tickets.models import Job


class PromiseSerializer(serializers.ModelSerializer):
    """A stretch in which the visit was promised to begin."""

    opens_at = Instant()
    closes_at = Instant()

    class Meta:
        model = PromisedWindow
        fields = ["opens_at", "closes_at"]


class WantedVisitSerializer(serializers.ModelSerializer):
    """A visit that a job needs. `visit` is what it became."""

    job_number = serializers.CharField(source="job.number", read_only=True)
    kind_words = serializers.CharField(source="get_kind_display", read_only=True)
    promised_from = Instant(read_only=True, allow_null=True)
    promised_until = Instant(read_only=True, allow_null=True)
    more_promises = PromiseSerializer(many=True, read_only=True)
    parts = serializers.DictField(child=serializers.IntegerField(), read_only=True)
    skills = serializers.ListField(child=serializers.CharField(), read_only=True)
    kit = serializers.ListField(child=serializers.CharField(), read_only=True)
    asked_at = Instant(read_only=True)
    dropped_at = Instant(read_only=True, allow_null=True)

    class Meta:
        model = WantedVisit
        fields = [
            "id",
            "job",
            "job_number",
            "kind",
            "kind_words",
            "minutes",
            "priority",
            "skills",
            "kit",
            "frequency_hz",
            "parts",
            "surface_only",
            "promised_from",
            "promised_until",
            "more_promises",
            "gap_least_hours",
            "gap_most_hours",
            "visit",
            "asked_at",
            "dropped_at",
        ]
        read_only_fields = fields


class ChangeWantedSerializer(serializers.Serializer):
    """Any of these; what is not named stays."""

    kind = serializers.ChoiceField(choices=VisitKind.choices, required=False)
    minutes = serializers.IntegerField(required=False)
    priority = serializers.ChoiceField(choices=WantedPriority.choices, required=False)
    skills = serializers.ListField(child=serializers.CharField(max_length=40), required=False)
    kit = serializers.ListField(
        child=serializers.CharField(max_length=16), required=False, help_text="Kinds of equipment; empty: the usual"
    )
    frequency_hz = serializers.IntegerField(required=False, allow_null=True)
    parts = serializers.DictField(
        child=serializers.IntegerField(), required=False, help_text="Pieces by the part's name"
    )
    surface_only = serializers.BooleanField(required=False, help_text="A restoration that moves no earth")
    promised_from = Instant(required=False, allow_null=True)
    promised_until = Instant(required=False, allow_null=True)
    more_promises = PromiseSerializer(many=True, required=False)
    gap_least_hours = serializers.IntegerField(required=False, help_text="After the end of the job's visit before it")
    gap_most_hours = serializers.IntegerField(required=False, allow_null=True)

    def wish(self) -> dict[str, Any]:
        """For the service."""
        given = dict(self.validated_data)
        if "more_promises" in given:
            given["more_promises"] = [(one["opens_at"], one["closes_at"]) for one in given["more_promises"]]
        return given


class NewWantedSerializer(ChangeWantedSerializer):
    """What asking for a visit needs."""

    job = serializers.PrimaryKeyRelatedField(queryset=Job.objects.all())
    kind = serializers.ChoiceField(choices=VisitKind.choices)
    minutes = serializers.IntegerField()


class WantedVisitViewSet(Api, mixins.ListModelMixin, mixins.RetrieveModelMixin, GenericViewSet):
    """Wanted visits; `visit__isnull=true&dropped_at__isnull=true` are those that still want a day."""

    serializer_class = WantedVisitSerializer
    permission_classes: list[type[BasePermission]] = [OfficeOnly]
    queryset = WantedVisit.objects.all()
    filterset_fields = {"job": ["exact"], "kind": ["exact"], "visit": ["isnull"], "dropped_at": ["isnull"]}
    ordering_fields = ["job", "id"]
    ordering = ["job", "id"]

    @property
    def person(self) -> Person:
        return cast(Person, self.request.user)

    def get_queryset(self) -> QuerySet[WantedVisit]:
        return WantedVisit.objects.select_related("job").prefetch_related("more_promises")

    def _one(self, pk: int, code: int = status.HTTP_200_OK) -> Response:
        return Response(self.get_serializer(self.get_queryset().get(pk=pk)).data, status=code)

    @extend_schema(request=NewWantedSerializer, responses={201: WantedVisitSerializer})
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        form = NewWantedSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        made = want_visit(**form.wish(), actor=self.person, now=clock.now())
        return self._one(made.pk, status.HTTP_201_CREATED)

    @extend_schema(request=ChangeWantedSerializer, responses=WantedVisitSerializer)
    def partial_update(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        form = ChangeWantedSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        wanted = change_wanted(wanted=self.get_object(), **form.wish(), actor=self.person, now=clock.now())
        return self._one(wanted.pk)

    @extend_schema(request=None, responses=WantedVisitSerializer)
    @action(detail=True, methods=["post"])
    def drop(self, request: Request, pk: str | None = None) -> Response:
        """It is not wanted any more; the row stays in the records."""
        return self._one(drop_wanted(wanted=self.get_object(), actor=self.person, now=clock.now()).pk)
