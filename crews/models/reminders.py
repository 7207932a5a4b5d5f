"""Reminders of care that falls due, the private calendar addresses, imports waiting for a yes."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Index, Q, UniqueConstraint

from crews.models.equipment import Equipment

OPEN = Q(done_at=None, superseded_at=None)


class CareReminder(models.Model):
    """A letter to write at an instant. Open until sent or superseded; a claim is a lease."""

    item = models.ForeignKey(Equipment, on_delete=models.CASCADE, related_name="reminders")
    due_on = models.DateField()
    stage_days = models.SmallIntegerField(help_text="Days after the due day; before it: below zero")
    due_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True, blank=True)
    claim_token = models.CharField(max_length=32, blank=True)
    attempts = models.PositiveIntegerField(default=0)
    next_attempt_at = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=400, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    superseded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["due_at", "id"]
        constraints = [UniqueConstraint(fields=["item"], condition=OPEN, name="care_reminder_one_open")]
        indexes = [Index(fields=["due_at", "id"], condition=OPEN, name="care_reminder_open_by_due")]

    def __str__(self) -> str:
        return f"{self.item_id} {self.due_on} {self.stage_days:+d}"


class CalendarAddress(models.Model):
    """A private address from which a calendar reads the due dates. The secret itself is not kept."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    secret_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-id"]

    def __str__(self) -> str:
        return f"{self.person_id} {self.made_at:%Y-%m-%d}"


class ImportDraft(models.Model):
    """Rows read from a file, shown to the person before anything enters the register."""

    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    file_name = models.CharField(max_length=120)
    rows = models.JSONField()
    done_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-at", "-id"]

    def __str__(self) -> str:
        return self.file_name
