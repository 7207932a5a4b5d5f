"""The register and the list of people in a real browser."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from crews.models import Crew, Equipment, Person
from tests.crews.factories import EquipmentFactory
from tests.crews.wcag import sideways, small_targets, violations

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("frozen_now")]
LogIn = Callable[[Any], Any]
People = dict[str, Person | None]
LONG = "Receiver with a name that somebody made as long as the register lets anybody make it"[:80]


@pytest.fixture
def item(crew: Crew) -> Equipment:
    EquipmentFactory(name="Overdue", calibration_due_on=date(2026, 9, 1), crew=crew)
    EquipmentFactory(kind="truck", name="Truck")
    return EquipmentFactory(name=LONG, serial="S" * 60, out_of_service_reason="Dropped " * 20, crew=crew)


@pytest.mark.parametrize(("width", "least_px", "scheme"), [(1280, 24, "light"), (360, 44, "dark")])
def test_every_page_of_the_owner(
    page: Any, log_in: LogIn, people: People, item: Equipment, width: int, least_px: int, scheme: str
) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    page.emulate_media(color_scheme=scheme)
    log_in(people["owner"])
    member = people["member"]
    assert member is not None
    for address in (
        "/equipment/",
        f"/equipment/{item.pk}/",
        f"/equipment/{item.pk}/edit/",
        "/equipment/new/",
        "/people/",
        "/people/new/",
        f"/people/{member.pk}/",
        "/today/",
    ):
        page.goto(address)
        assert violations(page) == [], address
        assert sideways(page) == 0, address
        assert small_targets(page, least_px) == [], address


def test_narrowing_keeps_the_address_and_needs_no_button(
    page: Any, log_in: LogIn, people: People, item: Equipment
) -> None:
    log_in(people["dispatcher"])
    page.goto("/equipment/")
    page.get_by_label("Kind").select_option("truck")
    page.get_by_text("1 item found").wait_for()
    assert "kind=truck" in page.url
    page.reload()
    assert page.get_by_label("Kind").input_value() == "truck"
    assert page.locator("#register tbody tr").count() == 1


def test_an_overdue_receiver_is_certified_and_handed_over(
    page: Any, log_in: LogIn, people: People, item: Equipment, other_crew: Crew
) -> None:
    log_in(people["owner"])
    page.goto("/equipment/")
    page.get_by_role("link", name="Overdue", exact=True).click()
    assert page.get_by_text("Calibration overdue by 15 days").is_visible()
    page.get_by_label("Calibration good through").fill("2027-09-01")
    page.get_by_role("button", name="Enter the date").click()
    page.get_by_text("The new calibration date is entered.").wait_for()
    assert page.get_by_text("Calibration overdue").count() == 0
    page.get_by_label("Hand to").select_option(label="Basalt crew")
    page.get_by_role("button", name="Hand over").click()
    page.get_by_text("Overdue is now with Basalt crew.").wait_for()
    found = Equipment.objects.get(name="Overdue")
    assert (found.crew, found.calibration_due_on) == (other_crew, date(2027, 9, 1))


def test_a_refused_form_is_read_out_with_its_faults(
    page: Any, log_in: LogIn, people: People, item: Equipment
) -> None:
    log_in(people["owner"])
    page.goto("/people/new/")
    page.get_by_label("Log-in name").fill("member")
    page.get_by_label("First password").fill("copper-kettle-41")
    page.get_by_role("button", name="Add the person").click()
    page.get_by_text("is taken; choose another").wait_for()
    assert page.get_by_label("Log-in name").get_attribute("aria-invalid") == "true"
    assert violations(page) == []


def test_on_a_phone_many_links_fold_and_open_by_key(page: Any, log_in: LogIn, people: People) -> None:
    page.set_viewport_size({"width": 360, "height": 800})
    log_in(people["owner"])
    page.goto("/people/")
    assert not page.get_by_role("link", name="Local rules").is_visible()
    page.get_by_text("Pages", exact=True).focus()
    page.keyboard.press("Enter")
    page.get_by_role("link", name="Local rules").wait_for()
    assert violations(page) == []
    assert sideways(page) == 0
    page.get_by_role("link", name="Local rules").click()
    page.get_by_role("heading", name="Local rules").wait_for()


def test_a_crews_few_links_stay_in_sight(page: Any, log_in: LogIn, people: People) -> None:
    page.set_viewport_size({"width": 360, "height": 800})
    log_in(people["member"])
    page.goto("/today/")
    assert page.get_by_role("link", name="The law").is_visible()
    assert page.locator(".menu").count() == 0
    assert sideways(page) == 0
