"""People, crews, equipment and visits for tests."""

from __future__ import annotations

import factory
from factory.django import DjangoModelFactory

from crews.models import Crew, Equipment, EquipmentKind, Person, Role


class CrewFactory(DjangoModelFactory):
    class Meta:
        model = Crew

    name = factory.Sequence(lambda n: f"Crew {n}")
    yard_name = "Millrace yard"
    yard_latitude = 37.5
    yard_longitude = -77.4
    time_zone = "America/New_York"
    skills = factory.LazyFunction(lambda: ["dig", "private_locate"])


class PersonFactory(DjangoModelFactory):
    class Meta:
        model = Person
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")
    first_name = "Robin"
    last_name = factory.Sequence(lambda n: f"Example{n}")
    phone = "804-555-0100"
    role = Role.CREW_MEMBER

    class Params:
        owner = factory.Trait(role=Role.OWNER)
        dispatcher = factory.Trait(role=Role.DISPATCHER)


class EquipmentFactory(DjangoModelFactory):
    class Meta:
        model = Equipment

    kind = EquipmentKind.RECEIVER
    name = factory.Sequence(lambda n: f"Receiver {n}")
    serial = factory.Sequence(lambda n: f"QX-{n:04}")
