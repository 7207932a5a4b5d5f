"""The evidence log's table. `tickets.evidence` writes it; the database refuses every change to it."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from tickets.models.constraints import not_blank
from tickets.models.job import Job


class EvidenceEntry(models.Model):
    """One fact, chained by SHA-256 to the one before in its job. Triggers refuse UPDATE and DELETE."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="evidence")
    sequence = models.PositiveIntegerField(help_text="1 for a job's first entry")
    kind = models.CharField(max_length=40)
    at = models.DateTimeField()
    actor = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    payload = models.JSONField()
    canonical = models.TextField(help_text="The entry as canonical JSON (RFC 8785): what the hash covers")
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["job_id", "sequence"]
        verbose_name_plural = "evidence entries"
        constraints = [
            not_blank("kind", "evidence_has_a_kind"),
            models.UniqueConstraint(fields=["job", "sequence"], name="evidence_sequence_once_a_job"),
        ]

    def __str__(self) -> str:
        return f"{self.job_id}/{self.sequence} {self.kind}"
