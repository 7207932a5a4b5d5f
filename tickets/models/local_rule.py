"""The company's stricter local rules: a county's or a city's permit, a longer wait."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from locates.law.rule import Begins, Ends, Unit
from tickets.models.constraints import above_zero, not_blank
from tickets.models.job import Job


def _choices(words: type[Unit] | type[Begins] | type[Ends]) -> list[tuple[str, str]]:
    return [(str(word), str(word).replace("_", " ")) for word in words]


class LocalRule(models.Model):
    """On top of the state's law; it can lengthen the wait or ask for something, never shorten."""

    name = models.CharField(max_length=120)
    state = models.CharField(max_length=2)
    county = models.CharField(max_length=80, blank=True, help_text="Empty: the whole state")
    town = models.CharField(max_length=80, blank=True, help_text="Empty: the whole county")
    wait_amount = models.PositiveSmallIntegerField(null=True, blank=True)
    wait_unit = models.CharField(max_length=16, blank=True, choices=_choices(Unit))
    wait_begins = models.CharField(max_length=24, blank=True, choices=_choices(Begins))
    wait_ends = models.CharField(max_length=24, blank=True, choices=_choices(Ends))
    requirement = models.TextField(blank=True, help_text="What a person must confirm, as a permit in hand")
    source = models.TextField(help_text="Where the rule is written")
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["state", "county", "town", "name", "id"]
        indexes = [models.Index(fields=["state", "active"], name="local_rule_by_state")]
        constraints = [
            not_blank("source", "local_rule_has_a_source"),
            above_zero("wait_amount", "local_rule_wait_above_zero"),
            models.CheckConstraint(
                condition=~models.Q(requirement="") | models.Q(wait_amount__isnull=False),
                name="local_rule_asks_something",
            ),
            models.CheckConstraint(
                condition=models.Q(wait_amount__isnull=True)
                | (~models.Q(wait_unit="") & ~models.Q(wait_begins="") & ~models.Q(wait_ends="")),
                name="local_rule_wait_is_whole",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class LocalRuleConfirmation(models.Model):
    """Who confirmed for a job that the local requirement is met."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="local_rule_confirmations")
    rule = models.ForeignKey(LocalRule, on_delete=models.PROTECT, related_name="confirmations")
    confirmed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    confirmed_at = models.DateTimeField()
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["-confirmed_at", "-id"]
        constraints = [models.UniqueConstraint(fields=["job", "rule"], name="local_rule_confirmed_once")]

    def __str__(self) -> str:
        return f"{self.rule} confirmed"
