"""Work that falls due at an instant. The row is the truth; a broker's message is only a nudge."""

from __future__ import annotations

from django.db import models

from tickets.models.constraints import known
from tickets.models.job import Job
from tickets.models.ticket import Ticket
from tickets.states import FollowUpKind, Life, choices


class FollowUp(models.Model):
    """Open until done or superseded. A claim is a lease: it may run out, and then anyone may claim."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="follow_ups")
    ticket = models.ForeignKey(Ticket, on_delete=models.PROTECT, null=True, blank=True, related_name="follow_ups")
    kind = models.CharField(max_length=24, choices=choices(FollowUpKind))
    due_at = models.DateTimeField()
    message = models.CharField(max_length=400, blank=True)
    claimed_at = models.DateTimeField(null=True, blank=True)
    claim_token = models.CharField(max_length=32, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    superseded_at = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveIntegerField(default=0)
    next_attempt_at = models.DateTimeField(null=True, blank=True)
    last_error = models.TextField(blank=True)

    class Meta:
        ordering = ["due_at", "id"]
        indexes = [
            models.Index(
                fields=["due_at", "id"],
                condition=models.Q(done_at__isnull=True, superseded_at__isnull=True),
                name="follow_up_open_by_due",
            ),
            models.Index(fields=["job", "due_at"], name="follow_up_by_job"),
        ]
        constraints = [
            known("kind", FollowUpKind, "follow_up_kind_known"),
            models.UniqueConstraint(
                fields=["job", "ticket", "kind"],
                condition=models.Q(done_at__isnull=True, superseded_at__isnull=True),
                name="follow_up_one_open",
            ),
            models.UniqueConstraint(
                fields=["job", "kind"],
                condition=models.Q(done_at__isnull=True, superseded_at__isnull=True, ticket__isnull=True),
                name="follow_up_one_open_without_ticket",
            ),
            models.CheckConstraint(
                condition=models.Q(done_at__isnull=True) | models.Q(superseded_at__isnull=True),
                name="follow_up_done_or_superseded",
            ),
            models.CheckConstraint(
                condition=models.Q(done_at__isnull=True) | models.Q(claimed_at__isnull=False),
                name="follow_up_done_once_claimed",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.due_at:%Y-%m-%d %H:%M}Z"

    @property
    def life(self) -> Life:
        if self.done_at is not None:
            return Life.DONE
        if self.superseded_at is not None:
            return Life.SUPERSEDED
        return Life.OPEN if self.claimed_at is None else Life.CLAIMED
