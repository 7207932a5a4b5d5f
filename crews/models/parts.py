"""Spare parts, kept simply: how many pieces are on each truck, and whether a yard keeps them."""

from __future__ import annotations

from django.db import models
from django.db.models import CheckConstraint, Q, UniqueConstraint

from crews.models.crew import Crew


class SparePart(models.Model):
    """A part that visits use up, as a repair coupling."""

    name = models.CharField(max_length=60, unique=True)

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name


class TruckStock(models.Model):
    """Pieces on a crew's truck as it sets out; each night they are made up to this number again."""

    part = models.ForeignKey(SparePart, on_delete=models.CASCADE, related_name="on_trucks")
    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, related_name="parts")
    pieces = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["part_id", "crew_id"]
        constraints = [
            UniqueConstraint(fields=["part", "crew"], name="truck_stock_once"),
            CheckConstraint(condition=Q(pieces__gte=1), name="truck_stock_is_some"),
        ]

    def __str__(self) -> str:
        return f"{self.pieces}"


class YardStock(models.Model):
    """The yard of that name keeps the part: a crew of the yard can fetch as many as it needs."""

    part = models.ForeignKey(SparePart, on_delete=models.CASCADE, related_name="at_yards")
    yard_name = models.CharField(max_length=120)

    class Meta:
        ordering = ["part_id", "yard_name"]
        constraints = [UniqueConstraint(fields=["part", "yard_name"], name="yard_stock_once")]

    def __str__(self) -> str:
        return self.yard_name
