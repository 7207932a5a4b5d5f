"""The private address of a crew's calendar."""

from __future__ import annotations

import secrets

from django.db import models

from crews.models.crew import Crew


def new_token() -> str:
    """Whoever has it can read the calendar: 256 bits, nothing to guess from."""
    return secrets.token_urlsafe(32)


class CrewFeed(models.Model):
    """One a crew. A new token ends the old address at once."""

    crew = models.OneToOneField(Crew, on_delete=models.CASCADE, related_name="feed")
    token = models.CharField(max_length=64, unique=True, default=new_token)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["crew_id"]

    def __str__(self) -> str:
        return f"Calendar of {self.crew_id}"
