"""Shapes that are read: rows with the words beside the codes."""

from __future__ import annotations

from dataclasses import fields
from datetime import datetime
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from locates.rest.fields import Instant
from tickets.api.fields import AreaField, Rows
from tickets.models import (
    Answer,
    Customer,
    DigArea,
    EmergencyDig,
    EvidenceEntry,
    FollowUp,
    Job,
    LocalRule,
    PrivateLocate,
    Site,
    SiteSighting,
    Ticket,
    TicketOperator,
)
from tickets.verdict import Verdict


class VerdictReason(serializers.Serializer):
    kind = serializers.CharField()
    words = serializers.CharField()
    citation = serializers.CharField(allow_blank=True, help_text="Empty: the fact is the company's own")
    blocks = serializers.BooleanField()
    items = serializers.ListField(
        child=serializers.CharField(), help_text="What the words list, as each line located; most often empty"
    )


class VerdictBrief(serializers.Serializer):
    """The verdict at the instant of the answer. Only `may_dig` true means yes."""

    state = serializers.CharField()
    words = serializers.CharField()
    may_dig = serializers.BooleanField()
    sentence = serializers.CharField()
    unverified = serializers.BooleanField(help_text="Confirm with the notification centre")
    opens_at = Instant(allow_null=True)
    closes_at = Instant(allow_null=True)
    next_change_at = Instant(allow_null=True)


class VerdictShape(VerdictBrief):
    """All of it: reasons with citations, what would change it, cautions."""

    as_of = Instant()
    reasons = VerdictReason(many=True)
    would_change = serializers.ListField(child=serializers.CharField())
    renew_from = Instant(allow_null=True)
    renew_by = Instant(allow_null=True)
    tickets = serializers.ListField(child=serializers.CharField())
    cautions = serializers.ListField(child=serializers.CharField())


class CustomerShape(Rows):
    class Meta:
        model = Customer
        fields = ["id", "name", "phone", "email", "note"]
        read_only_fields = fields


class SiteShape(Rows):
    class Meta:
        model = Site
        fields = [
            "id",
            "customer",
            "name",
            "street",
            "town",
            "county",
            "state",
            "latitude",
            "longitude",
            "time_zone",
            "place_source",
        ]
        read_only_fields = fields


class JobDigArea(Rows):
    polygon = AreaField(read_only=True)
    method_words = serializers.CharField(source="get_method_display", read_only=True)

    class Meta:
        model = DigArea
        fields = ["id", "name", "polygon", "planned_depth_m", "planned_width_m", "method", "method_words"]
        read_only_fields = fields


class AnswerShape(Rows):
    outcome_words = serializers.CharField(source="get_outcome_display", read_only=True)
    operator_name = serializers.CharField(source="operator.name", read_only=True)
    ticket = serializers.IntegerField(source="operator.ticket_id", read_only=True)
    recorded_by_name = serializers.CharField(source="recorded_by.__str__", read_only=True)

    class Meta:
        model = Answer
        fields = [
            "id",
            "ticket",
            "operator",
            "operator_name",
            "outcome",
            "outcome_words",
            "answered_at",
            "holds_until",
            "note",
            "recorded_by_name",
            "recorded_at",
        ]
        read_only_fields = fields


class OperatorShape(Rows):
    """An operator with its answers, the latest first."""

    utility_words = serializers.CharField(source="get_utility_display", read_only=True)
    answers = AnswerShape(many=True, read_only=True)

    class Meta:
        model = TicketOperator
        fields = ["id", "name", "utility", "utility_words", "answers"]
        read_only_fields = fields


class TicketShape(Rows):
    """A ticket with its window and operators."""

    kind_words = serializers.CharField(source="get_kind_display", read_only=True)
    job_number = serializers.CharField(source="job.number", read_only=True)
    time_zone = serializers.CharField(source="job.site.time_zone", read_only=True)
    area = AreaField(read_only=True)
    operators = OperatorShape(many=True, read_only=True)
    window_warnings = serializers.ListField(child=serializers.CharField(), read_only=True)

    class Meta:
        model = Ticket
        fields = [
            "id",
            "job",
            "job_number",
            "number",
            "kind",
            "kind_words",
            "received_at",
            "stated_start_at",
            "printed_start_at",
            "printed_expiry_at",
            "area",
            "area_words",
            "given_by_name",
            "renews",
            "follows",
            "cancelled_at",
            "work_begun_at",
            "time_zone",
            "rule_version",
            "rule_digest",
            "evidence_tier",
            "opens_at",
            "early_from",
            "closes_at",
            "start_by",
            "lapses_at",
            "renew_from",
            "renew_by",
            "window_warnings",
            "operators",
        ]
        read_only_fields = fields


