"""One locate run: one target followed by one method, and what its points are worth."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, Q

from locates.field.words import METHODS, PLUMBING_WORDS, POSITION_WORDS, PositionBy, pairs
from locates.ground.pipe import PlumbingCode
from tickets.models import Job, PrivateLocate
from tickets.models.constraints import above_zero, in_order, known, not_blank
from tickets.states import Utility, choices


class Run(models.Model):
    """Points belong to it in the order walked. `result` is what the engine made of them (see `reckoning`),
    renewed by every write; `result_version` says by which reckoning."""

    client_id = models.UUIDField(unique=True, help_text="Id from the device that began it")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="locate_runs")
    label = models.CharField(max_length=80)
    utility = models.CharField(max_length=16, choices=choices(Utility), default=Utility.UNKNOWN)
    owner_words = models.CharField(max_length=120, blank=True)
    method = models.CharField(max_length=16, choices=METHODS)
    frequency_hz = models.FloatField(null=True, blank=True)
    outside_diameter_m = models.FloatField(null=True, blank=True)
    transmitter_words = models.CharField(max_length=300, blank=True)
    transmitter_latitude = models.FloatField(null=True, blank=True)
    transmitter_longitude = models.FloatField(null=True, blank=True)
    transmitter_moment_a_m2 = models.FloatField(null=True, blank=True, help_text="By its maker, for induction")
    ground_words = models.CharField(max_length=200, blank=True)
    weather_words = models.CharField(max_length=200, blank=True)

    position_by = models.CharField(max_length=16, choices=pairs(POSITION_WORDS), default=PositionBy.PHONE)
    start_words = models.CharField(max_length=120, blank=True)
    start_latitude = models.FloatField(null=True, blank=True)
    start_longitude = models.FloatField(null=True, blank=True)
    end_words = models.CharField(max_length=120, blank=True)
    end_latitude = models.FloatField(null=True, blank=True)
    end_longitude = models.FloatField(null=True, blank=True)
    mark_accuracy_m = models.FloatField(null=True, blank=True, help_text="How well the fixed marks are known, 95 %")

    pipe_size_m = models.FloatField(null=True, blank=True, help_text="Nominal size, for the least fall")
    plumbing_code = models.CharField(max_length=3, choices=pairs(PLUMBING_WORDS), default=PlumbingCode.IPC)
    flows_away = models.BooleanField(default=True, help_text="The pipe falls in the order of the points")
    sonde_behind_lens_m = models.FloatField(null=True, blank=True)

    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    finished_at = models.DateTimeField(null=True, blank=True)
    finished_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    found = models.BooleanField(null=True, blank=True)
    finding_words = models.TextField(blank=True)
    private_locate = models.ForeignKey(
        PrivateLocate, on_delete=models.PROTECT, null=True, blank=True, related_name="locate_runs"
    )

    last_number = models.PositiveIntegerField(default=0)
    result = models.JSONField(null=True, blank=True)
    result_version = models.CharField(max_length=16, blank=True)
    reckoned_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-begun_at", "-id"]
        indexes = [models.Index(fields=["job", "begun_at", "id"], name="locate_run_by_job")]
        constraints = [
            not_blank("label", "locate_run_has_a_label"),
            known("utility", Utility, "locate_run_utility_known"),
            known("position_by", PositionBy, "locate_run_position_known"),
            CheckConstraint(condition=Q(method__in=[word for word, _ in METHODS]), name="locate_run_method_known"),
            above_zero("frequency_hz", "locate_run_frequency_above_zero"),
            above_zero("outside_diameter_m", "locate_run_diameter_above_zero"),
            above_zero("transmitter_moment_a_m2", "locate_run_moment_above_zero"),
            above_zero("pipe_size_m", "locate_run_pipe_size_above_zero"),
            known("plumbing_code", PlumbingCode, "locate_run_plumbing_code_known"),
            in_order("begun_at", "finished_at", "locate_run_ends_after_start"),
            CheckConstraint(
                condition=Q(finished_at=None, finished_by=None, found=None)
                | Q(finished_at__isnull=False, finished_by__isnull=False, found__isnull=False),
                name="locate_run_finish_says_who_and_what",
            ),
            CheckConstraint(
                condition=~Q(position_by="baseline")
                | Q(
                    start_latitude__isnull=False,
                    start_longitude__isnull=False,
                    end_latitude__isnull=False,
                    end_longitude__isnull=False,
                    mark_accuracy_m__gt=0,
                ),
                name="locate_run_baseline_has_both_marks",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.label}, {self.get_method_display().lower()}"

    @property
    def is_open(self) -> bool:
        """Points may still be added."""
        return self.finished_at is None
