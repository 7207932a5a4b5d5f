"""The app of our own locates: runs, points, devices, what they are worth and what they mean for the dig."""

from __future__ import annotations

from django.apps import AppConfig


class FieldConfig(AppConfig):
    name = "locates.field"
    label = "field"
    verbose_name = "Field locates"
