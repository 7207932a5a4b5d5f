"""When a crew works: shifts by weekday, days off."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, F, Index, Q, UniqueConstraint

from crews.models.crew import Crew

WEEKDAYS = (
    (0, "Monday"),
    (1, "Tuesday"),
    (2, "Wednesday"),
    (3, "Thursday"),
    (4, "Friday"),
    (5, "Saturday"),
    (6, "Sunday"),
)


class ShiftPlace(models.TextChoices):
    YARD = "yard", "the yard"
    HOME = "home", "home"


class CrewHome(models.Model):
    """Where a crew's truck stands overnight when it does not go to the yard."""

    crew = models.OneToOneField(Crew, on_delete=models.CASCADE, related_name="home")
    latitude = models.FloatField()
    longitude = models.FloatField()

    class Meta:
        ordering = ["crew_id"]
        constraints = [
            CheckConstraint(
                condition=Q(latitude__gte=-90, latitude__lte=90, longitude__gte=-180, longitude__lte=180),
                name="crew_home_on_earth",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.latitude:.5f}, {self.longitude:.5f}"


class CrewShift(models.Model):
    """A crew's hours on one weekday, on its yard's clock, and from where to where. Two on one weekday must not
    overlap (a service sees to that); a break lies in the middle of the shift."""

    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, related_name="shifts")
    weekday = models.PositiveSmallIntegerField(choices=WEEKDAYS)
    starts = models.TimeField()
    ends = models.TimeField()
    break_minutes = models.PositiveSmallIntegerField(default=30)
    overtime_minutes = models.PositiveSmallIntegerField(default=60, help_text="At most, beyond the end")
    begins_from = models.CharField(max_length=4, choices=ShiftPlace.choices, default=ShiftPlace.YARD)
    ends_back_at = models.CharField(max_length=4, choices=ShiftPlace.choices, default=ShiftPlace.YARD)

    class Meta:
        ordering = ["crew_id", "weekday", "starts"]
        constraints = [
            CheckConstraint(condition=Q(ends__gt=F("starts")), name="crew_shift_ends_after_start"),
            CheckConstraint(condition=Q(weekday__lte=6), name="crew_shift_weekday_known"),
            CheckConstraint(
                condition=Q(begins_from__in=ShiftPlace.values, ends_back_at__in=ShiftPlace.values),
                name="crew_shift_places_known",
            ),
            UniqueConstraint(fields=["crew", "weekday", "starts"], name="crew_shift_once"),
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.starts:%H:%M} to {self.ends:%H:%M}"


class DayOff(models.Model):
    """A day on which a crew does not work."""

    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, related_name="days_off")
    on = models.DateField()
    reason = models.CharField(max_length=120, blank=True)
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["on", "crew_id"]
        constraints = [UniqueConstraint(fields=["crew", "on"], name="day_off_once")]
        indexes = [Index(fields=["on", "crew"], name="day_off_by_day")]

    def __str__(self) -> str:
        return self.on.isoformat()
