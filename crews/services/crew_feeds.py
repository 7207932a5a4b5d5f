"""Writes of the crews' private calendar addresses."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from crews.models import Crew, CrewFeed, Person
from crews.models.feed import new_token
from tickets.services.refusals import need_office


@transaction.atomic
def renew_crew_feed(*, crew: Crew, actor: Person, now: datetime) -> CrewFeed:
    """A new private address for the crew's calendar; the old one, if any, answers no more."""
    need_office(actor)
    feed, _ = CrewFeed.objects.update_or_create(crew=crew, defaults={"token": new_token(), "made_at": now})
    return feed
