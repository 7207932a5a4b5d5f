"""The field's tables, one file each."""

from __future__ import annotations

from crews.models.crew import Crew
from crews.models.person import Person, Role

__all__ = ["Crew", "Person", "Role"]
