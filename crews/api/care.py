"""Doors to custody and care of one item; whoever holds it may use them, the services say how far."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from crews import services
from crews.api.care_shapes import (
    CareResultSerializer,
    CareStateSerializer,
    CustodyEventSerializer,
    LocateMadeSerializer,
    NewResultSerializer,
    StepSerializer,
)
from crews.api.serializers import EquipmentSerializer
from crews.models import Equipment, Person
from locates import clock
from locates.rest.roles import EveryRole

if TYPE_CHECKING:
    from rest_framework.viewsets import GenericViewSet

    Base = GenericViewSet
else:
    Base = object


class CareActions(Base):
    """Custody, results and history of an item."""

    person: Person

    @extend_schema(request=StepSerializer, responses=EquipmentSerializer)
    @action(detail=True, methods=["post"], permission_classes=[EveryRole])
    def step(self, request: Request, pk: str | None = None) -> Response:
        """Issued, returned, moved, sent away, lost, found, retired."""
        form = StepSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        item = services.move_item(item=self.get_object(), **form.validated_data, actor=self.person, now=clock.now())
        return self._item(item)

    @extend_schema(request=None, responses=EquipmentSerializer)
    @action(detail=True, methods=["post"], permission_classes=[EveryRole])
    def confirm(self, request: Request, pk: str | None = None) -> Response:
        """The crew has the item in its hands."""
        return self._item(services.confirm_hand_over(item=self.get_object(), actor=self.person, now=clock.now()))

    @extend_schema(request=NewResultSerializer, responses={201: CareResultSerializer})
    @action(detail=True, methods=["post"], permission_classes=[EveryRole])
    def results(self, request: Request, pk: str | None = None) -> Response:
        """Enter what a check found; a failure stops the item and doubts its locates."""
        form = NewResultSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        made = services.record_result(
            item=self.get_object(), **form.validated_data, actor=self.person, now=clock.now()
        )
        shape = CareResultSerializer(made.result, context={"in_doubt": [locate.pk for locate in made.in_doubt]})
        return Response(shape.data, status=status.HTTP_201_CREATED)

    @extend_schema(request=LocateMadeSerializer, responses=LocateMadeSerializer)
    @action(detail=True, methods=["post"], permission_classes=[EveryRole])
    def locates(self, request: Request, pk: str | None = None) -> Response:
        """A private locate was made with the item; past its day that puts the locate in doubt."""
        form = LocateMadeSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        made = form.validated_data["locate"]
        doubted = services.add_instrument(locate=made, item=self.get_object(), actor=self.person, now=clock.now())
        return Response(LocateMadeSerializer({"locate": made, "in_doubt": doubted}).data)

    @extend_schema(responses=CareStateSerializer(many=True), filters=False)
    @action(detail=True, methods=["get"], permission_classes=[EveryRole], pagination_class=None)
    def care(self, request: Request, pk: str | None = None) -> Response:
        """Where each care of the item stands."""
        item: Equipment = self.get_object()
        return Response(CareStateSerializer(item.care_states.all(), many=True).data)

    @extend_schema(responses=CustodyEventSerializer(many=True), filters=False)
    @action(detail=True, methods=["get"], permission_classes=[EveryRole])
    def custody(self, request: Request, pk: str | None = None) -> Response:
        """Where the item has been, the latest first; paged."""
        item: Equipment = self.get_object()
        page: Any = self.paginate_queryset(item.custody.order_by("-sequence"))
        return self.get_paginated_response(CustodyEventSerializer(page, many=True).data)

    def _item(self, item: Equipment) -> Response:
        found = Equipment.objects.select_related("crew", "person", "own_kind").get(pk=item.pk)
        return Response(self.get_serializer(found).data)
