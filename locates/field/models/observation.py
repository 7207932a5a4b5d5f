"""What a sewer camera saw, at a reading of its counter."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, Q

from locates.field.models.run import Run
from tickets.models.constraints import not_blank


class Observation(models.Model):
    """Where it lies on the ground is reckoned from the run's marks: see the run's result."""

    client_id = models.UUIDField(unique=True)
    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="observations")
    counter_m = models.FloatField()
    words = models.CharField(max_length=120)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    taken_out_at = models.DateTimeField(null=True, blank=True)
    taken_out_words = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["run_id", "counter_m", "id"]
        constraints = [
            not_blank("words", "locate_observation_says_what"),
            CheckConstraint(condition=Q(counter_m__gte=0), name="locate_observation_counter_not_below_zero"),
            CheckConstraint(
                condition=Q(taken_out_at=None) | ~Q(taken_out_words=""), name="locate_observation_out_says_why"
            ),
        ]

    def __str__(self) -> str:
        return self.words
