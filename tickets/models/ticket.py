"""A notice given to the one-call centre, its window, and the operators named on it."""

from __future__ import annotations

from django.db import models

from tickets.models.constraints import known, not_blank
from tickets.models.job import Job
from tickets.states import Life, TicketKind, Utility, choices


class Ticket(models.Model):
    """One notice. The window columns are computed by `tickets.deadlines` from the law and stored with the
    rule's version and digest, so that a later change of the law's data shows."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="tickets")
    number = models.CharField(max_length=48)
    kind = models.CharField(max_length=16, choices=choices(TicketKind), default=TicketKind.NORMAL)
    received_at = models.DateTimeField(help_text="When the centre took the notice")
    stated_start_at = models.DateTimeField(null=True, blank=True, help_text="Start named in the notice")
    printed_start_at = models.DateTimeField(null=True, blank=True, help_text="Start the centre printed")
    printed_expiry_at = models.DateTimeField(null=True, blank=True, help_text="Expiry the centre printed")
    area = models.JSONField(null=True, blank=True, help_text="GeoJSON, WGS 84; empty when only in words")
    area_words = models.TextField(blank=True)
    given_by_name = models.CharField(max_length=120, blank=True)
    renews = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="renewals")
    follows = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="followers",
        help_text="The ticket a second notice or a re-mark belongs to",
    )
    cancelled_at = models.DateTimeField(null=True, blank=True)
    work_begun_at = models.DateTimeField(null=True, blank=True, help_text="First work under this ticket")

    rule_version = models.CharField(max_length=32, blank=True)
    rule_digest = models.CharField(max_length=64, blank=True)
    evidence_tier = models.CharField(max_length=16, blank=True)
    opens_at = models.DateTimeField(null=True, blank=True)
    early_from = models.DateTimeField(
        null=True, blank=True, help_text="With early answers, digging may begin no sooner; empty: not at all"
    )
    closes_at = models.DateTimeField(null=True, blank=True)
    start_by = models.DateTimeField(null=True, blank=True)
    lapses_at = models.DateTimeField(null=True, blank=True, help_text="Lapses if work stands still until then")
    renew_from = models.DateTimeField(null=True, blank=True)
    renew_by = models.DateTimeField(null=True, blank=True)
    window_warnings = models.JSONField(default=list, blank=True)
    window_steps = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["-received_at", "-id"]
        indexes = [
            models.Index(fields=["-received_at", "-id"], name="ticket_newest_first"),
            models.Index(fields=["number"], name="ticket_by_number"),
            models.Index(fields=["closes_at"], name="ticket_by_expiry"),
            models.Index(fields=["renew_by"], name="ticket_by_renewal"),
        ]
        constraints = [
            not_blank("number", "ticket_has_a_number"),
            known("kind", TicketKind, "ticket_kind_known"),
            models.UniqueConstraint(fields=["job", "number"], name="ticket_once_a_job"),
            models.CheckConstraint(
                condition=(models.Q(kind="renewal") & models.Q(renews__isnull=False))
                | (~models.Q(kind="renewal") & models.Q(renews__isnull=True)),
                name="ticket_renews_when_a_renewal",
            ),
            models.CheckConstraint(
                condition=(models.Q(kind__in=["re_mark", "second_notice"]) & models.Q(follows__isnull=False))
                | (~models.Q(kind__in=["re_mark", "second_notice"]) & models.Q(follows__isnull=True)),
                name="ticket_follows_when_it_must",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def life(self) -> Life:
        return Life.OPEN if self.cancelled_at is None else Life.CANCELLED


class TicketOperator(models.Model):
    """An operator that the centre named on the ticket: each must be heard."""

    ticket = models.ForeignKey(Ticket, on_delete=models.PROTECT, related_name="operators")
    name = models.CharField(max_length=120)
    utility = models.CharField(max_length=16, choices=choices(Utility), default=Utility.UNKNOWN)

    class Meta:
        ordering = ["ticket_id", "name", "id"]
        constraints = [
            not_blank("name", "operator_has_a_name"),
            known("utility", Utility, "operator_utility_known"),
            models.UniqueConstraint(fields=["ticket", "name"], name="operator_once_a_ticket"),
        ]

    def __str__(self) -> str:
        return self.name
