"""The field's app: people, crews, what they carry, when they go where."""

from __future__ import annotations

from django.apps import AppConfig


class CrewsConfig(AppConfig):
    name = "crews"
    label = "crews"
    verbose_name = "Crews"
