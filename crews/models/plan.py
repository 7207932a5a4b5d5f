"""A plan that was asked for, what came of it, and its stops; and what the owner weighs plans by."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, F, Index, Q

from crews.models.crew import Crew
from crews.models.visit import Visit, VisitKind
from tickets.models import Job


class PlanState(models.TextChoices):
    WAITING = "waiting", "Waiting for the worker"
    COMPUTING = "computing", "Being computed"
    PROPOSED = "proposed", "Proposed"
    FAILED = "failed", "Not computed"
    CALLED_OFF = "called_off", "Called off"
    SET_ASIDE = "set_aside", "Set aside"
    ACCEPTED = "accepted", "Accepted"


OPEN_STATES = (PlanState.WAITING, PlanState.COMPUTING)


class StopKind(models.TextChoices):
    VISIT = "visit", "Visit"
    YARD_CALL = "yard_call", "Call at the yard"
    BREAK = "break", "Break"


class Plan(models.Model):
    """One asking. `facts` holds a digest of everything that the result rests on, by what it is of, so that
    what has changed since can be named."""

    state = models.CharField(max_length=12, choices=PlanState.choices, default=PlanState.WAITING)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    working_days = models.PositiveSmallIntegerField()
    seconds = models.PositiveSmallIntegerField()

    claimed_at = models.DateTimeField(null=True, blank=True)
    told_at = models.DateTimeField(null=True, blank=True)
    phase = models.CharField(max_length=80, blank=True)
    best_cost = models.BigIntegerField(null=True, blank=True)
    left_s = models.FloatField(null=True, blank=True)
    call_off = models.BooleanField(default=False)

    computed_at = models.DateTimeField(null=True, blank=True)
    failure = models.CharField(max_length=400, blank=True)
    facts = models.JSONField(default=dict, blank=True)
    weights = models.JSONField(default=dict, blank=True)
    before = models.JSONField(default=dict, blank=True, help_text="Totals of the visits as they stood")
    after = models.JSONField(default=dict, blank=True, help_text="Totals of the proposal")
    unplanned = models.JSONField(default=list, blank=True)
    notes = models.JSONField(default=list, blank=True)
    held = models.JSONField(
        default=dict, blank=True, help_text="Visits that keep their hours because no place was found, with the reason"
    )
    travel = models.BinaryField(default=b"", blank=True, help_text="The routing server's table, packed; else empty")

    class Meta:
        ordering = ["-asked_at", "-id"]
        constraints = [CheckConstraint(condition=Q(state__in=PlanState.values), name="plan_state_known")]
        indexes = [Index(fields=["state", "asked_at"], name="plan_by_state")]

    def __str__(self) -> str:
        return f"Plan {self.pk}"


class PlanStop(models.Model):
    """One stop of a crew's day in a proposal. A visit's stop has a job and a kind of visit; `visit` is the
    visit that it moves, or the one that accepting it made."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="stops")
    stop = models.CharField(max_length=10, choices=StopKind.choices)
    key = models.CharField(max_length=60, blank=True, help_text="What the planner calls the visit")
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="+")
    shift = models.CharField(max_length=140)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    drive_s = models.PositiveIntegerField(default=0, help_text="Driving that leads here")
    latitude = models.FloatField()
    longitude = models.FloatField()
    job = models.ForeignKey(Job, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    kind = models.CharField(max_length=16, choices=VisitKind.choices, blank=True)
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    pinned = models.BooleanField(default=False)
    needs_renewal = models.BooleanField(default=False)
    promise_kept = models.BooleanField(default=True)
    assumes = models.CharField(max_length=500, blank=True, help_text="What must still come for the dig")
    moved = models.CharField(max_length=300, blank=True, help_text="From where it was moved, and why")
    fetches = models.CharField(max_length=300, blank=True, help_text="Kit fetched on a call at the yard")
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["starts_at", "id"]
        constraints = [
            CheckConstraint(condition=Q(ends_at__gte=F("starts_at")), name="plan_stop_in_order"),
            CheckConstraint(condition=Q(stop__in=StopKind.values), name="plan_stop_known"),
            CheckConstraint(
                condition=~Q(stop="visit") | Q(job__isnull=False, kind__in=VisitKind.values),
                name="plan_stop_of_a_visit_has_a_job",
            ),
        ]
        indexes = [Index(fields=["plan", "crew", "starts_at"], name="plan_stop_by_day")]

    def __str__(self) -> str:
        return f"{self.get_stop_display()} {self.starts_at:%Y-%m-%d %H:%M}"


class PlanWeights(models.Model):
    """What the owner weighs plans by: one row, the values by name; a name that is missing has its default."""

    values = models.JSONField(default=dict, blank=True)
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return "Weights of a plan"
