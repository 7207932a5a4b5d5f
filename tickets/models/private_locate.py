"""What was done about lines that no operator marks."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from tickets.models.constraints import known
from tickets.models.job import Job
from tickets.states import LocateKind, choices


class PrivateLocate(models.Model):
    """The company's own locate, or a person's reasoned word that none is needed."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="private_locates")
    kind = models.CharField(max_length=16, choices=choices(LocateKind))
    made_at = models.DateTimeField()
    reason = models.TextField(blank=True)
    result_words = models.TextField(blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    doubted_at = models.DateTimeField(null=True, blank=True)
    doubt_words = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-made_at", "-id"]
        indexes = [models.Index(fields=["job", "-made_at", "-id"], name="private_locate_latest_first")]
        constraints = [
            known("kind", LocateKind, "private_locate_kind_known"),
            models.CheckConstraint(
                condition=(models.Q(kind="waived") & ~models.Q(reason=""))
                | (models.Q(kind="located") & ~models.Q(result_words="")),
                name="private_locate_says_what",
            ),
            models.CheckConstraint(
                condition=models.Q(doubted_at=None, doubt_words="")
                | (models.Q(doubted_at__isnull=False) & ~models.Q(doubt_words="")),
                name="private_locate_doubt_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.made_at:%Y-%m-%d %H:%M}Z"
