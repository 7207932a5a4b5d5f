"""What a crew carries: receivers, transmitters, cameras, monitors, and when each is due for calibration."""

from __future__ import annotations

from datetime import date

from django.db import models

from crews.models.crew import Crew


class EquipmentKind(models.TextChoices):
    RECEIVER = "receiver", "Receiver"
    TRANSMITTER = "transmitter", "Transmitter"
    SONDE = "sonde", "Sonde"
    CAMERA_REEL = "camera_reel", "Camera reel"
    GAS_MONITOR = "gas_monitor", "Gas monitor"
    VACUUM_UNIT = "vacuum_unit", "Vacuum unit"
    TRENCH_BOX = "trench_box", "Trench box"
    TRUCK = "truck", "Truck"
    OTHER = "other", "Other"


# Kinds whose reading people rely on (common practice, no source): without a date they are flagged too.
CALIBRATED = frozenset({EquipmentKind.RECEIVER, EquipmentKind.TRANSMITTER, EquipmentKind.GAS_MONITOR})


class Equipment(models.Model):
    """One item with its own serial number, and the crew that holds it (none: at the yard)."""

    kind = models.CharField(max_length=16, choices=EquipmentKind.choices)
    name = models.CharField(max_length=80)
    serial = models.CharField(max_length=60, unique=True)
    maker_words = models.CharField(max_length=120, blank=True)
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, null=True, blank=True, related_name="equipment")
    calibration_due_on = models.DateField(null=True, blank=True)
    out_of_service_reason = models.CharField(max_length=200, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.CheckConstraint(condition=models.Q(kind__in=EquipmentKind.values), name="equipment_kind_known"),
        ]
        indexes = [models.Index(fields=["calibration_due_on", "id"], name="equipment_due")]

    def __str__(self) -> str:
        return f"{self.name} ({self.serial})"

    def is_overdue(self, on: date) -> bool:
        """Good to the end of its due day; overdue from the next."""
        return self.calibration_due_on is not None and self.calibration_due_on < on

    def lacks_date(self) -> bool:
        """Its kind is calibrated, and nobody has said when it is due: unknown, not fine."""
        return self.kind in CALIBRATED and self.calibration_due_on is None
