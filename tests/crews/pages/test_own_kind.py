"""The page of a kind of the company's own."""

from __future__ import annotations

from typing import Any

import pytest

from crews.models import OwnKind, Person
from tests.crews.page_people import Clients
from tests.crews.wcag import sideways, small_targets, violations

pytestmark = pytest.mark.usefixtures("frozen_now")
RULE = {
    "key": "service",
    "care": "inspection",
    "title": "Service",
    "every_months": "6",
    "source": "Common practice, no source",
}


def test_a_kind_is_made_and_given_a_rule(clients: Clients) -> None:
    clients["owner"].post("/equipment/kits/", {"what": "kind", "name": "Plate compactor"})
    kind = OwnKind.objects.get()
    at = f"/equipment/kinds/{kind.pk}/"
    assert at in clients["owner"].get("/equipment/kits/").content.decode()
    assert clients["dispatcher"].get(at).status_code == 403
    assert "No care is set for this kind" in clients["owner"].get(at).content.decode()
    answer = clients["owner"].post(at, RULE, follow=True).content.decode()
    assert "Service: the rule holds for every Plate compactor." in answer
    assert "every 6 months" in answer
    refused = clients["owner"].post(at, {**RULE, "every_months": "0"})
    beside = refused.content.decode().partition('id="id_every_months_error">')[2].partition("</p>")[0]
    assert (refused.status_code, "0 cannot be an interval" in beside) == (400, True)
    assert kind.care_rules.get().every_months == 6


@pytest.mark.browser
@pytest.mark.parametrize(("width", "least_px", "scheme"), [(1280, 24, "light"), (360, 44, "dark")])
def test_in_the_browser(
    page: Any, log_in: Any, people: dict[str, Person | None], width: int, least_px: int, scheme: str
) -> None:
    owner = people["owner"]
    kind = OwnKind.objects.create(name="A kind with rather a long name of its own")
    kind.care_rules.create(
        key="service", care="inspection", title="Service " * 8, every_months=6, every_days=200, source="Source " * 20,
        set_by=owner, set_at="2026-09-16T14:00Z",
    )  # fmt: skip
    page.set_viewport_size({"width": width, "height": 740})
    page.emulate_media(color_scheme=scheme)
    log_in(owner)
    page.goto(f"/equipment/kinds/{kind.pk}/")
    assert violations(page) == []
    assert sideways(page) == 0
    assert small_targets(page, least_px) == []
