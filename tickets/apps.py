"""The office's app: customers, jobs, tickets, operators' answers, the verdict, the evidence."""

from __future__ import annotations

from django.apps import AppConfig


class TicketsConfig(AppConfig):
    name = "tickets"
    label = "tickets"
    verbose_name = "Tickets"
