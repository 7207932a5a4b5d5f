"""Shapes of the field's rows. Reading shows names beside ids; writing goes through the services."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from crews.models import Crew, Equipment, Person, Visit, VisitKind
from crews.register.availability import care_fault
from crews.selectors import flag_of
from crews.words import span_words
from locates.rest.fields import Instant
from tickets.models import Job, Ticket


class CrewSerializer(serializers.ModelSerializer):
    skills = serializers.ListField(child=serializers.CharField(max_length=40), required=False)

    class Meta:
        model = Crew
        fields = [
            "id",
            "name",
            "yard_name",
            "yard_latitude",
            "yard_longitude",
            "time_zone",
            "skills",
            "active",
        ]
        # The service compares without regard to case and says what to do; one message is enough.
        extra_kwargs: ClassVar[dict[str, Any]] = {"name": {"validators": []}}


class PersonSerializer(serializers.ModelSerializer):
    """A log-in as the owner sees it; the password is written, never read."""

    password = serializers.CharField(write_only=True, required=False, max_length=128)

    class Meta:
        model = Person
        fields = [
            "id",
            "username",
            "first_name",
            "last_name",
            "email",
            "phone",
            "role",
            "crew",
            "is_active",
            "last_login",
            "password",
        ]
        read_only_fields = ["last_login"]
        extra_kwargs: ClassVar[dict[str, Any]] = {"username": {"validators": []}}


class MeSerializer(serializers.ModelSerializer):
    """Who is logged in."""

    name = serializers.CharField(source="__str__", read_only=True)
    crew_name = serializers.CharField(source="crew.name", read_only=True, default=None)

    class Meta:
        model = Person
        fields = ["id", "username", "name", "role", "crew", "crew_name"]
        read_only_fields = fields


class EquipmentSerializer(serializers.ModelSerializer):
    """An item, who holds it, and what is wrong with it today."""

    crew_name = serializers.CharField(source="crew.name", read_only=True, default=None)
    kind_words = serializers.CharField(read_only=True)
    place_words = serializers.CharField(read_only=True, help_text="Where it is, with the holder's name")
    overdue = serializers.SerializerMethodField()
    may_go_out = serializers.SerializerMethodField(help_text="False: due today or before, stopped, or gone")
    flag = serializers.SerializerMethodField(help_text="What is wrong with it, in words; empty: nothing known")
    frequencies_hz = serializers.ListField(
        child=serializers.IntegerField(min_value=1), required=False, max_length=100, help_text="Whole hertz"
    )

    class Meta:
        model = Equipment
        fields = [
            "id",
            "kind",
            "kind_words",
            "name",
            "serial",
            "maker_words",
            "own_kind",
            "kit",
            "frequencies_hz",
            "modes",
            "working_load_kg",
            "voltage_class",
            "firmware",
            "put_in_service_on",
            "crew",
            "crew_name",
            "calibration_due_on",
            "code",
            "place",
            "place_words",
            "person",
            "unconfirmed",
            "due_on",
            "due_title",
            "may_go_out",
            "overdue",
            "out_of_service_reason",
            "flag",
            "note",
        ]
        read_only_fields = ["code", "place", "person", "unconfirmed", "due_on", "due_title"]
        extra_kwargs: ClassVar[dict[str, Any]] = {"serial": {"validators": []}}

    def get_may_go_out(self, item: Equipment) -> bool:
        """Without the owner's overrides, which hold for single days."""
        stopped = bool(item.out_of_service_reason) or item.place not in {"yard", "crew", "person"}
        return not stopped and not care_fault(item, self.context["today"])

    def get_overdue(self, item: Equipment) -> bool:
        return item.is_overdue(self.context["today"])

    def get_flag(self, item: Equipment) -> str:
        return flag_of(item, self.context["today"])


class VisitSerializer(serializers.ModelSerializer):
    """A visit as it stands."""

    kind_words = serializers.CharField(source="get_kind_display", read_only=True)
    job_number = serializers.CharField(source="job.number", read_only=True)
    job_title = serializers.CharField(source="job.title", read_only=True)
    place = serializers.CharField(source="job.site.__str__", read_only=True)
    crew_name = serializers.CharField(source="crew.name", read_only=True)
    ticket_number = serializers.CharField(source="ticket.number", read_only=True, default=None)
    time_zone = serializers.CharField(source="job.site.time_zone", read_only=True)
    starts_at = Instant(read_only=True)
    ends_at = Instant(read_only=True)
    cancelled_at = Instant(read_only=True)
    words = serializers.SerializerMethodField(help_text="The span in the site's zone")

    class Meta:
        model = Visit
        fields = [
            "id",
            "job",
            "job_number",
            "job_title",
            "place",
            "crew",
            "crew_name",
            "kind",
            "kind_words",
            "starts_at",
            "ends_at",
            "time_zone",
            "words",
            "ticket",
            "ticket_number",
            "pinned",
            "surface_only",
            "note",
            "cancelled_at",
            "cancel_reason",
        ]
        read_only_fields = fields

    def get_words(self, visit: Visit) -> str:
        return span_words(visit.starts_at, visit.ends_at, visit.job.site.time_zone)


class NewVisitSerializer(serializers.Serializer):
    """What a new visit needs."""

    job = serializers.PrimaryKeyRelatedField(queryset=Job.objects.select_related("site"))
    crew = serializers.PrimaryKeyRelatedField(queryset=Crew.objects.all())
    kind = serializers.ChoiceField(choices=VisitKind.choices)
    starts_at = Instant()
    ends_at = Instant()
    ticket = serializers.PrimaryKeyRelatedField(queryset=Ticket.objects.all(), required=False, allow_null=True)
    note = serializers.CharField(required=False, allow_blank=True, max_length=2000)
    pinned = serializers.BooleanField(required=False)
    surface_only = serializers.BooleanField(required=False, help_text="A restoration that moves no earth")


class ChangeVisitSerializer(serializers.Serializer):
    """Any of these; a new start alone keeps the length."""

    crew = serializers.PrimaryKeyRelatedField(queryset=Crew.objects.all(), required=False)
    starts_at = Instant(required=False)
    ends_at = Instant(required=False)
    note = serializers.CharField(required=False, allow_blank=True, max_length=2000)
    pinned = serializers.BooleanField(required=False)

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if not given:
            raise serializers.ValidationError("Give at least one of crew, starts_at, ends_at, note, pinned.")
        return given


class CancelVisitSerializer(serializers.Serializer):
    reason = serializers.CharField(max_length=200)
