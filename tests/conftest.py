"""What every test may ask for: a frozen clock, the people, the servers, a browser."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

import pytest
import time_machine
from django.conf import settings
from django.test import Client

# A Wednesday in term time, away from holidays and clock changes, at 10:00 in New York.
FROZEN = datetime(2026, 9, 16, 14, 0, tzinfo=UTC)


@pytest.fixture
def frozen_now() -> Iterator[datetime]:
    """Stops the clock at FROZEN; move on with the `travel` fixture."""
    with time_machine.travel(FROZEN, tick=False):
        yield FROZEN


@pytest.fixture
def travel() -> Iterator[Callable[[datetime], None]]:
    """A function that stops the clock at any aware instant, for the rest of the test."""
    travellers: list[time_machine.travel] = []

    def go(to: datetime) -> None:
        if to.tzinfo is None:
            raise ValueError("travel to an aware instant")
        traveller = time_machine.travel(to, tick=False)
        traveller.start()
        travellers.append(traveller)

    yield go
    for traveller in reversed(travellers):
        traveller.stop()


def pytest_unconfigure() -> None:
    shutil.rmtree(settings.DATA_DIR, ignore_errors=True)


@pytest.fixture
def anonymous() -> Client:
    """A browser that has not logged in."""
    return Client()
