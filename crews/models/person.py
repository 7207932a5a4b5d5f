"""Who logs in: the owner, the dispatcher, the members of the crews."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.models import AbstractUser, UserManager
from django.db import models

from crews.models.crew import Crew


class Role(models.TextChoices):
    """What a person may do; each wider role holds the narrower ones."""

    OWNER = "owner", "Owner"
    DISPATCHER = "dispatcher", "Dispatcher"
    CREW_MEMBER = "crew_member", "Crew member"


class PersonManager(UserManager["Person"]):
    """People; whoever is made on the command line with every right is the owner."""

    use_in_migrations = False

    def create_superuser(
        self, username: str, email: str | None = None, password: str | None = None, **fields: Any
    ) -> Person:
        fields.setdefault("role", Role.OWNER)
        return super().create_superuser(username, email, password, **fields)


class Person(AbstractUser):
    """One person. The default role is the one that sees least."""

    role = models.CharField(max_length=16, choices=Role.choices, default=Role.CREW_MEMBER)
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, null=True, blank=True, related_name="people")
    phone = models.CharField(max_length=32, blank=True)

    objects: ClassVar[PersonManager] = PersonManager()

    class Meta:
        verbose_name = "person"
        verbose_name_plural = "people"
        ordering = ["username"]
        constraints = [
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="person_role_known"),
        ]

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    @property
    def runs_the_office(self) -> bool:
        """Owner and dispatcher see every crew's sites; a crew member sees those of the own crew."""
        return self.role in {Role.OWNER, Role.DISPATCHER}

    @property
    def is_owner(self) -> bool:
        """The owner alone keeps the list of people."""
        return self.role == Role.OWNER
