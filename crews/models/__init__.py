"""The field's tables, one file each."""

from __future__ import annotations

from crews.models.care import CareResult, CareState, ItemCareRule, LocateInstrument, Override, UseDay, UseTally
from crews.models.crew import Crew
from crews.models.custody import CustodyEvent
from crews.models.equipment import CALIBRATED, Equipment, EquipmentKind, Kit, OwnKind
from crews.models.papers import Paper, PaperSort
from crews.models.person import Person, Role
from crews.models.reminders import CalendarAddress, CareReminder, ImportDraft
from crews.models.visit import Visit, VisitKind

__all__ = [
    "CALIBRATED",
    "CalendarAddress",
    "CareReminder",
    "CareResult",
    "CareState",
    "Crew",
    "CustodyEvent",
    "Equipment",
    "EquipmentKind",
    "ImportDraft",
    "ItemCareRule",
    "Kit",
    "LocateInstrument",
    "Override",
    "OwnKind",
    "Paper",
    "PaperSort",
    "Person",
    "Role",
    "UseDay",
    "UseTally",
    "Visit",
    "VisitKind",
]
