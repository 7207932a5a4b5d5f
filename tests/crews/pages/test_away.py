"""The page of visits hit by due days and of the days to send items away."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from crews.models import Crew
from tests.crews.factories import EquipmentFactory, VisitFactory
from tests.crews.office import make_job
from tests.crews.page_people import Clients

pytestmark = pytest.mark.usefixtures("frozen_now")  # Wed 16 Sep 2026


def page(clients: Clients, query: str = "", status: int = 200) -> str:
    answer = clients["owner"].get(f"/equipment/away/{query}")
    assert answer.status_code == status
    return " ".join(answer.content.decode().split())


@pytest.fixture
def visits(crew: Crew) -> None:
    EquipmentFactory(kind="transmitter", crew=crew, calibration_due_on=date(2027, 9, 1))
    EquipmentFactory(name="Receiver 3", crew=crew, calibration_due_on=date(2026, 9, 28))
    for day in (17, 22, 24, 25, 29):
        VisitFactory(
            job=make_job(), crew=crew, kind="private_locate", starts_at=datetime(2026, 9, day, 13, tzinfo=UTC)
        )


@pytest.mark.usefixtures("visits")
def test_it_names_the_visits_hit_and_the_day_that_costs_the_fewest(clients: Clients) -> None:
    text = page(clients)
    assert "Tue 29 Sep 2026, private locate" in text
    assert "5 days away each. 1 visit cannot be kept" in text
    assert '<td data-head="Send it on">Mon 28 Sep 2026</td>' in text
    assert "No other choice of days loses fewer." in text
    text = page(clients, "?away_days=2")
    assert "2 days away each. No visit is lost on these days." in text
    assert '<td data-head="Send it on">Fri 18 Sep 2026</td>' in text


@pytest.mark.usefixtures("visits")
@pytest.mark.parametrize("given", ["0", "61", "soon"])
def test_days_away_that_make_no_sense_are_refused_beside_the_field(clients: Clients, given: str) -> None:
    text = page(clients, f"?away_days={given}", 400)
    assert 'class="error" id="id_away_days_error"' in text
    assert "5 days away each" in text


def test_empty_it_says_so(clients: Clients) -> None:
    text = page(clients)
    assert "No planned visit is hit by a due day." in text
    assert "Nothing that a planned visit needs falls due within 60 days." in text
