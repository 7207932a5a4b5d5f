"""One point of a run: where, what was read, what was left on the ground."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, Q

from locates.field.models.run import Run
from locates.field.words import PLACED_WORDS, Placed, pairs
from tickets.models.constraints import above_zero, known


class Point(models.Model):
    """Absent means not read, never zero. A point taken out stays on file, with the reason."""

    client_id = models.UUIDField(unique=True, help_text="Id from the device; sent again it changes nothing")
    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="points")
    number = models.PositiveIntegerField()
    latitude = models.FloatField()
    longitude = models.FloatField()
    accuracy_m = models.FloatField(help_text="Radius of about 95 % about the position")
    along_m = models.FloatField(null=True, blank=True)
    left_m = models.FloatField(null=True, blank=True)
    depth_m = models.FloatField(null=True, blank=True, help_text="As the receiver shows; exposed: to the top")
    null_off_m = models.FloatField(null=True, blank=True, help_text="Null beside the peak, across the line")
    left_45_m = models.FloatField(null=True, blank=True)
    right_45_m = models.FloatField(null=True, blank=True)
    current_ma = models.FloatField(null=True, blank=True)
    signal = models.FloatField(null=True, blank=True)
    gain_db = models.FloatField(null=True, blank=True)
    null_behind_m = models.FloatField(null=True, blank=True, help_text="Sonde: from the rear null to the peak")
    null_ahead_m = models.FloatField(null=True, blank=True, help_text="Sonde: from the peak to the front null")
    counter_m = models.FloatField(null=True, blank=True)
    ground_level_m = models.FloatField(null=True, blank=True)
    measured_within_m = models.FloatField(null=True, blank=True, help_text="Exposed: how closely it was measured")
    target_verified = models.BooleanField(default=False)
    placed = models.CharField(max_length=16, choices=pairs(PLACED_WORDS), default=Placed.NOTHING)
    note = models.CharField(max_length=200, blank=True)
    taken_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    taken_out_at = models.DateTimeField(null=True, blank=True)
    taken_out_words = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["run_id", "number"]
        constraints = [
            models.UniqueConstraint(fields=["run", "number"], name="locate_point_number_once"),
            known("placed", Placed, "locate_point_placed_known"),
            above_zero("depth_m", "locate_point_depth_above_zero"),
            CheckConstraint(condition=Q(accuracy_m__gt=0), name="locate_point_accuracy_above_zero"),
            CheckConstraint(
                condition=Q(latitude__gte=-90, latitude__lte=90, longitude__gte=-180, longitude__lte=180),
                name="locate_point_on_earth",
            ),
            CheckConstraint(
                condition=Q(taken_out_at=None) | ~Q(taken_out_words=""), name="locate_point_out_says_why"
            ),
        ]

    def __str__(self) -> str:
        return f"Point {self.number}"
