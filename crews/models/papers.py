"""Photographs, certificates and other documents of an item, as files under MEDIA_ROOT."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from crews.models.equipment import Equipment


class PaperSort(models.TextChoices):
    CERTIFICATE = "certificate", "Certificate"
    PHOTO = "photo", "Photograph"
    DOCUMENT = "document", "Document"


class Paper(models.Model):
    """One file; its name on the disk is ours, the person's is only shown."""

    item = models.ForeignKey(Equipment, on_delete=models.PROTECT, related_name="papers")
    sort = models.CharField(max_length=11, choices=PaperSort.choices)
    title = models.CharField(max_length=120)
    file = models.FileField(upload_to="equipment/", max_length=120)
    media_type = models.CharField(max_length=40)
    size_bytes = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    added_at = models.DateTimeField()

    class Meta:
        ordering = ["-added_at", "-id"]

    def __str__(self) -> str:
        return self.title
