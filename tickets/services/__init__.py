"""Every write of the office: one named function each, keyword-only, the actor and the instant required.

Each locks its job, checks that the step is possible, changes, appends to the evidence log and derives
windows, verdict and follow-ups anew, all in one transaction. Bad input is refused whole.
"""

from __future__ import annotations

from tickets.services.answers import record_answer, record_sighting
from tickets.services.customers import change_customer, create_customer
from tickets.services.emergencies import close_emergency, declare_emergency, note_emergency_told
from tickets.services.follow_ups import Claim, claim_due, settle_follow_up
from tickets.services.jobs import (
    add_dig_area,
    change_job,
    close_job,
    create_job,
    note_work_begun,
    remove_dig_area,
    reopen_job,
)
from tickets.services.notices import (
    add_operator,
    cancel_ticket,
    correct_ticket,
    enter_ticket,
    remove_operator,
)
from tickets.services.own_locates import (
    confirm_local_rule,
    create_local_rule,
    doubt_private_locates,
    end_local_rule,
    record_private_locate,
    waive_private_locate,
)
from tickets.services.plans import acknowledge_verdict, check_dig_visit, plan_next_dig, refresh_job
from tickets.services.refusals import BadInput, Conflict, Forbidden, WindowRefused

__all__ = [
    "BadInput",
    "Claim",
    "Conflict",
    "Forbidden",
    "WindowRefused",
    "acknowledge_verdict",
    "add_dig_area",
    "add_operator",
    "cancel_ticket",
    "change_customer",
    "change_job",
    "check_dig_visit",
    "claim_due",
    "close_emergency",
    "close_job",
    "confirm_local_rule",
    "correct_ticket",
    "create_customer",
    "create_job",
    "create_local_rule",
    "declare_emergency",
    "doubt_private_locates",
    "end_local_rule",
    "enter_ticket",
    "note_emergency_told",
    "note_work_begun",
    "plan_next_dig",
    "record_answer",
    "record_private_locate",
    "record_sighting",
    "refresh_job",
    "remove_dig_area",
    "remove_operator",
    "reopen_job",
    "settle_follow_up",
    "waive_private_locate",
]
