"""Doors to crews, people, equipment and visits: shape checked here, rules and writes in the services."""

from __future__ import annotations

from typing import Any, cast

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, status
from rest_framework.decorators import action
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer
from rest_framework.viewsets import GenericViewSet

from crews import selectors, services
from crews.api.care import CareActions
from crews.api.filters import EquipmentFilter, PersonFilter, VisitFilter
from crews.api.serializers import (
    CancelVisitSerializer,
    ChangeVisitSerializer,
    CrewSerializer,
    EquipmentSerializer,
    MeSerializer,
    NewVisitSerializer,
    PersonSerializer,
    VisitSerializer,
)
from crews.models import Crew, Equipment, Person, Visit
from locates import clock
from locates.rest.roles import EveryRole, OfficeWrites, OwnerOnly, OwnerWrites
from locates.rest.views import Api


class Register(
    Api,
    mixins.ListModelMixin,
    mixins.RetrieveModelMixin,
    mixins.CreateModelMixin,
    mixins.UpdateModelMixin,
    GenericViewSet,
):
    """A list that is read, added to and corrected, never deleted from."""

    http_method_names = ["get", "post", "patch", "head", "options"]

    @property
    def person(self) -> Person:
        return cast(Person, self.request.user)


class CrewViewSet(Register):
    """Crews. The owner writes; a crew member sees the own crew."""

    serializer_class = CrewSerializer
    permission_classes: list[type[BasePermission]] = [OwnerWrites]
    queryset = Crew.objects.all()
    filterset_fields = ["active"]
    ordering_fields = ["name", "id"]
    ordering = ["name", "id"]

    def get_queryset(self) -> QuerySet[Crew]:
        return selectors.crews_visible_to(self.person)

    def perform_create(self, serializer: BaseSerializer) -> None:
        given = dict(serializer.validated_data)
        given.pop("active", None)
        serializer.instance = services.add_crew(**given, actor=self.person)

    def perform_update(self, serializer: BaseSerializer) -> None:
        serializer.instance = services.change_crew(
            crew=cast(Crew, serializer.instance),
            actor=self.person,
            now=clock.now(),
            **serializer.validated_data,
        )


class PersonViewSet(Register):
    """People with a log-in. The owner's alone; `is_active` false ends a log-in."""

    serializer_class = PersonSerializer
    permission_classes: list[type[BasePermission]] = [OwnerOnly]
    queryset = Person.objects.all()
    filterset_class = PersonFilter
    ordering_fields = ["username", "role", "id"]
    ordering = ["username", "id"]

    def get_queryset(self) -> QuerySet[Person]:
        return selectors.people()

    def perform_create(self, serializer: BaseSerializer) -> None:
        given = {"password": "", **serializer.validated_data}
        given.pop("is_active", None)
        serializer.instance = services.add_person(**given, actor=self.person)

    def perform_update(self, serializer: BaseSerializer) -> None:
        given = dict(serializer.validated_data)
        password = given.pop("password", None)
        person = cast(Person, serializer.instance)
        if given:
            person = services.change_person(person=person, actor=self.person, **given)
        if password is not None:
            services.set_password(person=person, password=password, actor=self.person)
        serializer.instance = person


class EquipmentViewSet(CareActions, Register):
    """The register, the longest overdue first. A crew member sees what the own crew holds. Entries and
    certificates are the owner's; the holder and what is out of service the office's."""

    serializer_class = EquipmentSerializer
    permission_classes: list[type[BasePermission]] = [OfficeWrites]
    queryset = Equipment.objects.all()
    filterset_class = EquipmentFilter
    ordering_fields = ["due_on", "calibration_due_on", "name", "kind", "serial", "id"]

    def get_queryset(self) -> QuerySet[Equipment]:
        return selectors.equipment_visible_to(self.person).order_by(*selectors.DUE_FIRST)

    def get_serializer_context(self) -> dict[str, Any]:
        return {**super().get_serializer_context(), "today": selectors.company_today(clock.now())}

    def perform_create(self, serializer: BaseSerializer) -> None:
        given = dict(serializer.validated_data)
        reason = given.pop("out_of_service_reason", "")
        item = services.add_equipment(**given, actor=self.person)
        if reason:
            item = services.take_out_of_service(item=item, reason=reason, actor=self.person)
        serializer.instance = item

    def perform_update(self, serializer: BaseSerializer) -> None:
        given = dict(serializer.validated_data)
        item, actor = cast(Equipment, serializer.instance), self.person
        if "crew" in given:
            item = services.hand_over_equipment(item=item, crew=given.pop("crew"), actor=actor)
        if "calibration_due_on" in given:
            due = given.pop("calibration_due_on")
            item = services.set_calibration_due(item=item, due_on=due, actor=actor)
        if "out_of_service_reason" in given:
            reason = given.pop("out_of_service_reason")
            if reason:
                item = services.take_out_of_service(item=item, reason=reason, actor=actor)
            else:
                item = services.return_to_service(item=item, actor=actor)
        if given:
            item = services.change_equipment(item=item, actor=actor, **given)
        serializer.instance = item


class VisitViewSet(Register):
    """Visits by start. A dig outside its lawful window is refused (409) with the first lawful instant; so is a visit
    whose crew has nothing that may go out that day of what it needs (409, `kit_unavailable`), naming each item."""

    serializer_class = VisitSerializer
    permission_classes: list[type[BasePermission]] = [OfficeWrites]
    queryset = Visit.objects.all()
    filterset_class = VisitFilter
    ordering_fields = ["starts_at", "crew", "id"]
    ordering = ["starts_at", "id"]

    def get_queryset(self) -> QuerySet[Visit]:
        return selectors.visits_visible_to(self.person)

    @extend_schema(request=NewVisitSerializer, responses={201: VisitSerializer})
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        form = NewVisitSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        visit = services.schedule_visit(**form.validated_data, actor=self.person, now=clock.now())
        return Response(self.get_serializer(visit).data, status=status.HTTP_201_CREATED)

    @extend_schema(request=ChangeVisitSerializer, responses=VisitSerializer)
    def partial_update(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        visit: Visit = self.get_object()
        form = ChangeVisitSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        given = dict(form.validated_data)
        words = {name: given.pop(name) for name in ("note", "pinned") if name in given}
        if given:
            visit = services.move_visit(visit=visit, actor=self.person, now=clock.now(), **given)
        if words:
            visit = services.change_visit_note(visit=visit, actor=self.person, **words)
        return Response(self.get_serializer(visit).data)

    @extend_schema(request=CancelVisitSerializer, responses=VisitSerializer)
    @action(detail=True, methods=["post"])
    def cancel(self, request: Request, pk: str | None = None) -> Response:
        """Take the visit off the day; it stays in the records."""
        form = CancelVisitSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        visit = services.cancel_visit(
            visit=self.get_object(), **form.validated_data, actor=self.person, now=clock.now()
        )
        return Response(self.get_serializer(visit).data)


class MeView(Api):
    """Who is logged in, with role and crew."""

    permission_classes: list[type[BasePermission]] = [EveryRole]

    @extend_schema(operation_id="me", responses=MeSerializer)
    def get(self, request: Request) -> Response:
        return Response(MeSerializer(request.user).data)
