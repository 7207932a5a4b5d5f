from __future__ import annotations

from tests.crews.page_people import clients, crew, other_crew, people

__all__ = ["clients", "crew", "other_crew", "people"]