class StepShape(serializers.Serializer):
    kind = serializers.CharField()
    on = serializers.DateField(allow_null=True)
    at = Instant(allow_null=True)
    words = serializers.CharField()


class TicketDetailShape(TicketShape):
    """A ticket with the trace of how its window was counted."""

    window_steps = StepShape(many=True, read_only=True)

    class Meta(TicketShape.Meta):
        fields = [*TicketShape.Meta.fields, "window_steps"]
        read_only_fields = fields


class JobShape(Rows):
    """A job with site, dig areas and the verdict of this instant."""

    customer_name = serializers.CharField(source="customer.name", read_only=True)
    site = SiteShape(read_only=True)
    dig_areas = JobDigArea(many=True, read_only=True)
    verdict = serializers.SerializerMethodField()

    class Meta:
        model = Job
        fields = [
            "id",
            "number",
            "title",
            "work",
            "customer",
            "customer_name",
            "site",
            "private_lines_likely",
            "created_at",
            "closed_at",
            "work_begun_at",
            "last_worked_on",
            "next_dig_at",
            "dig_areas",
            "verdict",
        ]
        read_only_fields = fields

    @extend_schema_field(VerdictBrief)
    def get_verdict(self, job: Job) -> dict[str, Any]:
        return VerdictBrief(self.context["verdicts"][job.pk]).data


class SightingShape(Rows):
    kind_words = serializers.CharField(source="get_kind_display", read_only=True)
    operator_name = serializers.CharField(source="operator.name", read_only=True, default=None)
    by_name = serializers.CharField(source="by.__str__", read_only=True)

    class Meta:
        model = SiteSighting
        fields = ["id", "job", "operator", "operator_name", "kind", "kind_words", "seen_at", "note", "by_name"]
        read_only_fields = fields


class PrivateLocateShape(Rows):
    kind_words = serializers.CharField(source="get_kind_display", read_only=True)
    by_name = serializers.CharField(source="by.__str__", read_only=True)

    class Meta:
        model = PrivateLocate
        fields = ["id", "job", "kind", "kind_words", "made_at", "reason", "result_words", "by_name"]
        read_only_fields = fields


class EmergencyShape(Rows):
    declared_by_name = serializers.CharField(source="declared_by.__str__", read_only=True)

    class Meta:
        model = EmergencyDig
        fields = [
            "id",
            "job",
            "reason",
            "declared_by_name",
            "declared_at",
            "centre_told_at",
            "operators_told_at",
            "closed_at",
        ]
        read_only_fields = fields


class LocalRuleShape(Rows):
    class Meta:
        model = LocalRule
        fields = [
            "id",
            "name",
            "state",
            "county",
            "town",
            "wait_amount",
            "wait_unit",
            "wait_begins",
            "wait_ends",
            "requirement",
            "source",
            "active",
        ]
        read_only_fields = fields


class EvidenceShape(Rows):
    """An entry of the log. `hash` is the SHA-256 of `canonical`, which is canonical JSON (RFC 8785)."""

    job_number = serializers.CharField(source="job.number", read_only=True)
    actor_name = serializers.CharField(source="actor.__str__", read_only=True, default=None)
    payload = serializers.DictField(read_only=True)

    class Meta:
        model = EvidenceEntry
        fields = [
            "id",
            "job",
            "job_number",
            "sequence",
            "kind",
            "at",
            "actor",
            "actor_name",
            "payload",
            "canonical",
            "previous_hash",
            "hash",
        ]
        read_only_fields = fields


class ChainShape(serializers.Serializer):
    """Whether a job's chain holds."""

    holds = serializers.BooleanField()
    entries = serializers.IntegerField()
    first_break = serializers.CharField(allow_null=True, help_text="Where and why it does not hold")


class FollowUpShape(Rows):
    kind_words = serializers.CharField(source="get_kind_display", read_only=True)
    job_number = serializers.CharField(source="job.number", read_only=True)
    ticket_number = serializers.CharField(source="ticket.number", read_only=True, default=None)

    class Meta:
        model = FollowUp
        fields = [
            "id",
            "job",
            "job_number",
            "ticket",
            "ticket_number",
            "kind",
            "kind_words",
            "due_at",
            "message",
            "done_at",
        ]
        read_only_fields = fields


def verdict_content(found: Verdict, as_of: datetime) -> dict[str, Any]:
    """A verdict for VerdictShape."""
    held = {field.name: getattr(found, field.name) for field in fields(found)}
    return {**held, "words": found.words, "may_dig": found.may_dig, "as_of": as_of}
