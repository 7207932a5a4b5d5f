"""A job and the ground it opens."""

from __future__ import annotations

from django.db import models

from tickets.models.constraints import above_zero, in_order, known, not_blank
from tickets.models.site import Customer, Site
from tickets.states import DigMethod, Life, State, choices


class Job(models.Model):
    """One piece of work at one site.

    The `verdict_*` columns are a copy for lists and filters, renewed by the services and by the sweep at
    `verdict_next_change_at`; the verdict itself is always computed from the facts.
    """

    number = models.CharField(max_length=32, unique=True)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="jobs")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="jobs")
    title = models.CharField(max_length=160)
    work = models.TextField(blank=True, help_text="What will be done")
    private_lines_likely = models.BooleanField(
        default=True, help_text="Lines that no operator marks may be there; unless known otherwise, they may"
    )
    created_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    work_begun_at = models.DateTimeField(null=True, blank=True)
    last_worked_on = models.DateField(null=True, blank=True, help_text="Local day at the site")
    next_dig_at = models.DateTimeField(null=True, blank=True, help_text="Start of the next planned dig")

    verdict_state = models.CharField(max_length=16, choices=choices(State), default=State.UNKNOWN)
    verdict_sentence = models.CharField(max_length=400, blank=True)
    verdict_at = models.DateTimeField(null=True, blank=True)
    verdict_next_change_at = models.DateTimeField(null=True, blank=True)
    verdict_digest = models.CharField(max_length=64, blank=True, help_text="SHA-256 of what was last logged")
    governing_ticket = models.ForeignKey(
        "tickets.Ticket", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    evidence_length = models.PositiveIntegerField(default=0, help_text="Entries in the evidence log")
    evidence_head = models.CharField(max_length=64, blank=True, help_text="Hash of the last entry")

    class Meta:
        ordering = ["-created_at", "-id"]
        indexes = [
            models.Index(fields=["-created_at", "-id"], name="job_newest_first"),
            models.Index(fields=["verdict_state", "-created_at"], name="job_by_verdict"),
            models.Index(fields=["verdict_next_change_at"], name="job_by_next_change"),
        ]
        constraints = [
            not_blank("number", "job_has_a_number"),
            known("verdict_state", State, "job_verdict_known"),
            in_order("created_at", "closed_at", "job_closed_after_created"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.title}"

    @property
    def life(self) -> Life:
        if self.closed_at is not None:
            return Life.CLOSED
        return Life.OPEN if self.work_begun_at is None else Life.UNDER_WAY


class DigArea(models.Model):
    """Ground that the job opens: GeoJSON Polygon or MultiPolygon, WGS 84, longitude before latitude."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="dig_areas")
    name = models.CharField(max_length=80, blank=True)
    polygon = models.JSONField()
    planned_depth_m = models.FloatField(null=True, blank=True)
    planned_width_m = models.FloatField(null=True, blank=True)
    method = models.CharField(max_length=16, choices=choices(DigMethod))
    removed_at = models.DateTimeField(null=True, blank=True, help_text="No longer part of the job")

    class Meta:
        ordering = ["job_id", "id"]
        constraints = [
            known("method", DigMethod, "dig_area_method_known"),
            above_zero("planned_depth_m", "dig_area_depth_above_zero"),
            above_zero("planned_width_m", "dig_area_width_above_zero"),
        ]

    def __str__(self) -> str:
        return self.name or f"Dig area {self.pk}"
