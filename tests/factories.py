"""Rows of the office for tests: factories for single rows, and whole jobs made through the services.

All of it is invented; telephone numbers are of the kind 555-01xx. The site lies in open land in Virginia,
where (by the rule in force in 2026) a notice of Tue 8 Sep 2026, 10 AM opens Fri 11 Sep, 7 AM.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

import factory
from factory.django import DjangoModelFactory

from tests.crews.factories import CrewFactory, PersonFactory
from tickets import services
from tickets.models import Customer, Job, LocalRule, Site, Ticket, TicketOperator

LATITUDE, LONGITUDE = 37.40, -77.62
NOW = datetime(2026, 9, 16, 14, 0, tzinfo=UTC)  # Wed 10:00 AM EDT, as tests.conftest.FROZEN
ENTERED = datetime(2026, 9, 8, 13, 0, tzinfo=UTC)  # Tue 9:00 AM EDT
RECEIVED = datetime(2026, 9, 8, 14, 0, tzinfo=UTC)  # Tue 10:00 AM EDT
OPENS = datetime(2026, 9, 11, 11, 0, tzinfo=UTC)  # Fri 7:00 AM EDT


def square(west_m: float = 0.0, south_m: float = 0.0, size_m: float = 20.0) -> dict[str, Any]:
    """A square whose south-west corner lies so many metres from the site's position."""
    lon, lat = LONGITUDE + west_m / 88_500, LATITUDE + south_m / 111_000
    dlon, dlat = size_m / 88_500, size_m / 111_000
    ring = [[lon, lat], [lon + dlon, lat], [lon + dlon, lat + dlat], [lon, lat + dlat], [lon, lat]]
    return {"type": "Polygon", "coordinates": [ring]}


class CustomerFactory(DjangoModelFactory):
    class Meta:
        model = Customer

    name = factory.Sequence(lambda n: f"Tilbrook Mill {n}")
    phone = "804-555-0140"


class SiteFactory(DjangoModelFactory):
    class Meta:
        model = Site

    customer = factory.SubFactory(CustomerFactory)
    street = factory.Sequence(lambda n: f"{n + 1} Copperthorn Road")
    town = "Larkmoor"
    county = "Example County"
    state = "VA"
    latitude = LATITUDE
    longitude = LONGITUDE
    time_zone = "America/New_York"


class JobFactory(DjangoModelFactory):
    """A bare row, without the log: for reads only."""

    class Meta:
        model = Job

    number = factory.Sequence(lambda n: f"B-{n:04d}")
    customer = factory.SubFactory(CustomerFactory)
    site = factory.SubFactory(SiteFactory)
    title = "Lateral"
    created_at = ENTERED


class LocalRuleFactory(DjangoModelFactory):
    class Meta:
        model = LocalRule

    name = factory.Sequence(lambda n: f"Street opening permit {n}")
    state = "VA"
    requirement = "A permit is in hand."
    source = "Town code 12-3"


def dispatcher() -> Any:
    return PersonFactory(dispatcher=True)


def crew_member() -> Any:
    """A crew member with a crew."""
    return PersonFactory(crew=CrewFactory())


def make_job(*, actor: Any = None, now: datetime = ENTERED, **given: Any) -> Job:
    """An open job with a dig area and no ticket, through the service."""
    fields: dict[str, Any] = {
        "customer": given.pop("customer", None) or CustomerFactory(),
        "title": "Lateral",
        "street": "118 Copperthorn Road",
        "town": "Larkmoor",
        "state": "VA",
        "time_zone": "America/New_York",
        "latitude": LATITUDE,
        "longitude": LONGITUDE,
        "private_lines_likely": False,
        "dig_areas": [{"polygon": square(5, 5, 8), "method": "machine", "planned_depth_m": 1.2192}],
    }
    return services.create_job(actor=actor or dispatcher(), now=now, **{**fields, **given})


def make_ticket(
    job: Job,
    *,
    actor: Any = None,
    now: datetime | None = None,
    operators: Sequence[str] = ("Fernbank Gas", "Ridge Power"),
    **given: Any,
) -> Ticket:
    """A ticket that covers the dig area, through the service."""
    received_at = given.pop("received_at", RECEIVED)
    fields: dict[str, Any] = {"number": f"N{job.tickets.count() + 1}", "area": square(0, 0, 20), **given}
    return services.enter_ticket(
        job=job,
        actor=actor or dispatcher(),
        now=now or received_at,
        received_at=received_at,
        operators=operators,
        **fields,
    )


def answer_all(ticket: Ticket, *, at: datetime, outcome: str = "marked", actor: Any = None) -> None:
    """Every operator of the ticket answers at that instant."""
    who = actor or dispatcher()
    for operator in TicketOperator.objects.filter(ticket=ticket).order_by("pk"):
        services.record_answer(operator=operator, actor=who, now=at, outcome=outcome)


def make_clear_job(*, actor: Any = None, **given: Any) -> Job:
    """A job that may be dug at NOW."""
    job = make_job(actor=actor, **given)
    answer_all(make_ticket(job, actor=actor), at=OPENS, actor=actor)
    job.refresh_from_db()
    return job
