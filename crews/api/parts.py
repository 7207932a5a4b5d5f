"""Doors to spare parts, and to what plans are weighed by. The office alone; the owner sets the weights."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import Any, cast

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers, status
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from crews import services
from crews.models import Person, SparePart
from crews.planning.problem import Weights
from crews.services.parts import add_part, drop_part, set_stock
from crews.services.plans import LARGEST_WEIGHT, weights_used_now
from locates import clock
from locates.rest.roles import OfficeOnly
from locates.rest.views import Api


class OnTruckSerializer(serializers.Serializer):
    """Pieces on one crew's truck."""

    crew = serializers.IntegerField()
    pieces = serializers.IntegerField()


class SparePartSerializer(serializers.ModelSerializer):
    """A part, how many pieces ride on each truck, and which yards keep it."""

    name = serializers.CharField(max_length=60)
    on_trucks = serializers.SerializerMethodField()
    at_yards = serializers.SerializerMethodField()

    class Meta:
        model = SparePart
        fields = ["id", "name", "on_trucks", "at_yards"]

    @extend_schema(responses=OnTruckSerializer(many=True))
    def get_on_trucks(self, part: SparePart) -> list[dict[str, int]]:
        return [{"crew": row.crew_id, "pieces": row.pieces} for row in part.on_trucks.all()]

    def get_at_yards(self, part: SparePart) -> list[str]:
        return [row.yard_name for row in part.at_yards.all()]


class SetStockSerializer(serializers.Serializer):
    """The part's whole stock in place of the one on file."""

    on_trucks = OnTruckSerializer(many=True)
    at_yards = serializers.ListField(child=serializers.CharField(max_length=120))


class SparePartViewSet(Api, mixins.ListModelMixin, mixins.RetrieveModelMixin, GenericViewSet):
    """Spare parts. Putting one sets its whole stock."""

    serializer_class = SparePartSerializer
    permission_classes: list[type[BasePermission]] = [OfficeOnly]
    queryset = SparePart.objects.all()
    ordering_fields = ["name", "id"]
    ordering = ["name", "id"]

    @property
    def person(self) -> Person:
        return cast(Person, self.request.user)

    def get_queryset(self) -> QuerySet[SparePart]:
        return SparePart.objects.prefetch_related("on_trucks", "at_yards")

    def _one(self, pk: int, code: int = status.HTTP_200_OK) -> Response:
        return Response(self.get_serializer(self.get_queryset().get(pk=pk)).data, status=code)

    @extend_schema(request=SparePartSerializer, responses={201: SparePartSerializer})
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """A new part, nowhere in stock yet."""
        form = SparePartSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        made = add_part(**form.validated_data, actor=self.person)
        return self._one(made.pk, status.HTTP_201_CREATED)

    @extend_schema(request=SetStockSerializer, responses=SparePartSerializer)
    def update(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Set where it is."""
        form = SetStockSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        given = form.validated_data
        on_trucks = {row["crew"]: row["pieces"] for row in given["on_trucks"]}
        part = self.get_object()
        set_stock(part=part, on_trucks=on_trucks, at_yards=given["at_yards"], actor=self.person)
        return self._one(part.pk)

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Off the list; refused (409) while a wanted visit asks for it."""
        drop_part(part=self.get_object(), actor=self.person)
        return Response(status=status.HTTP_204_NO_CONTENT)


class PlanWeightsSerializer(serializers.Serializer):
    """What plans are weighed by: whole numbers, a second of driving costing `drive`."""

    def get_fields(self) -> dict[str, Any]:
        return {
            one.name: serializers.IntegerField(min_value=0, max_value=LARGEST_WEIGHT, required=False)
            for one in fields(Weights)
        }


class PlanWeightsView(Api):
    """The weights that the next plan is computed with."""

    permission_classes: list[type[BasePermission]] = [OfficeOnly]

    @extend_schema(operation_id="plan_weights", responses=PlanWeightsSerializer)
    def get(self, request: Request) -> Response:
        return Response(asdict(weights_used_now()))

    @extend_schema(operation_id="set_plan_weights", request=PlanWeightsSerializer, responses=PlanWeightsSerializer)
    def patch(self, request: Request) -> Response:
        """The owner's alone (else 403)."""
        form = PlanWeightsSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        services.set_weights(actor=cast(Person, request.user), now=clock.now(), **form.validated_data)
        return Response(asdict(weights_used_now()))
