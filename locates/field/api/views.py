"""Doors to runs and points."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import mixins
from rest_framework.decorators import action
from rest_framework.parsers import MultiPartParser
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from locates import clock
from locates.field import selectors, services
from locates.field.api.begin import RunStart, begin_run
from locates.field.api.shapes import PhotoForm, PhotoShape, PointForm, PointShape, RunFinish, RunShape
from locates.field.models import Run
from locates.ground.lengths import LengthUnit
from locates.rest.roles import EveryRole
from locates.rest.views import Api


class RunViewSet(Api, mixins.ListModelMixin, mixins.RetrieveModelMixin, GenericViewSet):
    """Locate runs, the latest first: what our own crews found, and what it is worth."""

    http_method_names = ["get", "post", "head", "options"]
    permission_classes: list[type[BasePermission]] = [EveryRole]
    serializer_class = RunShape
    queryset = Run.objects.all()
    filterset_fields = ["job", "method", "utility"]
    ordering_fields = ["begun_at", "id"]
    ordering = ["-begun_at", "-id"]

    def get_queryset(self) -> QuerySet[Run]:
        return selectors.runs_visible_to(self.request.user).prefetch_related("devices")

    @extend_schema(request=RunStart, responses={201: RunShape})
    def create(self, request: Request) -> Response:
        """A new run on an open job, also one begun on a phone while it had no connection."""
        form = RunStart(data=request.data, context={"person": request.user})
        form.is_valid(raise_exception=True)
        run = begin_run(dict(form.validated_data), person=request.user, now=clock.now())
        return Response(RunShape(self.get_queryset().get(pk=run.pk)).data, status=201)

    @extend_schema(request=RunFinish, responses={200: RunShape})
    @action(detail=True, methods=["post"], pagination_class=None, filterset_fields=None)
    def finish(self, request: Request, pk: str) -> Response:
        """No more points; the job's private locate as a whole when the person says so."""
        form = RunFinish(data=request.data)
        form.is_valid(raise_exception=True)
        run = services.finish_run(run=self.get_object(), actor=request.user, now=clock.now(), **form.validated_data)
        return Response(RunShape(self.get_queryset().get(pk=run.pk)).data)

    @extend_schema(request=PointForm, responses={201: PointShape})
    @action(detail=True, methods=["post"], pagination_class=None, filterset_fields=None)
    def points(self, request: Request, pk: str) -> Response:
        """The next point of an open run, one at a time."""
        form = PointForm(data=request.data)
        form.is_valid(raise_exception=True)
        given: dict[str, Any] = dict(form.validated_data)
        client_id = given.pop("client_id")
        given["unit"] = LengthUnit(given["unit"])
        point = services.add_point(
            run=self.get_object(),
            client_id=client_id,
            given=services.PointGiven(**given),
            actor=request.user,
            now=clock.now(),
        )
        return Response(PointShape(point).data, status=201)

    @extend_schema(request={"multipart/form-data": PhotoForm}, responses={201: PhotoShape})
    @action(
        detail=True,
        methods=["post"],
        pagination_class=None,
        filterset_fields=None,
        parser_classes=[MultiPartParser],
    )
    def photos(self, request: Request, pk: str) -> Response:
        """One photo, also of a run that was finished."""
        form = PhotoForm(data=request.data)
        form.is_valid(raise_exception=True)
        given = form.validated_data
        photo = services.add_photo(
            run=self.get_object(),
            client_id=given["client_id"],
            content=given["photo"].read(services.LARGEST_BYTES + 1),
            words=given["words"],
            point_number=given.get("point_number"),
            point_client_id=given.get("point_client_id"),
            actor=request.user,
            now=clock.now(),
        )
        return Response(PhotoShape(photo).data, status=201)
