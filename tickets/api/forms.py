"""Shapes that are written. The shape is checked here, the meaning in the services, whose words are shown."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from locates.law.rule import Begins, Ends, Unit
from locates.rest.fields import Instant
from tickets import selectors
from tickets.api.fields import AreaField, Visible
from tickets.models import Customer, Job, Site, Ticket, TicketOperator
from tickets.states import DigMethod, Outcome, SightingKind, TicketKind, Utility


def word_of(words: Any, **options: Any) -> serializers.CharField:
    """One of an enum's words; the service names the right ones when it is another."""
    return serializers.CharField(help_text=f"One of: {', '.join(words)}", **options)


class CustomerForm(serializers.Serializer):
    name = serializers.CharField()
    phone = serializers.CharField(required=False, allow_blank=True)
    email = serializers.CharField(required=False, allow_blank=True)
    note = serializers.CharField(required=False, allow_blank=True)


class DigAreaForm(serializers.Serializer):
    name = serializers.CharField(required=False, allow_blank=True)
    polygon = AreaField()
    method = word_of(DigMethod)
    planned_depth_m = serializers.FloatField(required=False, allow_null=True)
    planned_width_m = serializers.FloatField(required=False, allow_null=True)


class JobForm(serializers.Serializer):
    """A new job at a known site, or at a new one by street, town and position. State and time zone are found
    from the position when left out."""

    customer = Visible(among=selectors.customers_visible_to, model=Customer)
    title = serializers.CharField()
    work = serializers.CharField(required=False, allow_blank=True)
    number = serializers.CharField(required=False, allow_blank=True)
    private_lines_likely = serializers.BooleanField(
        required=False, help_text="Lines that no operator marks; left out, they are taken as likely"
    )
    site = Visible(among=selectors.sites_visible_to, model=Site, required=False, allow_null=True)
    site_name = serializers.CharField(required=False, allow_blank=True)
    street = serializers.CharField(required=False, allow_blank=True)
    town = serializers.CharField(required=False, allow_blank=True)
    county = serializers.CharField(required=False, allow_blank=True)
    state = serializers.CharField(required=False, allow_blank=True, help_text="Two letters, as VA")
    time_zone = serializers.CharField(required=False, allow_blank=True, help_text="IANA name")
    latitude = serializers.FloatField(required=False, allow_null=True)
    longitude = serializers.FloatField(required=False, allow_null=True)
    dig_areas = DigAreaForm(many=True, required=False)


class ReasonForm(serializers.Serializer):
    reason = serializers.CharField()


class JobCorrection(ReasonForm):
    title = serializers.CharField(required=False)
    work = serializers.CharField(required=False, allow_blank=True)
    private_lines_likely = serializers.BooleanField(required=False)


class WorkForm(serializers.Serializer):
    at = Instant(help_text="When work went on")


class OperatorForm(serializers.Serializer):
    name = serializers.CharField()
    utility = word_of(Utility, required=False)


class TicketForm(serializers.Serializer):
    """A notice that was given to the one-call centre."""

    job = Visible(among=selectors.jobs_visible_to, model=Job)
    number = serializers.CharField()
    kind = word_of(TicketKind, required=False)
    received_at = Instant()
    operators = OperatorForm(many=True, required=False)
    stated_start_at = Instant(required=False, allow_null=True)
    printed_start_at = Instant(required=False, allow_null=True)
    printed_expiry_at = Instant(required=False, allow_null=True)
    area = AreaField(required=False, allow_null=True)
    area_words = serializers.CharField(required=False, allow_blank=True)
    given_by_name = serializers.CharField(required=False, allow_blank=True)
    renews = Visible(among=selectors.tickets_visible_to, model=Ticket, required=False, allow_null=True)
    follows = Visible(among=selectors.tickets_visible_to, model=Ticket, required=False, allow_null=True)


class TicketCorrection(ReasonForm):
    number = serializers.CharField(required=False)
    received_at = Instant(required=False)
    stated_start_at = Instant(required=False, allow_null=True)
    printed_start_at = Instant(required=False, allow_null=True)
    printed_expiry_at = Instant(required=False, allow_null=True)
    area = AreaField(required=False, allow_null=True)
    area_words = serializers.CharField(required=False, allow_blank=True)
    given_by_name = serializers.CharField(required=False, allow_blank=True)


class CancelForm(ReasonForm):
    cancelled_at = Instant(required=False)


class AnswerForm(serializers.Serializer):
    operator = Visible(among=selectors.operators_visible_to, model=TicketOperator)
    outcome = word_of(Outcome)
    answered_at = Instant(required=False, help_text="Left out: now")
    holds_until = Instant(required=False, allow_null=True)
    note = serializers.CharField(required=False, allow_blank=True)


class SightingForm(serializers.Serializer):
    job = Visible(among=selectors.jobs_visible_to, model=Job)
    operator = Visible(
        among=selectors.operators_visible_to,
        model=TicketOperator,
        required=False,
        allow_null=True,
        help_text="Left out: the whole site",
    )
    kind = word_of(SightingKind)
    seen_at = Instant(required=False, help_text="Left out: now")
    note = serializers.CharField(required=False, allow_blank=True)


class PrivateLocateForm(serializers.Serializer):
    """Either what was found (`result_words`) or why no locate is needed (`reason`, the office's word)."""

    job = Visible(among=selectors.jobs_visible_to, model=Job)
    result_words = serializers.CharField(required=False)
    reason = serializers.CharField(required=False)
    made_at = Instant(required=False, help_text="Left out: now")

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if ("result_words" in given) == ("reason" in given):
            raise serializers.ValidationError({"result_words": ["Give either result_words or reason."]})
        return given


class EmergencyForm(serializers.Serializer):
    job = Visible(among=selectors.jobs_visible_to, model=Job)
    reason = serializers.CharField()
    declared_at = Instant(required=False, help_text="Left out: now")


class ToldForm(serializers.Serializer):
    centre_told_at = Instant(required=False)
    operators_told_at = Instant(required=False)


class LocalRuleForm(serializers.Serializer):
    name = serializers.CharField()
    state = serializers.CharField()
    county = serializers.CharField(required=False, allow_blank=True)
    town = serializers.CharField(required=False, allow_blank=True)
    requirement = serializers.CharField(required=False, allow_blank=True)
    source = serializers.CharField(help_text="Where it is written")  # type: ignore[assignment]
    wait_amount = serializers.IntegerField(required=False, allow_null=True)
    wait_unit = word_of(Unit, required=False, allow_blank=True)
    wait_begins = word_of(Begins, required=False, allow_blank=True)
    wait_ends = word_of(Ends, required=False, allow_blank=True)


class ConfirmationForm(serializers.Serializer):
    job = Visible(among=selectors.jobs_visible_to, model=Job)
    note = serializers.CharField(required=False, allow_blank=True)
