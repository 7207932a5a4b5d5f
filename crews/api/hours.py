"""Doors to crews' weeks, homes, days off, spare parts and the weights of plans. The office alone."""

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

from crews.gather_plan.shifts import USUAL_BREAK_MINUTES, USUAL_OVERTIME_MINUTES, Hours, home_of, hours_of
from crews.models import WEEKDAYS, Crew, DayOff, Person, ShiftPlace
from crews.selectors import today_of
from crews.services.hours import add_day_off, drop_home, end_day_off, set_home, set_hours
from locates import clock
from locates.rest.roles import OfficeOnly
from locates.rest.views import Api


class HoursSerializer(serializers.Serializer):
    """One shift of the week, on the clock of the crew's yard; 0 is Monday."""

    weekday = serializers.ChoiceField(choices=WEEKDAYS)
    starts = serializers.TimeField()
    ends = serializers.TimeField()
    break_minutes = serializers.IntegerField(default=USUAL_BREAK_MINUTES)
    overtime_minutes = serializers.IntegerField(default=USUAL_OVERTIME_MINUTES, help_text="At most, beyond the end")
    begins_from = serializers.ChoiceField(choices=ShiftPlace.choices, default=ShiftPlace.YARD)
    ends_back_at = serializers.ChoiceField(choices=ShiftPlace.choices, default=ShiftPlace.YARD)


class HomeSerializer(serializers.Serializer):
    """Where the truck stands overnight when it does not go to the yard."""

    latitude = serializers.FloatField()
    longitude = serializers.FloatField()


class CrewWeekSerializer(serializers.ModelSerializer):
    """A crew's week; `usual` tells that none is on file and plans take the usual hours."""

    hours = serializers.SerializerMethodField()
    usual = serializers.SerializerMethodField()
    home = serializers.SerializerMethodField()

    class Meta:
        model = Crew
        fields = ["id", "name", "time_zone", "usual", "hours", "home"]
        read_only_fields = fields

    @extend_schema(responses=HoursSerializer(many=True))
    def get_hours(self, crew: Crew) -> list[dict[str, Any]]:
        return [dict(HoursSerializer(one._asdict()).data) for one in hours_of(crew)]

    def get_usual(self, crew: Crew) -> bool:
        return not crew.shifts.all()

    def get_home(self, crew: Crew) -> dict[str, float] | None:
        home = home_of(crew)
        return None if home is None else {"latitude": home.latitude, "longitude": home.longitude}


class SetWeekSerializer(serializers.Serializer):
    """The whole week in place of the one on file; an empty list means the usual hours again."""

    hours = HoursSerializer(many=True, allow_empty=True)


class SetHomeSerializer(serializers.Serializer):
    """A position, or null for none."""

    home = HomeSerializer(allow_null=True)


class CrewWeekViewSet(Api, mixins.ListModelMixin, mixins.RetrieveModelMixin, GenericViewSet):
    """Each active crew's week and home."""

    serializer_class = CrewWeekSerializer
    permission_classes: list[type[BasePermission]] = [OfficeOnly]
    queryset = Crew.objects.all()
    ordering_fields = ["name", "id"]
    ordering = ["name", "id"]

    @property
    def person(self) -> Person:
        return cast(Person, self.request.user)

    def get_queryset(self) -> QuerySet[Crew]:
        return Crew.objects.filter(active=True).select_related("home").prefetch_related("shifts")

    def _one(self, pk: int) -> Response:
        return Response(self.get_serializer(self.get_queryset().get(pk=pk)).data)

    @extend_schema(request=SetWeekSerializer, responses=CrewWeekSerializer)
    def update(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Set the whole week."""
        form = SetWeekSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        crew = self.get_object()
        set_hours(crew=crew, hours=[Hours(**one) for one in form.validated_data["hours"]], actor=self.person)
        return self._one(crew.pk)

    @extend_schema(request=SetHomeSerializer, responses=CrewWeekSerializer)
    @action(detail=True, methods=["put"])
    def home(self, request: Request, pk: str | None = None) -> Response:
        """Set the home, or with null take it away."""
        form = SetHomeSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        crew, where = self.get_object(), form.validated_data["home"]
        if where is None:
            drop_home(crew=crew, actor=self.person)
        else:
            set_home(crew=crew, **where, actor=self.person)
        return self._one(crew.pk)


class DayOffSerializer(serializers.ModelSerializer):
    """A day on which a crew does not work."""

    crew_name = serializers.CharField(source="crew.name", read_only=True)
    crew = serializers.PrimaryKeyRelatedField(queryset=Crew.objects.filter(active=True))
    reason = serializers.CharField(required=False, allow_blank=True, max_length=120)

    class Meta:
        model = DayOff
        fields = ["id", "crew", "crew_name", "on", "reason"]
        validators: list[Any] = []  # the service says who has the day off already


class DayOffViewSet(Api, mixins.ListModelMixin, mixins.RetrieveModelMixin, GenericViewSet):
    """Days off. Deleting one means that the crew works that day after all."""

    serializer_class = DayOffSerializer
    permission_classes: list[type[BasePermission]] = [OfficeOnly]
    queryset = DayOff.objects.all()
    filterset_fields = {"crew": ["exact"], "on": ["exact", "gte", "lte"]}
    ordering_fields = ["on", "id"]
    ordering = ["on", "id"]

    @property
    def person(self) -> Person:
        return cast(Person, self.request.user)

    def get_queryset(self) -> QuerySet[DayOff]:
        return DayOff.objects.select_related("crew")

    @extend_schema(request=DayOffSerializer, responses={201: DayOffSerializer})
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """A crew is off that day, sick or for another reason."""
        form = DayOffSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        given = form.validated_data
        made = add_day_off(**given, today=today_of(given["crew"], clock.now()), actor=self.person)
        return Response(self.get_serializer(made).data, status=status.HTTP_201_CREATED)

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Not off after all."""
        end_day_off(day_off=self.get_object(), actor=self.person)
        return Response(status=status.HTTP_204_NO_CONTENT)
