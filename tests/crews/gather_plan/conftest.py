"""The same jobs, crews and small efforts as for the plans themselves."""

from tests.crews.plans.conftest import clear, computed, crew, dispatcher, owner, small_effort, waiting

__all__ = ["clear", "computed", "crew", "dispatcher", "owner", "small_effort", "waiting"]
