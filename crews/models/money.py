"""What the whole register is worth and costs, reckoned once a day, ready to read."""

from __future__ import annotations

from django.db import models


def _amount() -> models.DecimalField:
    return models.DecimalField(max_digits=14, decimal_places=2, default=0)


class RegisterMoney(models.Model):
    """The figures of one day over every item that is there. A change of the register makes them stale; the next
    sweep reckons them anew."""

    on = models.DateField(unique=True)
    reckoned_at = models.DateTimeField()
    stale = models.BooleanField(default=True)
    changes = models.PositiveIntegerField(default=0, help_text="Counts what has changed since the row was made")
    priced = models.PositiveIntegerField(default=0)
    unpriced = models.PositiveIntegerField(default=0)
    without_life = models.PositiveIntegerField(default=0)
    paid = _amount()
    book_value = _amount()
    depreciation_past = _amount()
    depreciation_ahead = _amount()
    care_past = _amount()
    care_ahead = _amount()
    replace_ahead = _amount()
    replace_count = models.PositiveIntegerField(default=0)
    locating_past = _amount()
    uses_past = models.PositiveIntegerField(default=0)
    locates_past = models.PositiveIntegerField(default=0)
    away_days_past = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-on"]

    def __str__(self) -> str:
        return self.on.isoformat()
