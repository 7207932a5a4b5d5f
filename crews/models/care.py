"""Care of equipment: rules for single items, results, where each care stands, days of use, overrides."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, F, Index, Q, UniqueConstraint

from crews.equipment.care import CARE_WORDS, Care, DueState
from crews.models.equipment import Equipment, OwnKind
from crews.models.papers import Paper
from tickets.models import PrivateLocate

CARE_CHOICES = list(CARE_WORDS.items())


def _at_least_one(field: str, name: str) -> CheckConstraint:
    return CheckConstraint(condition=Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__gte": 1}), name=name)


class SetRule(models.Model):
    """What a person has set about a care: how often, and by what standard or for what reason."""

    key = models.CharField(max_length=40)
    care = models.CharField(max_length=16, choices=CARE_CHOICES)
    title = models.CharField(max_length=80)
    every_months = models.PositiveSmallIntegerField(null=True, blank=True)
    every_days = models.PositiveSmallIntegerField(null=True, blank=True)
    every_uses = models.PositiveIntegerField(null=True, blank=True)
    each_day_of_use = models.BooleanField(default=False)
    not_needed = models.BooleanField(default=False)
    source = models.CharField(max_length=200)
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        abstract = True
        ordering = ["key", "id"]

    def __str__(self) -> str:
        return self.title


class OwnKindRule(SetRule):
    """A rule of a kind of the company's own; a single item may have another in its place."""

    own_kind = models.ForeignKey(OwnKind, on_delete=models.CASCADE, related_name="care_rules")

    class Meta(SetRule.Meta):
        constraints = [
            UniqueConstraint(fields=["own_kind", "key"], name="own_kind_rule_once"),
            CheckConstraint(condition=Q(care__in=[str(word) for word in Care]), name="own_kind_rule_care_known"),
            _at_least_one("every_months", "own_kind_rule_months_above_zero"),
            _at_least_one("every_days", "own_kind_rule_days_above_zero"),
            _at_least_one("every_uses", "own_kind_rule_uses_above_zero"),
            CheckConstraint(condition=~Q(source=""), name="own_kind_rule_says_why"),
        ]


class ItemCareRule(SetRule):
    """A rule of one item: in place of its kind's rule of the same key, or one of its own."""

    item = models.ForeignKey(Equipment, on_delete=models.PROTECT, related_name="care_rules")

    class Meta(SetRule.Meta):
        constraints = [
            UniqueConstraint(fields=["item", "key"], name="item_care_rule_once"),
            CheckConstraint(condition=Q(care__in=[str(word) for word in Care]), name="item_care_rule_care_known"),
            _at_least_one("every_months", "item_care_rule_months_above_zero"),
            _at_least_one("every_days", "item_care_rule_days_above_zero"),
            _at_least_one("every_uses", "item_care_rule_uses_above_zero"),
            CheckConstraint(condition=~Q(source=""), name="item_care_rule_says_why"),
        ]


class CareResult(models.Model):
    """What a check found. Never changed: a wrong entry is followed by a right one."""

    item = models.ForeignKey(Equipment, on_delete=models.PROTECT, related_name="care_results")
    key = models.CharField(max_length=40)
    care = models.CharField(max_length=16, choices=CARE_CHOICES)
    title = models.CharField(max_length=80)
    done_on = models.DateField()
    passed = models.BooleanField()
    laboratory = models.CharField(max_length=120, blank=True)
    certificate_number = models.CharField(max_length=60, blank=True)
    as_found = models.CharField(max_length=200, blank=True)
    as_left = models.CharField(max_length=200, blank=True)
    uncertainty = models.CharField(max_length=80, blank=True)
    known_value = models.FloatField(null=True, blank=True)
    readings = models.JSONField(default=list, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    outcome_words = models.CharField(max_length=200, blank=True)
    stated_due_on = models.DateField(null=True, blank=True)
    cost = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    note = models.CharField(max_length=400, blank=True)
    paper = models.ForeignKey(Paper, on_delete=models.PROTECT, null=True, blank=True, related_name="results")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["-done_on", "-id"]
        constraints = [
            CheckConstraint(condition=Q(care__in=[str(word) for word in Care]), name="care_result_care_known")
        ]
        indexes = [
            Index(fields=["item", "key", "-done_on", "-id"], name="care_result_latest_first"),
            Index(fields=["done_on", "cost", "item"], condition=Q(cost__gt=0), name="care_result_costs"),
        ]

    def __str__(self) -> str:
        return f"{self.title} {self.done_on}: {'passed' if self.passed else 'failed'}"


class CareState(models.Model):
    """Where one care of one item stands: derived, kept in the transaction of whatever changes it."""

    item = models.ForeignKey(Equipment, on_delete=models.CASCADE, related_name="care_states")
    key = models.CharField(max_length=40)
    care = models.CharField(max_length=16, choices=CARE_CHOICES)
    title = models.CharField(max_length=80)
    source = models.CharField(max_length=200)
    stops = models.BooleanField(default=True)
    state = models.CharField(max_length=8, choices=[(s, s) for s in DueState])
    due_on = models.DateField(null=True, blank=True)
    words = models.CharField(max_length=200)
    every_months = models.PositiveSmallIntegerField(null=True, blank=True)
    last_good_on = models.DateField(null=True, blank=True)
    last_cost = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)

    class Meta:
        ordering = ["key", "id"]
        constraints = [UniqueConstraint(fields=["item", "key"], name="care_state_once")]
        indexes = [
            Index(fields=["due_on", "id"], name="care_state_due"),
            Index(
                fields=["every_months", "last_cost", "item"],
                condition=Q(last_cost__gt=0, every_months__gt=0),
                name="care_state_costs",
            ),
        ]

    def __str__(self) -> str:
        return self.title


class UseDay(models.Model):
    """The item was used on that day."""

    item = models.ForeignKey(Equipment, on_delete=models.PROTECT, related_name="use_days")
    on = models.DateField()

    class Meta:
        ordering = ["-on", "id"]
        constraints = [UniqueConstraint(fields=["item", "on"], name="use_day_once")]
        indexes = [Index(fields=["on", "item"], name="use_day_by_day")]

    def __str__(self) -> str:
        return self.on.isoformat()


class UseTally(models.Model):
    """How many items of a kind were used on a day: what a year of use days adds up to, ready to read."""

    kind = models.CharField(max_length=16)
    on = models.DateField()
    count = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-on", "kind"]
        constraints = [UniqueConstraint(fields=["on", "kind"], name="use_tally_once")]

    def __str__(self) -> str:
        return f"{self.on} {self.kind}: {self.count}"


class LocateInstrument(models.Model):
    """The item that a private locate was made with."""

    locate = models.ForeignKey(PrivateLocate, on_delete=models.PROTECT, related_name="+")
    item = models.ForeignKey(Equipment, on_delete=models.PROTECT, related_name="locate_uses")

    class Meta:
        ordering = ["id"]
        constraints = [UniqueConstraint(fields=["locate", "item"], name="locate_instrument_once")]

    def __str__(self) -> str:
        return f"{self.item_id} on locate {self.locate_id}"


class Override(models.Model):
    """The owner's word that an item which is due may go out all the same, for some days, and why."""

    item = models.ForeignKey(Equipment, on_delete=models.PROTECT, related_name="overrides")
    from_on = models.DateField()
    to_on = models.DateField()
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-at", "-id"]
        constraints = [
            CheckConstraint(condition=Q(to_on__gte=F("from_on")), name="override_in_order"),
            CheckConstraint(condition=~Q(reason=""), name="override_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.from_on} to {self.to_on}"
