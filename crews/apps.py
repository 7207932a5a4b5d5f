"""The field's app: people, crews, what they carry, when they go where."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig


class CrewsConfig(AppConfig):
    name = "crews"
    label = "crews"
    verbose_name = "Crews"

    def ready(self) -> None:
        # The locates lie below and may not ask upwards: the register is handed in to them.
        register = import_module("crews.register.instruments").EquipmentRegister()
        import_module("locates.field.register").hand_in(register)
