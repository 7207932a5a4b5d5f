"""Who orders the work and where it is done."""

from __future__ import annotations

from django.db import models

from tickets.models.constraints import known, not_blank
from tickets.states import PlaceSource, choices


class Customer(models.Model):
    """Who ordered the work."""

    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=32, blank=True)
    email = models.EmailField(blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["name", "id"]
        indexes = [models.Index(fields=["name"], name="customer_by_name")]
        constraints = [not_blank("name", "customer_has_a_name")]

    def __str__(self) -> str:
        return self.name


class Site(models.Model):
    """A place of work: its state decides which law holds, its zone on which clock."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, null=True, blank=True, related_name="sites")
    name = models.CharField(max_length=120, blank=True)
    street = models.CharField(max_length=160)
    town = models.CharField(max_length=80)
    county = models.CharField(max_length=80, blank=True)
    state = models.CharField(max_length=2, help_text="Two letters, as VA")
    latitude = models.FloatField()
    longitude = models.FloatField()
    time_zone = models.CharField(max_length=64, help_text="IANA name, as America/New_York")
    place_source = models.CharField(max_length=16, choices=choices(PlaceSource), default=PlaceSource.CHOSEN)

    class Meta:
        ordering = ["state", "town", "street", "id"]
        indexes = [models.Index(fields=["state", "county", "town"], name="site_by_place")]
        constraints = [
            known("place_source", PlaceSource, "site_place_source_known"),
            models.CheckConstraint(
                condition=models.Q(latitude__gte=-90, latitude__lte=90), name="site_latitude_in_range"
            ),
            models.CheckConstraint(
                condition=models.Q(longitude__gte=-180, longitude__lte=180), name="site_longitude_in_range"
            ),
            not_blank("time_zone", "site_has_a_time_zone"),
            not_blank("state", "site_has_a_state"),
        ]

    def __str__(self) -> str:
        return f"{self.street}, {self.town}, {self.state}"
