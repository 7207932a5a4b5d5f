"""What an excavation takes by the soil that a competent person found (29 CFR 1926 Subpart P)."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from locates.field.models import SoilFinding
from tests.factories import NOW, dispatcher, make_job, make_ticket
from tests.locates.field.test_plan import trench_area
from tickets.models import EvidenceEntry, Job

pytestmark = pytest.mark.usefixtures("frozen_now")
FOUND = {
    "competent_person": "Ada Fenn",
    "soil": "type B",
    "visual_words": "Clods, no cracks",
    "manual_words": "Thumb goes in to the nail",
    "disturbed": "yes",
    "cave_in_sign": "",
}


@pytest.fixture
def trenched(db: None) -> Job:
    deep = {**trench_area(12.0, 0.6), "planned_depth_m": 6 * 0.3048, "planned_width_m": 0.6096}
    return make_job(actor=dispatcher(), dig_areas=[deep])


def address_of(job: Job) -> str:
    return f"/locates/jobs/{job.pk}/soil/{job.dig_areas.get().pk}"


def record(client: Client, job: Job, **given: Any) -> Any:
    return client.post(address_of(job), {**FOUND, "client_id": str(uuid.uuid4()), **given})


def facts(client: Client, address: str) -> dict[str, str]:
    return dict(client.get(address).context["one"].facts)


def test_unclassified_soil_is_reckoned_with_the_flattest_slope(clients: dict[str, Client], trenched: Job) -> None:
    """6 ft deep, 2 ft wide: 1 1/2 to 1 opens 20 ft at the top (1926.652(b)(1))."""
    found = facts(clients["owner"], address_of(trenched))
    assert found["Protective system"] == "Required"
    assert found["Top width when sloped"] == "20 ft"
    assert "No one ticket area" in found["Inside the ticket's area"]
    assert found["Spoil set-back"].startswith("2 ft")


def test_a_finding_changes_slope_width_spoil_and_loads(clients: dict[str, Client], trenched: Job) -> None:
    """Type B, Table B-1: 1 to 1, so 14 ft at the top; 6 ft x (2 + 6) ft x 39.4 ft in the bank, 25 % swell."""
    assert record(clients["owner"], trenched).status_code == 302
    found = facts(clients["owner"], address_of(trenched))
    assert found["Steepest slope"] == "1 to 1, 45 degrees"
    assert found["Top width when sloped"] == "14 ft"
    yards = 6 * (2 + 6) * (12.0 / 0.3048) * 1.25 / 27
    assert found["Spoil when sloped"].startswith(f"{yards:.0f} cubic yards loose, {-(-yards // 10):.0f} truck load")
    page = clients["owner"].get(f"/locates/jobs/{trenched.pk}/").content.decode()
    assert "found by Ada Fenn" in page
    assert EvidenceEntry.objects.get(kind="soil_found").payload["soil"] == "type B"


def test_it_says_whether_it_fits_the_tickets_area(clients: dict[str, Client], trenched: Job) -> None:
    make_ticket(trenched)
    record(clients["owner"], trenched)
    assert "leaves the ticket's area" in facts(clients["owner"], address_of(trenched))["Inside the ticket's area"]
    rows = clients["owner"].get(address_of(trenched)).context["rows"]
    assert [row.slope for row in rows] == ["0.75 to 1", "1 to 1", "1.5 to 1"]


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"manual_words": ""}, "manual_words"),
        ({"visual_words": "", "soil": "type A"}, "visual_words"),
        ({"competent_person": " "}, "competent_person"),
        ({"soil": "gravel"}, "soil"),
        ({"open_hours": "-1"}, "open_hours"),
        ({"open_hours": "nan"}, "open_hours"),
    ],
)
def test_a_class_above_c_rests_on_two_tests(
    clients: dict[str, Client], trenched: Job, given: dict[str, str], field: str
) -> None:
    answer = record(clients["owner"], trenched, **given)
    assert answer.status_code == 400
    assert answer.context["form"].errors[field]
    assert not SoilFinding.objects.exists()


def test_disturbed_or_wet_soil_is_worse_than_was_found(clients: dict[str, Client], trenched: Job) -> None:
    record(clients["owner"], trenched, soil="type A")
    assert facts(clients["owner"], address_of(trenched))["Soil reckoned with"] == "Type B"
    record(clients["owner"], trenched, water_or_seepage="on")
    assert facts(clients["owner"], address_of(trenched))["Soil reckoned with"] == "Type C"


def test_a_finding_of_yesterday_is_said_to_be_old(clients: dict[str, Client], trenched: Job) -> None:
    record(clients["owner"], trenched)
    assert "found on another day" not in clients["owner"].get(address_of(trenched)).content.decode()
    SoilFinding.objects.update(found_at=NOW - timedelta(days=1))
    assert "found on another day" in clients["owner"].get(address_of(trenched)).content.decode()


def test_a_pit_takes_something_too(clients: dict[str, Client], db: None) -> None:
    pit = {**trench_area(2.0, 2.0), "planned_depth_m": 4 * 0.3048, "planned_width_m": None}
    job = make_job(actor=dispatcher(), dig_areas=[pit])
    found = facts(clients["owner"], address_of(job))
    assert "must examine the ground" in found["Protective system"]
    assert record(clients["owner"], job, cave_in_sign="yes").status_code == 302
    assert facts(clients["owner"], address_of(job))["Protective system"] == "Required"


def test_nothing_ever_says_safe(clients: dict[str, Client], trenched: Job) -> None:
    record(clients["owner"], trenched, soil="stable rock")
    for address in (address_of(trenched), f"/locates/jobs/{trenched.pk}/"):
        text = re.sub(r"<[^>]+>", " ", clients["owner"].get(address).content.decode())
        assert not re.search(r"\bsafe(ly)?\b", text, re.IGNORECASE)


def test_who_may(clients: dict[str, Client], trenched: Job) -> None:
    assert clients["other"].get(address_of(trenched)).status_code == 404
    assert clients["stranger"].get(address_of(trenched)).status_code == 302
    assert clients["owner"].get(f"/locates/jobs/{trenched.pk}/soil/999999").status_code == 404
