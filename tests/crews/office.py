"""Jobs as the office would have made them, for tests of the field. Times lie around Wed 16 Sep 2026."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from crews.demo.ground import rectangle
from crews.models import Person
from tests.crews.factories import PersonFactory
from tickets import services as office
from tickets.models import Answer, Customer, DigArea, Job, Site, Ticket, TicketOperator

NOW = datetime(2026, 9, 16, 14, tzinfo=UTC)  # Wed 10:00 AM EDT
ENTERED = datetime(2026, 9, 8, 13, tzinfo=UTC)
LATITUDE, LONGITUDE = 37.40, -77.62  # plain land in Virginia


def at(day: int, hour: int, minute: int = 0) -> datetime:
    """An instant of September 2026 by the clock in Virginia (EDT, four hours behind UTC)."""
    return datetime(2026, 9, day, hour + 4, minute, tzinfo=UTC)


FIRST_NOTICE = at(8, 10)


def make_job(actor: Person | None = None, **given: Any) -> Job:
    """An open job with a dig area and no ticket."""
    actor = actor or PersonFactory(dispatcher=True)
    customer = office.create_customer(actor=actor, now=ENTERED, name="Tilbrook Mill", phone="804-555-0140")
    polygon = rectangle(LATITUDE, LONGITUDE, 10, 1.2, 20)
    area = {"polygon": polygon, "method": "machine", "name": "Trench", "planned_depth_m": 1.2192}
    fields: dict[str, Any] = {
        "title": "Lateral",
        "street": "118 Copperthorn Road",
        "town": "Larkmoor",
        "latitude": LATITUDE,
        "longitude": LONGITUDE,
        "private_lines_likely": False,
        "dig_areas": [area],
    }
    return office.create_job(actor=actor, now=ENTERED, customer=customer, **{**fields, **given})


def give_notice(
    job: Job,
    number: str = "D-1",
    received_at: datetime = FIRST_NOTICE,
    outcomes: Sequence[str] = ("marked", "no_facilities"),
) -> Ticket:
    """A ticket over the dig area. In Virginia one of Tue 8 Sep, 10 AM opens Fri 11 Sep, 7 AM; an outcome is
    answered an hour before noon of the next day, an empty one not at all."""
    actor = PersonFactory(dispatcher=True)
    ticket = office.enter_ticket(
        job=job,
        actor=actor,
        now=received_at,
        number=number,
        received_at=received_at,
        operators=[{"name": f"Operator {n}", "utility": "gas"} for n in range(len(outcomes))],
        area=rectangle(LATITUDE, LONGITUDE, 20, 11, 20),
    )
    for operator, outcome in zip(ticket.operators.order_by("pk"), outcomes, strict=True):
        if outcome:
            office.record_answer(operator=operator, actor=actor, now=at(9, 11), outcome=outcome)
    return ticket


def clear_job(**given: Any) -> Job:
    """A job that may be dug at NOW."""
    job = make_job(**given)
    give_notice(job)
    return job


def copies(job: Job, count: int) -> list[Job]:
    """The job again and again, quickly: rows only, without the log."""
    made = []
    for number in range(count):
        customer = Customer.objects.create(name=f"Customer {number}")
        site = Site.objects.get(pk=job.site_id)
        site.pk = None
        site.save()
        twin = Job.objects.get(pk=job.pk)
        twin.pk, twin.number, twin.site, twin.customer = None, f"{job.number}-{number}", site, customer
        twin.governing_ticket = None
        twin.save()
        for area in DigArea.objects.filter(job=job):
            area.pk, area.job = None, twin
            area.save()
        for ticket in Ticket.objects.filter(job=job):
            _copy_ticket(ticket, twin)
        made.append(twin)
    return made


def _copy_ticket(ticket: Ticket, job: Job) -> None:
    operators = list(ticket.operators.all())
    ticket.pk, ticket.job = None, job
    ticket.save()
    for operator in operators:
        answers = list(operator.answers.all())
        operator = TicketOperator.objects.create(ticket=ticket, name=operator.name, utility=operator.utility)
        for answer in answers:
            Answer.objects.create(
                operator=operator,
                outcome=answer.outcome,
                answered_at=answer.answered_at,
                recorded_by=answer.recorded_by,
                recorded_at=answer.recorded_at,
            )
