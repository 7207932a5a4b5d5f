"""The demo scenario told to the services, from the first owner to the last visit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction

from crews import services
from crews.demo.jobs import JobTeller
from crews.demo.scenario import Row, Scenario, ScenarioWrong
from crews.models import Crew, Equipment, Person
from crews.selectors import company_today
from locates.place import resolve
from tickets import services as office
from tickets.models import Customer, Job


@dataclass(frozen=True, slots=True)
class Login:
    """A log-in to print; the password is the scenario's."""

    username: str
    role: str
    crew: str


@transaction.atomic
def load(scenario: Scenario, now: datetime, say: Callable[[str], None]) -> list[Login]:
    """Load everything or nothing. Raises ScenarioWrong when a job does not show the verdict it should."""
    crews, people = _company(scenario)
    owner = next(iter(people.values()))
    _equipment(scenario, crews, owner, now)
    customers = {row["name"]: _customer(row, people, now) for row in scenario.customers}
    for row in scenario.jobs:
        job = JobTeller(row, customers[row["customer"]], crews, people, now).tell()
        _check(job, row)
        say(f"{job.number} {job.site.state}: {job.verdict_state}")
    return logins(scenario)


def logins(scenario: Scenario) -> list[Login]:
    """One log-in for each role, and for the crews one each."""
    found: dict[tuple[str, str], Login] = {}
    for row in scenario.people:
        crew = row.get("crew", "")
        found.setdefault((row["role"], crew), Login(row["username"], row["role"], crew))
    return list(found.values())


def _company(scenario: Scenario) -> tuple[dict[str, Crew], dict[str, Person]]:
    first, *others = scenario.people
    owner = services.add_first_owner(**_without(first, "role"), password=scenario.password)
    crews = {row["name"]: services.add_crew(**_yard(row), actor=owner) for row in scenario.crews}
    people = {first["username"]: owner}
    for row in others:
        crew = crews[row["crew"]] if "crew" in row else None
        people[row["username"]] = services.add_person(
            **_without(row, "crew"), crew=crew, password=scenario.password, actor=owner
        )
    return crews, people


def _yard(row: Row) -> dict[str, Any]:
    """A crew's day is counted in the zone of its yard."""
    return {**row, "time_zone": resolve(row["yard_latitude"], row["yard_longitude"]).time_zone}


def _equipment(scenario: Scenario, crews: dict[str, Crew], owner: Person, now: datetime) -> None:
    today = company_today(now)
    for row in scenario.equipment:
        days, reason = row.get("due_in_days"), row.get("out_of_service_reason", "")
        item = services.add_equipment(
            kind=row["kind"],
            name=row["name"],
            serial=row["serial"],
            crew=crews[row["crew"]] if "crew" in row else None,
            calibration_due_on=None if days is None else today + timedelta(days=days),
            note=row.get("note", ""),
            actor=owner,
            now=now,
            **_facts(row, today),
        )
        _confirm(item, now)
        if reason:
            services.take_out_of_service(item=item, reason=reason, actor=owner)


def _facts(row: Row, today: date) -> dict[str, Any]:
    """What the register knows beside the name; days count from the day of loading."""
    facts = {name: row[name] for name in ("maker_words", "frequencies_hz", "life_years") if name in row}
    facts |= {name: Decimal(str(row[name])) for name in ("price", "tax", "salvage") if name in row}
    if "in_service_days_ago" in row:
        facts["put_in_service_on"] = facts["bought_on"] = today - timedelta(days=row["in_service_days_ago"])
    return facts


def _confirm(item: Equipment, now: datetime) -> None:
    """The crew has said on its phone that it has the item."""
    member = None if item.crew is None else item.crew.people.filter(is_active=True).first()
    if member is not None:
        services.confirm_hand_over(item=item, actor=member, now=now)


def _customer(row: Row, people: dict[str, Person], now: datetime) -> Customer:
    return office.create_customer(actor=next(iter(people.values())), now=now, **row)


def _check(job: Job, row: Row) -> None:
    if job.verdict_state != row["shows"]:
        raise ScenarioWrong(
            f"{job.number} shows {job.verdict_state!r} and not {row['shows']!r}: {job.verdict_sentence}"
        )


def _without(row: Row, name: str) -> dict[str, Any]:
    return {key: value for key, value in row.items() if key != name}
