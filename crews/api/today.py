"""One call for a crew's phone: the day's sites with verdict first, and what the crew holds."""

from __future__ import annotations

from typing import cast

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.response import Response

from crews import selectors
from crews.api.day_shapes import CrewDayShape
from crews.day_content import day_content
from crews.models import Crew, Person
from locates import clock
from locates.rest.roles import EveryRole
from locates.rest.views import Api


class AskedDay(serializers.Serializer):
    """Which crew's day is asked for."""

    crew = serializers.IntegerField(required=False, help_text="Left out: the own crew")
    date = serializers.DateField(required=False, help_text="Local day of the crew; left out: today")


class TodayView(Api):
    """A crew's sites of one day with verdict, reasons, window, answers, dig areas, tolerance zone, cautions,
    and the equipment the crew holds. A crew member sees the own crew's day only."""

    permission_classes: list[type[BasePermission]] = [EveryRole]

    @extend_schema(
        operation_id="today",
        parameters=[
            OpenApiParameter("crew", int, description="Left out: the own crew"),
            OpenApiParameter("date", str, description="Local day of the crew as 2026-09-17; left out: today"),
        ],
        responses=CrewDayShape,
    )
    def get(self, request: Request) -> Response:
        asked = AskedDay(data=request.query_params)
        asked.is_valid(raise_exception=True)
        crew = self._crew(cast(Person, request.user), asked.validated_data.get("crew"))
        now = clock.now()
        on = asked.validated_data.get("date") or selectors.today_of(crew, now)
        return Response(CrewDayShape(day_content(selectors.day_of(crew, on, now), now)).data)

    def _crew(self, person: Person, wanted: int | None) -> Crew:
        key = wanted if wanted is not None else person.crew_id
        if key is None:
            raise serializers.ValidationError({"crew": ["You belong to no crew; say which crew's day you want."]})
        return get_object_or_404(selectors.crews_visible_to(person), pk=key)
