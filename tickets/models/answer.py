"""What the operators answered and what the crew saw. Rows are added, never changed."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from tickets.models.constraints import known
from tickets.models.job import Job
from tickets.models.ticket import TicketOperator
from tickets.states import Outcome, SightingKind, choices


class Answer(models.Model):
    """One answer of one operator; the latest `answered_at` governs."""

    operator = models.ForeignKey(TicketOperator, on_delete=models.PROTECT, related_name="answers")
    outcome = models.CharField(max_length=20, choices=choices(Outcome))
    answered_at = models.DateTimeField()
    holds_until = models.DateTimeField(
        null=True, blank=True, help_text="When more time was asked for or a schedule agreed: until when"
    )
    note = models.TextField(blank=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["-answered_at", "-id"]
        indexes = [
            models.Index(fields=["operator", "-answered_at", "-id"], name="answer_latest_first"),
            models.Index(fields=["-answered_at", "-id"], name="answer_newest_first"),
        ]
        constraints = [known("outcome", Outcome, "answer_outcome_known")]

    def __str__(self) -> str:
        return f"{self.get_outcome_display()} {self.answered_at:%Y-%m-%d %H:%M}Z"


class SiteSighting(models.Model):
    """What the crew saw of an operator's marks, or of the whole site's when no operator is named."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="sightings")
    operator = models.ForeignKey(
        TicketOperator, on_delete=models.PROTECT, null=True, blank=True, related_name="sightings"
    )
    kind = models.CharField(max_length=20, choices=choices(SightingKind))
    seen_at = models.DateTimeField()
    note = models.TextField(blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["-seen_at", "-id"]
        indexes = [models.Index(fields=["job", "-seen_at", "-id"], name="sighting_latest_first")]
        constraints = [known("kind", SightingKind, "sighting_kind_known")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.seen_at:%Y-%m-%d %H:%M}Z"
