"""The owner's equipment pages in a real browser: WCAG, width, targets, and the journey of a failed check."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from crews import services
from crews.models import Crew, Equipment, Kit, Person
from tests.crews.wcag import sideways, small_targets, violations

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("frozen_now")]
LogIn = Callable[[Any], Any]
People = dict[str, Person | None]


@pytest.fixture
def item(crew: Crew, people: People) -> Equipment:
    owner = people["owner"]
    assert owner is not None
    kit = Kit.objects.create(name="Kit A")
    made = services.add_equipment(
        kind="receiver", name="Receiver A", serial="S-1", crew=crew, kit=kit, frequencies_hz=[512], actor=owner
    )
    services.add_equipment(kind="sonde", name="Sonde B" * 8, serial="S-2", kit=kit, frequencies_hz=[640], actor=owner)
    return made


@pytest.mark.parametrize(("width", "least_px", "scheme"), [(1280, 24, "light"), (360, 44, "dark")])
def test_every_page(
    page: Any, log_in: LogIn, people: People, item: Equipment, width: int, least_px: int, scheme: str
) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    page.emulate_media(color_scheme=scheme)
    log_in(people["owner"])
    at = f"/equipment/{item.pk}/"
    names = ("result", "step", "rule", "word", "paper")
    others = ("care", "due", "away", "kits", "import", "calendar")
    for address in (at, *(f"{at}{n}/" for n in names), *(f"/equipment/{n}/" for n in others)):
        page.goto(address)
        assert violations(page) == [], address
        assert sideways(page) == 0, address
        assert small_targets(page, least_px) == [], address


def test_a_failed_check_stops_the_item(page: Any, log_in: LogIn, people: People, item: Equipment) -> None:
    page.set_viewport_size({"width": 360, "height": 740})
    log_in(people["member"])
    page.goto(f"/equipment/i/{item.code}")
    assert violations(page) == []
    assert small_targets(page, 44) == []
    page.get_by_role("button", name="We have it").click()
    page.get_by_text("You have Receiver A.").wait_for()
    page.get_by_role("link", name="Enter a daily check").click()
    page.get_by_label("What was done").select_option("known_line")
    page.get_by_label("Known value").fill("3 ft")
    page.get_by_label("Readings").fill("3 ft, 3 ft 9 in")
    page.get_by_role("button", name="Enter the result").click()
    page.get_by_text("Receiver A is out of service; 0 locates are in doubt.").wait_for()
    page.goto("/today/")
    assert page.get_by_text("Out of service: Check on a known line failed").first.is_visible()
