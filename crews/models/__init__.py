"""The field's tables, one file each."""

from __future__ import annotations

from crews.models.crew import Crew
from crews.models.equipment import CALIBRATED, Equipment, EquipmentKind
from crews.models.person import Person, Role
from crews.models.visit import Visit, VisitKind

__all__ = ["CALIBRATED", "Crew", "Equipment", "EquipmentKind", "Person", "Role", "Visit", "VisitKind"]
