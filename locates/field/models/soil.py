"""The soil of a dig area as a competent person found it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, Q

from locates.field.words import SOIL_WORDS, pairs
from locates.ground.trench import Soil
from tickets.models import DigArea
from tickets.models.constraints import above_zero, known, not_blank


class SoilFinding(models.Model):
    """Never changed: the next finding of the same area follows it, and the latest counts."""

    client_id = models.UUIDField(unique=True)
    dig_area = models.ForeignKey(DigArea, on_delete=models.PROTECT, related_name="soil_findings")
    soil = models.CharField(max_length=16, choices=pairs(SOIL_WORDS), default=Soil.UNKNOWN)
    disturbed = models.BooleanField(default=True)
    water_or_seepage = models.BooleanField(default=False)
    cave_in_sign = models.BooleanField(null=True, blank=True, help_text="Empty: not examined")
    open_hours = models.FloatField(null=True, blank=True)
    competent_person = models.CharField(max_length=80)
    how_words = models.CharField(max_length=300, help_text="The visual and the manual test, and what they showed")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    found_at = models.DateTimeField()

    class Meta:
        ordering = ["dig_area_id", "-found_at", "-id"]
        indexes = [models.Index(fields=["dig_area", "-found_at", "-id"], name="soil_finding_latest_first")]
        constraints = [
            known("soil", Soil, "soil_finding_soil_known"),
            above_zero("open_hours", "soil_finding_open_hours_above_zero"),
            not_blank("competent_person", "soil_finding_names_the_person"),
            CheckConstraint(condition=Q(soil=str(Soil.UNKNOWN)) | ~Q(how_words=""), name="soil_finding_says_how"),
        ]

    def __str__(self) -> str:
        return self.get_soil_display()
