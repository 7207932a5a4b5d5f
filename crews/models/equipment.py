"""What a crew carries: what it is, where it is now, when it is due next, what it cost.

Place and due day are copies of what the custody events and care results say, kept in the same transaction,
so that a long register is read without replaying a history.
"""

from __future__ import annotations

import secrets
from datetime import date

from django.conf import settings
from django.db import models

from crews.equipment.care import is_overdue
from crews.equipment.custody import WHERE_WORDS, Where
from crews.equipment.fit import MOST_VOLTS
from crews.equipment.money import METHOD_WORDS, Method
from crews.models.crew import Crew

CODE_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"  # none that is read as another
CODE_LENGTH = 8


class EquipmentKind(models.TextChoices):
    RECEIVER = "receiver", "Receiver"
    TRANSMITTER = "transmitter", "Transmitter"
    SONDE = "sonde", "Sonde"
    CAMERA_REEL = "camera_reel", "Camera reel"
    CLAMP = "clamp", "Clamp"
    GAS_MONITOR = "gas_monitor", "Gas monitor"
    VACUUM_UNIT = "vacuum_unit", "Vacuum unit"
    TRENCH_BOX = "trench_box", "Trench box"
    LADDER = "ladder", "Ladder"
    SLING = "sling", "Sling"
    INSULATED_GLOVES = "insulated_gloves", "Insulated gloves"
    TRUCK = "truck", "Truck"
    OTHER = "other", "Other"


# Kinds whose reading people rely on (common practice, no source): without a date they are flagged too.
CALIBRATED = frozenset({EquipmentKind.RECEIVER, EquipmentKind.TRANSMITTER, EquipmentKind.GAS_MONITOR})


def new_code() -> str:
    """What the label carries; it tells nothing of the item."""
    return "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))


class OwnKind(models.Model):
    """A kind that the company adds itself; its items are of kind `other`."""

    name = models.CharField(max_length=40, unique=True)

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name


class Kit(models.Model):
    """Items that go out together."""

    name = models.CharField(max_length=80, unique=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name


class Equipment(models.Model):
    """One item with its own serial number, and the one place where it is."""

    kind = models.CharField(max_length=16, choices=EquipmentKind.choices)
    own_kind = models.ForeignKey(OwnKind, on_delete=models.PROTECT, null=True, blank=True, related_name="items")
    kit = models.ForeignKey(Kit, on_delete=models.SET_NULL, null=True, blank=True, related_name="items")
    name = models.CharField(max_length=80)
    serial = models.CharField(max_length=60, unique=True)
    code = models.CharField(max_length=CODE_LENGTH, unique=True, default=new_code)
    maker_words = models.CharField(max_length=120, blank=True)
    note = models.TextField(blank=True)
    out_of_service_reason = models.CharField(max_length=200, blank=True)

    # Where it is: a copy of the last custody event.
    place = models.CharField(max_length=8, choices=list(WHERE_WORDS.items()), default=Where.YARD)
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, null=True, blank=True, related_name="equipment")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="equipment"
    )
    spot = models.CharField(max_length=80, blank=True)
    place_since = models.DateTimeField(null=True, blank=True)
    unconfirmed = models.BooleanField(default=False, help_text="Issued, and the crew has not said yes yet")

    # When it is due: a copy of the care states. `due_on` is the earliest of all that stops the item.
    stated_due_on = models.DateField(null=True, blank=True, help_text="Good through, as a certificate says")
    calibration_due_on = models.DateField(null=True, blank=True)
    due_on = models.DateField(null=True, blank=True)
    due_title = models.CharField(max_length=80, blank=True)
    care_unknown = models.CharField(max_length=80, blank=True, help_text="Care with no day to count from")

    put_in_service_on = models.DateField(null=True, blank=True)
    first_issued_on = models.DateField(null=True, blank=True)
    frequencies_hz = models.JSONField(default=list, blank=True)
    modes = models.CharField(max_length=120, blank=True)
    working_load_kg = models.FloatField(null=True, blank=True)
    voltage_class = models.CharField(max_length=2, blank=True, choices=[(n, n) for n in MOST_VOLTS])
    firmware = models.CharField(max_length=60, blank=True)

    bought_on = models.DateField(null=True, blank=True)
    price = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    tax = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    salvage = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    life_years = models.PositiveSmallIntegerField(null=True, blank=True)
    method = models.CharField(max_length=13, choices=list(METHOD_WORDS.items()), default=Method.STRAIGHT_LINE)
    warranty_until = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.CheckConstraint(condition=models.Q(kind__in=EquipmentKind.values), name="equipment_kind_known"),
            models.CheckConstraint(
                condition=models.Q(own_kind=None) | models.Q(kind="other"), name="equipment_own_kind_is_other"
            ),
            models.CheckConstraint(
                condition=models.Q(place="crew", crew__isnull=False, person=None)
                | models.Q(place="person", person__isnull=False, crew=None)
                | models.Q(place__in=["yard", "repair", "lost", "stolen", "retired"], crew=None, person=None),
                name="equipment_in_one_place",
            ),
            # The copy never hides a certificate that runs out earlier.
            models.CheckConstraint(
                condition=models.Q(calibration_due_on=None)
                | models.Q(due_on__isnull=False, due_on__lte=models.F("calibration_due_on")),
                name="equipment_due_by_calibration",
            ),
        ]
        indexes = [
            models.Index(fields=["calibration_due_on", "id"], name="equipment_due"),
            models.Index(fields=["due_on", "id"], name="equipment_next_due"),
            models.Index(fields=["name", "id"], name="equipment_by_name"),
            # The owner's page reads these two alone, without the rows.
            models.Index(fields=["place", "kind", "crew", "unconfirmed"], name="equipment_by_place"),
            models.Index(fields=["due_on", "place", "crew"], name="equipment_due_where"),
            models.Index(fields=["crew", "place"], name="equipment_by_crew"),
            models.Index(
                fields=["id"], condition=~models.Q(out_of_service_reason=""), name="equipment_out_of_service"
            ),
            models.Index(fields=["id"], condition=~models.Q(care_unknown=""), name="equipment_care_unknown"),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.serial})"

    @property
    def kind_words(self) -> str:
        """The kind, or the company's own name for it."""
        return self.own_kind.name if self.own_kind is not None else self.get_kind_display()

    @property
    def place_words(self) -> str:
        """Where it is, with the name."""
        holder = self.crew or self.person
        if holder is not None:
            return f"{holder}"
        words = WHERE_WORDS[Where(self.place)]
        return f"{words}, {self.spot}" if self.spot else words

    def is_overdue(self, on: date) -> bool:
        """Good to the end of its due day; overdue from the next."""
        return is_overdue(self.due_on, on)

    def lacks_date(self) -> bool:
        """Its kind is calibrated, and nobody has said when it is due: unknown, not fine."""
        return self.kind in CALIBRATED and self.calibration_due_on is None
