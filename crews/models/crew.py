"""A crew: the people who go out together, where they start, what they can do."""

from __future__ import annotations

from django.db import models


class Crew(models.Model):
    """One crew. It is never deleted, only made inactive: visits and evidence go on naming it."""

    name = models.CharField(max_length=80, unique=True)
    yard_name = models.CharField(max_length=120)
    yard_latitude = models.FloatField()
    yard_longitude = models.FloatField()
    time_zone = models.CharField(max_length=64, help_text="IANA name; the crew's day is counted in it")
    skills = models.JSONField(default=list, blank=True, help_text="Words such as dig, private_locate, camera")
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(yard_latitude__gte=-90, yard_latitude__lte=90),
                name="crew_yard_latitude_in_range",
            ),
            models.CheckConstraint(
                condition=models.Q(yard_longitude__gte=-180, yard_longitude__lte=180),
                name="crew_yard_longitude_in_range",
            ),
        ]

    def __str__(self) -> str:
        return self.name
