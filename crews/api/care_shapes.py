"""Shapes of custody and care: what is sent, what is answered."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from crews.equipment.custody import Step
from crews.models import CareResult, CareState, Crew, CustodyEvent, Person
from crews.services import Laboratory
from locates.rest.fields import Instant
from tickets.models import PrivateLocate


class StepSerializer(serializers.Serializer):
    """One step of custody; an issue names the crew or the person."""

    step = serializers.ChoiceField(choices=[str(step) for step in Step if step is not Step.ENTERED])
    crew = serializers.PrimaryKeyRelatedField(queryset=Crew.objects.all(), required=False, allow_null=True)
    person = serializers.PrimaryKeyRelatedField(
        queryset=Person.objects.filter(is_active=True), required=False, allow_null=True
    )
    spot = serializers.CharField(required=False, allow_blank=True, max_length=80)
    note = serializers.CharField(required=False, allow_blank=True, max_length=200)


class NewResultSerializer(serializers.Serializer):
    """What a check found. Readings and the known value in metres where the tolerance is one of length."""

    key = serializers.CharField(max_length=40)
    done_on = serializers.DateField()
    passed = serializers.BooleanField(required=False, allow_null=True, default=None)
    known_value = serializers.FloatField(required=False, allow_null=True)
    readings = serializers.ListField(child=serializers.FloatField(), required=False, max_length=50)
    laboratory = serializers.CharField(required=False, allow_blank=True, max_length=120)
    certificate_number = serializers.CharField(required=False, allow_blank=True, max_length=60)
    as_found = serializers.CharField(required=False, allow_blank=True, max_length=200)
    as_left = serializers.CharField(required=False, allow_blank=True, max_length=200)
    uncertainty = serializers.CharField(required=False, allow_blank=True, max_length=80)
    stated_due_on = serializers.DateField(required=False, allow_null=True)
    cost = serializers.DecimalField(required=False, allow_null=True, max_digits=10, decimal_places=2)
    note = serializers.CharField(required=False, allow_blank=True, max_length=400)

    LABORATORY = (
        "laboratory",
        "certificate_number",
        "as_found",
        "as_left",
        "uncertainty",
        "stated_due_on",
        "cost",
    )

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        told = {name: given.pop(name) for name in self.LABORATORY if name in given}
        return {**given, "laboratory": Laboratory(**told)}


class CareResultSerializer(serializers.ModelSerializer):
    """A result as it stands; `in_doubt` are the locates that a failure has put in doubt."""

    recorded_at = Instant(read_only=True)
    in_doubt = serializers.SerializerMethodField()

    class Meta:
        model = CareResult
        fields = [
            "id",
            "key",
            "care",
            "title",
            "done_on",
            "passed",
            "outcome_words",
            "laboratory",
            "certificate_number",
            "stated_due_on",
            "recorded_at",
            "in_doubt",
        ]
        read_only_fields = fields

    def get_in_doubt(self, result: CareResult) -> list[int]:
        return list(self.context.get("in_doubt", []))


class LocateMadeSerializer(serializers.Serializer):
    """Which private locate an item was used for."""

    locate = serializers.PrimaryKeyRelatedField(queryset=PrivateLocate.objects.select_related("job"))
    in_doubt = serializers.BooleanField(read_only=True)


class CareStateSerializer(serializers.ModelSerializer):
    """Where one care stands."""

    class Meta:
        model = CareState
        fields = ["key", "care", "title", "source", "stops", "state", "due_on", "words", "last_good_on"]
        read_only_fields = fields


class CustodyEventSerializer(serializers.ModelSerializer):
    """One stay."""

    at = Instant(read_only=True)
    until = Instant(read_only=True)
    confirmed_at = Instant(read_only=True)

    class Meta:
        model = CustodyEvent
        fields = ["sequence", "step", "at", "until", "place", "crew", "person", "spot", "note", "confirmed_at"]
        read_only_fields = fields
