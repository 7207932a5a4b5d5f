"""What the API takes and gives."""

from __future__ import annotations

from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from locates.field.models import Device, Photo, Point, Run
from locates.field.words import PLACED_WORDS, UNIT_WORDS, pairs


class DeviceShape(serializers.ModelSerializer):
    """An instrument as it stood on the run's day."""

    class Meta:
        model = Device
        exclude = ["run"]


class RunShape(serializers.ModelSerializer):
    """A run with what its points are worth."""

    devices = DeviceShape(many=True, read_only=True)
    result = serializers.SerializerMethodField()

    class Meta:
        model = Run
        exclude = ["last_number"]

    @extend_schema_field(OpenApiTypes.OBJECT)
    def get_result(self, run: Run) -> Any:
        return run.result


class PointShape(serializers.ModelSerializer):
    """A point as recorded."""

    class Meta:
        model = Point
        fields = "__all__"


class PointForm(serializers.Serializer):
    """A point as typed: depths and lengths are texts in `unit`, unless they name their own."""

    client_id = serializers.UUIDField(help_text="Id from the device; sent again it changes nothing")
    latitude = serializers.FloatField(required=False, allow_null=True)
    longitude = serializers.FloatField(required=False, allow_null=True)
    accuracy_m = serializers.FloatField(
        required=False, allow_null=True, help_text="Radius of about 95 % in metres, as a device says"
    )
    accuracy = serializers.CharField(
        required=False, allow_blank=True, max_length=30, help_text="The same as typed, in feet unless it says more"
    )
    along = serializers.CharField(required=False, allow_blank=True, max_length=30)
    left = serializers.CharField(required=False, allow_blank=True, max_length=30)
    right = serializers.CharField(required=False, allow_blank=True, max_length=30)
    unit = serializers.ChoiceField(choices=pairs(UNIT_WORDS), default="in")
    depth = serializers.CharField(required=False, allow_blank=True, max_length=30)
    null_off = serializers.CharField(required=False, allow_blank=True, max_length=30)
    left_45 = serializers.CharField(required=False, allow_blank=True, max_length=30)
    right_45 = serializers.CharField(required=False, allow_blank=True, max_length=30)
    current_ma = serializers.FloatField(required=False, allow_null=True)
    signal = serializers.FloatField(required=False, allow_null=True)
    gain_db = serializers.FloatField(required=False, allow_null=True)
    null_behind = serializers.CharField(required=False, allow_blank=True, max_length=30)
    null_ahead = serializers.CharField(required=False, allow_blank=True, max_length=30)
    counter = serializers.CharField(required=False, allow_blank=True, max_length=30)
    ground_level = serializers.CharField(required=False, allow_blank=True, max_length=30, help_text="In feet")
    ground_level_m = serializers.FloatField(required=False, allow_null=True)
    measured_within = serializers.CharField(required=False, allow_blank=True, max_length=30)
    target_verified = serializers.BooleanField(default=False)
    placed = serializers.ChoiceField(choices=pairs(PLACED_WORDS), default="nothing")
    note = serializers.CharField(required=False, allow_blank=True, max_length=200)
    taken_at = serializers.DateTimeField(required=False, allow_null=True)


class RunFinish(serializers.Serializer):
    """What came of a run, in the person's own words."""

    found = serializers.BooleanField(help_text="The line was found, with two points at least")
    words = serializers.CharField(
        required=False, allow_blank=True, max_length=1000, default="", help_text="Needed when nothing was found"
    )
    locate_complete = serializers.BooleanField(
        default=False, help_text="Everything likely on the site has now been looked for: records the private locate"
    )


class PhotoShape(serializers.ModelSerializer):
    """A photo as kept: what the camera wrote into it is left out."""

    class Meta:
        model = Photo
        exclude = ["file"]


class PhotoForm(serializers.Serializer):
    """A photo of a run, of one of its points where that is said: by its number, or by the id that its phone
    gave it, for a phone without a connection does not know the number yet."""

    client_id = serializers.UUIDField(help_text="Id from the device; sent again it changes nothing")
    photo = serializers.FileField(help_text="JPEG, PNG or WebP, 15 MB at most")
    words = serializers.CharField(required=False, allow_blank=True, max_length=200, default="")
    point_number = serializers.IntegerField(required=False, min_value=1)
    point_client_id = serializers.UUIDField(required=False)
