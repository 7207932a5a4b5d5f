"""A crew at a site, from one instant to another, for one purpose."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from crews.models.crew import Crew
from tickets.models import Job, Ticket


class VisitKind(models.TextChoices):
    WHITE_LINE = "white_line", "White lining"
    PRIVATE_LOCATE = "private_locate", "Private locate"
    CAMERA = "camera", "Camera inspection"
    DIG = "dig", "Dig"
    RESTORE = "restore", "Restoration"
    RE_MARK_CHECK = "re_mark_check", "Re-mark check"


def breaks_ground(kind: str, surface_only: bool = False) -> bool:
    """Whether the visit moves earth and so is held to the lawful window: a dig, and a restoration unless a person
    has said that it works on the surface alone. The state's own meaning of excavation decides on the day."""
    return kind == VisitKind.DIG or (kind == VisitKind.RESTORE and not surface_only)


MOVES_EARTH = models.Q(kind=VisitKind.DIG) | models.Q(kind=VisitKind.RESTORE, surface_only=False)


class Visit(models.Model):
    """Cancelled visits stay, so that what was planned can be told later."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="visits")
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="visits")
    kind = models.CharField(max_length=16, choices=VisitKind.choices)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    ticket = models.ForeignKey(Ticket, on_delete=models.PROTECT, null=True, blank=True, related_name="visits")
    pinned = models.BooleanField(default=False)
    surface_only = models.BooleanField(default=False, help_text="A restoration that moves no earth")
    note = models.TextField(blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancel_reason = models.CharField(max_length=200, blank=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField()

    class Meta:
        ordering = ["starts_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(ends_at__gt=models.F("starts_at")), name="visit_ends_after_start"
            ),
            models.CheckConstraint(condition=models.Q(kind__in=VisitKind.values), name="visit_kind_known"),
            models.CheckConstraint(
                condition=models.Q(surface_only=False) | models.Q(kind="restore"), name="visit_surface_is_restoration"
            ),
        ]
        indexes = [
            models.Index(fields=["crew", "starts_at"], name="visit_crew_day"),
            models.Index(fields=["starts_at", "id"], name="visit_day"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.starts_at:%Y-%m-%d %H:%M}"

    @property
    def breaks_ground(self) -> bool:
        return breaks_ground(self.kind, self.surface_only)
