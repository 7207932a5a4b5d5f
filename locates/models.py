"""What the API keeps beside the apps' own tables."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class AnsweredRequest(models.Model):
    """A write that was answered, under the id its sender gave it; sent again, it changes nothing.

    Written in the transaction of the write itself, so either both stand or neither does.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=200)
    fingerprint = models.CharField(max_length=64, help_text="SHA-256 of method, address and content")
    status = models.PositiveSmallIntegerField(null=True)
    body = models.JSONField(null=True)
    answered_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "key"], name="answered_request_once"),
        ]
        indexes = [models.Index(fields=["answered_at"], name="answered_request_age")]

    def __str__(self) -> str:
        return f"{self.key} ({self.status})"
