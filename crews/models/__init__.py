"""The field's tables, one file each."""

from __future__ import annotations

from crews.models.care import (
    CareResult,
    CareState,
    ItemCareRule,
    LocateInstrument,
    Override,
    OwnKindRule,
    SetRule,
    UseDay,
    UseTally,
)
from crews.models.crew import Crew
from crews.models.custody import CustodyEvent
from crews.models.equipment import CALIBRATED, Equipment, EquipmentKind, Kit, OwnKind
from crews.models.feed import CrewFeed
from crews.models.money import RegisterMoney
from crews.models.papers import Paper, PaperSort
from crews.models.parts import SparePart, TruckStock, YardStock
from crews.models.person import Person, Role
from crews.models.plan import OPEN_STATES, Plan, PlanState, PlanStop, PlanWeights, StopKind
from crews.models.push import PushDevice, PushMessage
from crews.models.reminders import CalendarAddress, CareReminder, ImportDraft
from crews.models.shift import WEEKDAYS, CrewHome, CrewShift, DayOff, ShiftPlace
from crews.models.visit import MOVES_EARTH, Visit, VisitKind, breaks_ground
from crews.models.wanted import PromisedWindow, WantedPriority, WantedVisit

__all__ = [
    "CALIBRATED",
    "MOVES_EARTH",
    "OPEN_STATES",
    "WEEKDAYS",
    "CalendarAddress",
    "CareReminder",
    "CareResult",
    "CareState",
    "Crew",
    "CrewFeed",
    "CrewHome",
    "CrewShift",
    "CustodyEvent",
    "DayOff",
    "Equipment",
    "EquipmentKind",
    "ImportDraft",
    "ItemCareRule",
    "Kit",
    "LocateInstrument",
    "Override",
    "OwnKind",
    "OwnKindRule",
    "Paper",
    "PaperSort",
    "Person",
    "Plan",
    "PlanState",
    "PlanStop",
    "PlanWeights",
    "PromisedWindow",
    "PushDevice",
    "PushMessage",
    "RegisterMoney",
    "Role",
    "SetRule",
    "ShiftPlace",
    "SparePart",
    "StopKind",
    "TruckStock",
    "UseDay",
    "UseTally",
    "Visit",
    "VisitKind",
    "WantedPriority",
    "WantedVisit",
    "YardStock",
    "breaks_ground",
]
