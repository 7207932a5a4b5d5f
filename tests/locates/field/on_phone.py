"""A phone 360 px wide in a crew member's hand, its connection, and what is done on it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.core.handlers.base import BaseHandler
from django.http import HttpRequest, HttpResponse

from tests.factories import LATITUDE, LONGITUDE

LogIn = Callable[[Any], Any]


@pytest.fixture
def phone(page: Any, log_in: LogIn, people: dict[str, Any]) -> Any:
    page.set_viewport_size({"width": 360, "height": 760})
    page.context.grant_permissions(["geolocation"])
    walk_to(page, 0)
    return log_in(people["member"])


@pytest.fixture
def gone(monkeypatch: pytest.MonkeyPatch) -> threading.Event:
    """While set, the server takes nothing either: a browser told to be offline may forget it for a worker that it
    starts again."""
    away, respond = threading.Event(), BaseHandler.get_response

    def answer(handler: BaseHandler, request: HttpRequest) -> Any:
        return HttpResponse(status=503) if away.is_set() else respond(handler, request)

    monkeypatch.setattr(BaseHandler, "get_response", answer)
    return away


def walk_to(page: Any, east_m: float) -> None:
    place = {"latitude": LATITUDE, "longitude": LONGITUDE + east_m / 88_500, "accuracy": 1.0}
    page.context.set_geolocation(place)


def mark(phone: Any, depth: str) -> None:
    phone.fill("#id_depth", depth)
    phone.click("#mark")


def kept(phone: Any, address: str) -> None:
    """The page is on the phone with all it loads."""
    phone.goto(address)
    phone.locator("html[data-kept=yes]").wait_for(state="attached")


def cut(phone: Any, gone: threading.Event) -> None:
    """No connection."""
    gone.set()
    phone.context.set_offline(True)


def mend(phone: Any, gone: threading.Event) -> None:
    """The connection is back, and the browser says so."""
    gone.clear()
    phone.context.set_offline(False)
    phone.evaluate("dispatchEvent(new Event('online'))")
