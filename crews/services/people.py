"""Writes of people and crews. The owner's alone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from crews.models import Crew, Person, Role, Visit
from crews.services.guards import check_position, check_zone, need_owner
from tickets.services.refusals import Conflict, Faults

PERSON_FIELDS = frozenset({"first_name", "last_name", "email", "phone", "role", "crew", "is_active"})
CREW_FIELDS = frozenset({"name", "yard_name", "yard_latitude", "yard_longitude", "time_zone", "skills", "active"})


@transaction.atomic
def add_first_owner(
    *, username: str, password: str, first_name: str = "", last_name: str = "", phone: str = ""
) -> Person:
    """The one log-in that nobody has to allow: only while there is none at all."""
    if Person.objects.exists():
        raise Conflict("There are log-ins already; an owner adds more.", code="not_the_first")
    person = Person(
        username=username.strip(),
        role=Role.OWNER,
        first_name=first_name,
        last_name=last_name,
        phone=phone,
    )
    _check_person(person, password)
    person.set_password(password)
    person.save()
    return person


@transaction.atomic
def add_person(
    *,
    username: str,
    password: str,
    role: str,
    actor: Person,
    crew: Crew | None = None,
    first_name: str = "",
    last_name: str = "",
    email: str = "",
    phone: str = "",
) -> Person:
    """A new log-in."""
    need_owner(actor)
    person = Person(
        username=username.strip(),
        role=role,
        crew=crew,
        first_name=first_name,
        last_name=last_name,
        email=email,
        phone=phone,
    )
    _check_person(person, password)
    person.set_password(password)
    person.save()
    return person


@transaction.atomic
def change_person(*, person: Person, actor: Person, **changes: Any) -> Person:
    """Change any of PERSON_FIELDS. Nobody is deleted: `is_active=False` ends a log-in."""
    need_owner(actor)
    _known(changes, PERSON_FIELDS)
    person = Person.objects.select_for_update().get(pk=person.pk)
    was_owner = person.is_owner and person.is_active
    for field, value in changes.items():
        setattr(person, field, value)
    faults = Faults()
    _check_role(faults, person)
    faults.refuse()
    person.save()
    if was_owner and not Person.objects.filter(role=Role.OWNER, is_active=True).exists():
        raise Conflict(
            "This is the last owner; make another person owner first.",
            code="last_owner",
            fields={"role": "last owner"},
        )
    return person


@transaction.atomic
def set_password(*, person: Person, password: str, actor: Person) -> None:
    """The owner sets anybody's password, everybody the own one."""
    if actor.pk != person.pk:
        need_owner(actor)
    faults = Faults()
    _check_password(faults, password, person)
    faults.refuse()
    person.set_password(password)
    person.save(update_fields=["password"])


@transaction.atomic
def add_crew(
    *,
    name: str,
    yard_name: str,
    yard_latitude: float,
    yard_longitude: float,
    time_zone: str,
    actor: Person,
    skills: Sequence[str] = (),
) -> Crew:
    """A new crew."""
    need_owner(actor)
    crew = Crew(
        name=name.strip(),
        yard_name=yard_name.strip(),
        yard_latitude=yard_latitude,
        yard_longitude=yard_longitude,
        time_zone=time_zone,
        skills=list(skills),
    )
    _check_crew(crew)
    crew.save()
    return crew


@transaction.atomic
def change_crew(*, crew: Crew, actor: Person, now: datetime, **changes: Any) -> Crew:
    """Change any of CREW_FIELDS; a crew with visits ahead stays active."""
    need_owner(actor)
    _known(changes, CREW_FIELDS)
    crew = Crew.objects.select_for_update().get(pk=crew.pk)
    for field, value in changes.items():
        setattr(crew, field, value)
    _check_crew(crew)
    ahead = Visit.objects.filter(crew=crew, cancelled_at=None, ends_at__gt=now).count()
    words = "1 visit ahead" if ahead == 1 else f"{ahead} visits ahead"
    if not crew.active and ahead:
        raise Conflict(
            f"{crew.name} still has {words}; move or cancel first.",
            code="crew_has_visits",
            fields={"active": words},
        )
    crew.save()
    return crew


def _check_person(person: Person, password: str) -> None:
    faults = Faults()
    faults.need(username=person.username)
    if Person.objects.filter(username__iexact=person.username).exists():
        faults.add("username", f"{person.username!r} is taken; choose another.")
    _check_role(faults, person)
    _check_password(faults, password, person)
    faults.refuse()


def _check_role(faults: Faults, person: Person) -> None:
    if person.role not in Role.values:
        faults.add("role", f"{person.role!r} is not a role; use one of {', '.join(Role.values)}.")
    if person.role == Role.CREW_MEMBER and person.crew_id is None:
        faults.add("crew", "A crew member needs a crew, or sees no site.")


def _check_password(faults: Faults, password: str, person: Person) -> None:
    try:
        validate_password(password, person)
    except ValidationError as wrong:
        faults.add("password", " ".join(wrong.messages))


def _check_crew(crew: Crew) -> None:
    faults = Faults()
    faults.need(name=crew.name, yard_name=crew.yard_name)
    if Crew.objects.filter(name__iexact=crew.name).exclude(pk=crew.pk).exists():
        faults.add("name", f"There is a crew {crew.name!r} already.")
    check_zone(faults, crew.time_zone)
    check_position(faults, crew.yard_latitude, crew.yard_longitude)
    skills = crew.skills
    if not isinstance(skills, list) or not all(isinstance(word, str) and word.strip() for word in skills):
        faults.add("skills", "Give a list of words, as dig or private_locate.")
    faults.refuse()


def _known(changes: dict[str, Any], fields: frozenset[str]) -> None:
    unknown = set(changes) - fields
    if unknown:
        raise TypeError(f"not a field that can be changed: {', '.join(sorted(unknown))}")
