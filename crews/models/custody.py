"""Every change of an item's place, in order; a stay runs from `at` up to `until`, None: still there."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, F, Index, Q, UniqueConstraint

from crews.equipment.custody import STEP_WORDS, WHERE_WORDS, Step, Where
from crews.models.crew import Crew
from crews.models.equipment import Equipment


class CustodyEvent(models.Model):
    """One step and the stay that it began. The database holds stays end to end (see custody_guards)."""

    item = models.ForeignKey(Equipment, on_delete=models.PROTECT, related_name="custody")
    sequence = models.PositiveIntegerField()
    step = models.CharField(max_length=9, choices=list(STEP_WORDS.items()))
    at = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True)
    place = models.CharField(max_length=8, choices=list(WHERE_WORDS.items()))
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    spot = models.CharField(max_length=80, blank=True)
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["item_id", "sequence"]
        constraints = [
            UniqueConstraint(fields=["item", "sequence"], name="custody_in_order"),
            UniqueConstraint(fields=["item"], condition=Q(until=None), name="custody_one_place_now"),
            CheckConstraint(condition=Q(until=None) | Q(until__gte=F("at")), name="custody_until_after_at"),
            CheckConstraint(condition=Q(step__in=[str(word) for word in Step]), name="custody_step_known"),
            CheckConstraint(
                condition=Q(place=Where.CREW, crew__isnull=False, person=None)
                | Q(place=Where.PERSON, person__isnull=False, crew=None)
                | Q(place__in=["yard", "repair", "lost", "stolen", "retired"], crew=None, person=None),
                name="custody_in_one_place",
            ),
        ]
        indexes = [
            Index(fields=["crew", "at"], name="custody_by_crew"),
            Index(fields=["at", "until"], condition=Q(place=Where.REPAIR), name="custody_away"),
        ]

    def __str__(self) -> str:
        return f"{self.get_step_display()} {self.at:%Y-%m-%d %H:%M}Z"
