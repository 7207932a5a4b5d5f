"""A dig that could not wait: why, by whom, and which duties are done."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from tickets.models.constraints import in_order, not_blank
from tickets.models.job import Job
from tickets.states import Life


class EmergencyDig(models.Model):
    """Open until someone closes it; the centre must have been told before."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="emergencies")
    reason = models.TextField()
    declared_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    declared_at = models.DateTimeField()
    centre_told_at = models.DateTimeField(null=True, blank=True)
    operators_told_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-declared_at", "-id"]
        constraints = [
            not_blank("reason", "emergency_has_a_reason"),
            in_order("declared_at", "closed_at", "emergency_closed_after_declared"),
            models.UniqueConstraint(
                fields=["job"], condition=models.Q(closed_at__isnull=True), name="emergency_one_open_a_job"
            ),
            models.CheckConstraint(
                condition=models.Q(closed_at__isnull=True) | models.Q(centre_told_at__isnull=False),
                name="emergency_closed_once_centre_told",
            ),
        ]

    def __str__(self) -> str:
        return f"Emergency {self.declared_at:%Y-%m-%d %H:%M}Z"

    @property
    def life(self) -> Life:
        if self.closed_at is not None:
            return Life.CLOSED
        return Life.OPEN if self.centre_told_at is None else Life.UNDER_WAY
