"""Browsers that want reminders, and the messages to them that wait to be sent."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Index, Q, UniqueConstraint

from crews.models.reminders import CareReminder

WAITING = Q(done_at=None, dropped_at=None)


class PushDevice(models.Model):
    """One browser's subscription (RFC 8030): where to send, and the browser's keys to encrypt with."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="push_devices")
    name = models.CharField(max_length=80)
    endpoint = models.TextField()
    endpoint_sha256 = models.CharField(max_length=64, unique=True)
    p256dh = models.CharField(max_length=120)
    auth = models.CharField(max_length=40)
    made_at = models.DateTimeField()
    reached_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    end_words = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-made_at", "-id"]
        indexes = [Index(fields=["person"], condition=Q(ended_at=None), name="push_device_live")]

    def __str__(self) -> str:
        return self.name


class PushMessage(models.Model):
    """A message to one device. Open until sent or dropped; a claim is a lease."""

    device = models.ForeignKey(PushDevice, on_delete=models.CASCADE, related_name="messages")
    reminder = models.ForeignKey(CareReminder, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    title = models.CharField(max_length=120)
    words = models.CharField(max_length=300)
    path = models.CharField(max_length=120)
    made_at = models.DateTimeField()
    next_attempt_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True, blank=True)
    claim_token = models.CharField(max_length=32, blank=True)
    attempts = models.PositiveIntegerField(default=0)
    last_error = models.CharField(max_length=300, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    dropped_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["next_attempt_at", "id"]
        constraints = [UniqueConstraint(fields=["device", "reminder"], name="push_message_once")]
        indexes = [Index(fields=["next_attempt_at", "id"], condition=WAITING, name="push_message_waiting")]

    def __str__(self) -> str:
        return self.title
