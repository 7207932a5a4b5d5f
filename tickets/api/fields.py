"""Fields of the office's shapes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db import models
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from locates.rest.fields import Instant

GEOJSON: dict[str, Any] = {
    "type": "object",
    "required": ["type", "coordinates"],
    "properties": {
        "type": {"type": "string", "enum": ["Polygon", "MultiPolygon"]},
        "coordinates": {"type": "array", "items": {}},
    },
    "description": "GeoJSON (RFC 7946) in WGS 84, longitude first",
}


@extend_schema_field(GEOJSON)
class AreaField(serializers.JSONField):
    """A GeoJSON Polygon or MultiPolygon; the services check it."""


class Rows(serializers.ModelSerializer):
    """Rows of a table, instants with their offset."""

    serializer_field_mapping = {
        **serializers.ModelSerializer.serializer_field_mapping,
        models.DateTimeField: Instant,
    }

    def build_standard_field(self, field_name: str, model_field: Any) -> tuple[Any, dict[str, Any]]:
        """A code is shown as text with its words listed: many tables have a `kind`, each with its own words,
        and a schema can give that name to one list only."""
        field_class, options = super().build_standard_field(field_name, model_field)
        if "choices" not in options:
            return field_class, options
        codes = ", ".join(str(code) for code, _ in model_field.choices)
        return serializers.CharField, {"help_text": f"One of: {codes}"}


class Visible(serializers.PrimaryKeyRelatedField):
    """A row among those that the person may see; another one is as good as not there. `among` is a
    selector that takes the person."""

    def __init__(self, *, among: Callable[[Any], QuerySet[Any]], model: type[models.Model], **kwargs: Any) -> None:
        self.among = among
        super().__init__(queryset=model._default_manager.all(), **kwargs)

    def get_queryset(self) -> Any:
        return self.among(self.context["request"].user)
