"""People, crews, equipment and visits for tests."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import factory
from factory.django import DjangoModelFactory

from crews.models import Crew, CustodyEvent, Equipment, EquipmentKind, Person, Role, Visit, VisitKind


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
        skip_postgeneration_save = True

    kind = EquipmentKind.RECEIVER
    name = factory.Sequence(lambda n: f"Receiver {n}")
    serial = factory.Sequence(lambda n: f"QX-{n:04}")
    calibration_due_on = None
    # What the services keep in step, for an item made as a bare row.
    stated_due_on = factory.SelfAttribute("calibration_due_on")
    due_on = factory.SelfAttribute("calibration_due_on")
    place = factory.LazyAttribute(lambda item: "crew" if getattr(item, "crew", None) else "yard")
    crew = None

    @factory.post_generation
    def entered(self: Equipment, create: bool, extracted: object, **kwargs: object) -> None:
        """The one custody event that every item begins with."""
        if create:
            CustodyEvent.objects.create(
                item=self,
                sequence=1,
                step="entered" if self.crew is None else "issued",
                at=datetime(2026, 1, 5, 13, tzinfo=UTC),
                place=self.place,
                crew=self.crew,
            )


class VisitFactory(DjangoModelFactory):
    """A visit as a row, past the services' checks; give `job` and `starts_at`."""

    class Meta:
        model = Visit

    crew = factory.SubFactory(CrewFactory)
    kind = VisitKind.DIG
    ends_at = factory.LazyAttribute(lambda visit: visit.starts_at + timedelta(hours=1))
    created_by = factory.SubFactory(PersonFactory, dispatcher=True)
    created_at = datetime(2026, 9, 8, 13, tzinfo=UTC)
