"""A picture of what was found or left on the ground."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from locates.field.models.run import Run


class Photo(models.Model):
    """Kept without what the camera wrote into it. Served through a page that checks who asks."""

    client_id = models.UUIDField(unique=True)
    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="photos")
    point_number = models.PositiveIntegerField(null=True, blank=True)
    file = models.FileField(upload_to="locates/%Y/%m", max_length=200)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    words = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    added_at = models.DateTimeField()

    class Meta:
        ordering = ["run_id", "id"]

    def __str__(self) -> str:
        return self.words or f"Photo {self.pk}"
