"""The office's tables, one file each."""

from __future__ import annotations

from tickets.models.answer import Answer, SiteSighting
from tickets.models.emergency import EmergencyDig
from tickets.models.evidence import EvidenceEntry
from tickets.models.follow_up import FollowUp
from tickets.models.job import DigArea, Job
from tickets.models.local_rule import LocalRule, LocalRuleConfirmation
from tickets.models.private_locate import PrivateLocate
from tickets.models.site import Customer, Site
from tickets.models.ticket import Ticket, TicketOperator

__all__ = [
    "Answer",
    "Customer",
    "DigArea",
    "EmergencyDig",
    "EvidenceEntry",
    "FollowUp",
    "Job",
    "LocalRule",
    "LocalRuleConfirmation",
    "PrivateLocate",
    "Site",
    "SiteSighting",
    "Ticket",
    "TicketOperator",
]
