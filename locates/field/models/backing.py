"""What a run's quality level rests on besides its points."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, Q

from locates.field.models.run import Run
from locates.field.words import BACKING_WORDS, BackingKind, pairs
from tickets.models.constraints import known, not_blank


class Backing(models.Model):
    """Something that was done: by whom it is said, when, and with what figures. Withdrawn, it stays on file."""

    client_id = models.UUIDField(unique=True)
    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="backings")
    kind = models.CharField(max_length=12, choices=pairs(BACKING_WORDS))
    words = models.CharField(max_length=300, help_text="What was done, by whom, from which papers")
    other_run = models.ForeignKey(Run, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    figure_words = models.CharField(max_length=300, blank=True, help_text="What the comparison of two runs found")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_words = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["run_id", "id"]
        constraints = [
            known("kind", BackingKind, "locate_backing_kind_known"),
            not_blank("words", "locate_backing_says_what"),
            CheckConstraint(
                condition=Q(kind="agree", other_run__isnull=False) | (~Q(kind="agree") & Q(other_run=None)),
                name="locate_backing_agrees_with_a_run",
            ),
            CheckConstraint(
                condition=Q(withdrawn_at=None) | ~Q(withdrawn_words=""), name="locate_backing_withdrawn_says_why"
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()
