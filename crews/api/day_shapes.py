"""The shape of a crew's day: everything a phone needs in one answer. Instants in UTC, and beside them the
words that a person reads in the site's own zone."""

from __future__ import annotations

from rest_framework import serializers

from locates.rest.fields import Instant
from tickets.api.shapes import VerdictReason


class CautionShape(serializers.Serializer):
    code = serializers.CharField()
    words = serializers.CharField()
    source = serializers.CharField(  # type: ignore[assignment]
        allow_blank=True, help_text="Empty where it is common practice"
    )


class DayCrewShape(serializers.Serializer):
    id = serializers.IntegerField()
    name = serializers.CharField()
    time_zone = serializers.CharField()
    yard_name = serializers.CharField()
    yard_latitude = serializers.FloatField()
    yard_longitude = serializers.FloatField()


class DayVisitShape(serializers.Serializer):
    id = serializers.IntegerField()
    kind = serializers.CharField()
    kind_words = serializers.CharField()
    starts_at = Instant()
    ends_at = Instant()
    words = serializers.CharField()
    pinned = serializers.BooleanField()
    note = serializers.CharField(allow_blank=True)


class DayJobShape(serializers.Serializer):
    id = serializers.IntegerField()
    number = serializers.CharField()
    title = serializers.CharField()
    work = serializers.CharField(allow_blank=True)
    customer_name = serializers.CharField()
    customer_phone = serializers.CharField(allow_blank=True)
    private_lines_likely = serializers.BooleanField()


class DayPlaceShape(serializers.Serializer):
    street = serializers.CharField()
    town = serializers.CharField()
    county = serializers.CharField(allow_blank=True)
    state = serializers.CharField()
    latitude = serializers.FloatField()
    longitude = serializers.FloatField()
    time_zone = serializers.CharField()


class DayVerdictShape(serializers.Serializer):
    """May this crew dig here, as of `as_of`. Only `may_dig` true means yes."""

    state = serializers.CharField()
    words = serializers.CharField()
    may_dig = serializers.BooleanField()
    sentence = serializers.CharField()
    reasons = VerdictReason(many=True)
    would_change = serializers.ListField(child=serializers.CharField())
    unverified = serializers.BooleanField(help_text="Confirm with the notification centre")
    next_change_at = Instant(allow_null=True)
    next_change_words = serializers.CharField(allow_blank=True)


class DayWindowShape(serializers.Serializer):
    """The window of the ticket, or tickets together, that the verdict rests on; null: no such limit known."""

    opens_at = Instant(allow_null=True)
    opens_words = serializers.CharField(allow_blank=True)
    closes_at = Instant(allow_null=True)
    closes_words = serializers.CharField(allow_blank=True)
    renew_from = Instant(allow_null=True)
    renew_by = Instant(allow_null=True)
    renew_by_words = serializers.CharField(allow_blank=True)


class DayAnswerShape(serializers.Serializer):
    """An operator named on a ticket and its latest answer; outcome not_answered until there is one."""

    operator = serializers.CharField()
    utility = serializers.CharField()
    utility_words = serializers.CharField()
    outcome = serializers.CharField()
    outcome_words = serializers.CharField()
    answered_at = Instant(allow_null=True)
    answered_words = serializers.CharField(allow_blank=True)
    holds_until = Instant(allow_null=True)
    note = serializers.CharField(allow_blank=True)


class DayTicketShape(serializers.Serializer):
    id = serializers.IntegerField()
    number = serializers.CharField()
    kind = serializers.CharField()
    kind_words = serializers.CharField()
    received_at = Instant()
    warnings = serializers.ListField(child=serializers.CharField())
    answers = DayAnswerShape(many=True)


class GeometryShape(serializers.Serializer):
    type = serializers.ChoiceField(choices=["Polygon", "MultiPolygon"])
    coordinates = serializers.ListField(child=serializers.JSONField())


class DigAreaPropertiesShape(serializers.Serializer):
    name = serializers.CharField(allow_blank=True)
    method = serializers.CharField()
    method_words = serializers.CharField()
    planned_depth_m = serializers.FloatField(allow_null=True)
    planned_depth_words = serializers.CharField(allow_blank=True)
    planned_width_m = serializers.FloatField(allow_null=True)
    planned_width_words = serializers.CharField(allow_blank=True)


class DigAreaShape(serializers.Serializer):
    type = serializers.ChoiceField(choices=["Feature"])
    id = serializers.IntegerField()
    geometry = GeometryShape()
    properties = DigAreaPropertiesShape()


class DigAreasShape(serializers.Serializer):
    """GeoJSON (RFC 7946): WGS 84, longitude first."""

    type = serializers.ChoiceField(choices=["FeatureCollection"])
    features = DigAreaShape(many=True)


class ToleranceZoneShape(serializers.Serializer):
    inches_each_side = serializers.IntegerField()
    measured_from = serializers.CharField()
    plus_half_width = serializers.BooleanField()
    words = serializers.CharField()
    more = serializers.CharField(allow_blank=True)
    citation = serializers.CharField(allow_blank=True)
    unverified = serializers.BooleanField()


class DaySiteShape(serializers.Serializer):
    visit = DayVisitShape()
    kit = serializers.ListField(
        child=serializers.CharField(),
        help_text="What to mind about the instruments that the visit needs: a lack, what to take along",
    )
    job = DayJobShape()
    place = DayPlaceShape()
    verdict = DayVerdictShape()
    window = DayWindowShape()
    tickets = DayTicketShape(many=True)
    dig_areas = DigAreasShape()
    tolerance_zone = ToleranceZoneShape(allow_null=True)
    cautions = CautionShape(many=True)


class DayCheckShape(serializers.Serializer):
    key = serializers.CharField()
    title = serializers.CharField()


class DayItemShape(serializers.Serializer):
    id = serializers.IntegerField()
    kind = serializers.CharField()
    kind_words = serializers.CharField()
    name = serializers.CharField()
    serial = serializers.CharField()
    calibration_due_on = serializers.DateField(allow_null=True)
    due_on = serializers.DateField(allow_null=True, help_text="The earliest of all care that stops it")
    due_title = serializers.CharField(allow_blank=True)
    may_go_out = serializers.BooleanField(help_text="On that day; true too on the owner's word")
    checks_to_do = DayCheckShape(many=True, help_text="Before the day's use, and no result of that day is on record")
    overdue = serializers.BooleanField()
    flag = serializers.CharField(allow_blank=True)


class CrewDayShape(serializers.Serializer):
    crew = DayCrewShape()
    date = serializers.DateField()
    date_words = serializers.CharField()
    as_of = Instant(help_text="The instant the verdicts hold for")
    as_of_words = serializers.CharField()
    sites = DaySiteShape(many=True)
    equipment = DayItemShape(many=True)
    cautions = CautionShape(many=True)
