"""Work that wants a crew and has no day yet: what a plan is made of."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, F, Index, Q

from crews.models.visit import Visit, VisitKind
from tickets.models import Job


class WantedPriority(models.TextChoices):
    EMERGENCY = "emergency", "Emergency"
    HIGH = "high", "High"
    NORMAL = "normal", "Normal"
    LOW = "low", "Low"


class WantedVisit(models.Model):
    """A visit that a job needs: how long, with which skills and kit, when the customer was promised it, and
    how long after the job's visit before it. `visit` is what it became."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="wanted_visits")
    kind = models.CharField(max_length=16, choices=VisitKind.choices)
    minutes = models.PositiveSmallIntegerField()
    priority = models.CharField(max_length=10, choices=WantedPriority.choices, default=WantedPriority.NORMAL)
    skills = models.JSONField(default=list, blank=True)
    kit = models.JSONField(default=list, blank=True, help_text="Kinds of equipment, as receiver")
    frequency_hz = models.PositiveIntegerField(null=True, blank=True, help_text="That the receiver must have")
    parts = models.JSONField(default=dict, blank=True, help_text="Pieces by the part's name")
    surface_only = models.BooleanField(default=False, help_text="A restoration that moves no earth")
    promised_from = models.DateTimeField(null=True, blank=True)
    promised_until = models.DateTimeField(null=True, blank=True)
    gap_least_hours = models.PositiveSmallIntegerField(default=0)
    gap_most_hours = models.PositiveSmallIntegerField(null=True, blank=True)
    visit = models.OneToOneField(Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="wanted")
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    dropped_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["job_id", "id"]
        constraints = [
            CheckConstraint(condition=Q(kind__in=VisitKind.values), name="wanted_visit_kind_known"),
            CheckConstraint(condition=Q(minutes__gte=5), name="wanted_visit_takes_time"),
            CheckConstraint(
                condition=Q(promised_from=None, promised_until=None) | Q(promised_until__gt=F("promised_from")),
                name="wanted_visit_promise_in_order",
            ),
            CheckConstraint(
                condition=Q(gap_most_hours=None) | Q(gap_most_hours__gte=F("gap_least_hours")),
                name="wanted_visit_gaps_in_order",
            ),
            CheckConstraint(
                condition=Q(surface_only=False) | Q(kind="restore"), name="wanted_surface_is_restoration"
            ),
        ]
        indexes = [Index(fields=["job"], condition=Q(visit=None, dropped_at=None), name="wanted_visit_open")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.minutes} min"


class PromisedWindow(models.Model):
    """One more stretch in which the customer was promised the visit's beginning."""

    wanted = models.ForeignKey(WantedVisit, on_delete=models.CASCADE, related_name="more_promises")
    opens_at = models.DateTimeField()
    closes_at = models.DateTimeField()

    class Meta:
        ordering = ["opens_at", "id"]
        constraints = [
            CheckConstraint(condition=Q(closes_at__gt=F("opens_at")), name="promised_window_in_order"),
        ]

    def __str__(self) -> str:
        return f"{self.opens_at:%Y-%m-%d %H:%M} to {self.closes_at:%H:%M}"
