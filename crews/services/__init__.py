"""Every write of the field: one named function each, keyword-only, the actor required."""

from __future__ import annotations

from crews.services.care import (
    Laboratory,
    Recorded,
    add_instrument,
    allow_despite_due,
    end_override,
    link_instruments,
    note_use_day,
    record_result,
)
from crews.services.care_rules import RuleGiven, set_item_rule, set_own_kind_rule
from crews.services.custody import confirm_hand_over, move_item
from crews.services.equipment import (
    add_equipment,
    change_equipment,
    hand_over_equipment,
    return_to_service,
    set_calibration_due,
    take_out_of_service,
)
from crews.services.imports import draft_import, import_draft
from crews.services.papers import add_kit, add_own_kind, add_paper, make_calendar_address, record_result_with_paper
from crews.services.people import add_crew, add_first_owner, add_person, change_crew, change_person, set_password
from crews.services.plan_accept import accept_plan, accept_stop
from crews.services.plan_changes import move_stop, pin_stop
from crews.services.plans import (
    ask_plan,
    call_off_plan,
    compute_plan,
    plans_waiting,
    set_aside_plan,
    set_weights,
)
from crews.services.push import add_push_device, ask_push_trial, end_push_device
from crews.services.visits import cancel_visit, change_visit_note, move_visit, schedule_visit

__all__ = [
    "Laboratory",
    "Recorded",
    "RuleGiven",
    "accept_plan",
    "accept_stop",
    "add_crew",
    "add_equipment",
    "add_first_owner",
    "add_instrument",
    "add_kit",
    "add_own_kind",
    "add_paper",
    "add_person",
    "add_push_device",
    "allow_despite_due",
    "ask_plan",
    "ask_push_trial",
    "call_off_plan",
    "cancel_visit",
    "change_crew",
    "change_equipment",
    "change_person",
    "change_visit_note",
    "compute_plan",
    "confirm_hand_over",
    "draft_import",
    "end_override",
    "end_push_device",
    "hand_over_equipment",
    "import_draft",
    "link_instruments",
    "make_calendar_address",
    "move_item",
    "move_stop",
    "move_visit",
    "note_use_day",
    "pin_stop",
    "plans_waiting",
    "record_result",
    "record_result_with_paper",
    "return_to_service",
    "schedule_visit",
    "set_aside_plan",
    "set_calibration_due",
    "set_item_rule",
    "set_own_kind_rule",
    "set_password",
    "set_weights",
    "take_out_of_service",
]
