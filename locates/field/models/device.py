"""What a run was read with, as it stood that day."""

from __future__ import annotations

from django.db import models

from locates.field.models.run import Run
from locates.field.words import DEVICE_WORDS, DeviceKind, pairs
from tickets.models.constraints import above_zero, known, not_blank


class Device(models.Model):
    """A copy, not a link: the register may change afterwards, what was used that day does not.

    `equipment_id` is the register's number where it is known; the register lies above this app.
    """

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="devices")
    kind = models.CharField(max_length=16, choices=pairs(DEVICE_WORDS))
    name = models.CharField(max_length=80)
    serial = models.CharField(max_length=60)
    frequencies_hz = models.JSONField(default=list, blank=True)
    calibration_due_on = models.DateField(null=True, blank=True)
    full_scale = models.FloatField(null=True, blank=True, help_text="Receiver: the top of its signal scale")
    calibration_words = models.CharField(max_length=320)
    overdue = models.BooleanField(null=True, blank=True, help_text="On the run's day; empty where no date is known")
    equipment_id = models.BigIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["run_id", "id"]
        indexes = [models.Index(fields=["serial", "run"], name="locate_device_by_serial")]
        constraints = [
            models.UniqueConstraint(fields=["run", "kind"], name="locate_device_one_of_a_kind"),
            above_zero("full_scale", "locate_device_full_scale_above_zero"),
            known("kind", DeviceKind, "locate_device_kind_known"),
            not_blank("name", "locate_device_has_a_name"),
            not_blank("serial", "locate_device_has_a_serial"),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.serial})"
