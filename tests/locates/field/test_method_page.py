"""The help page on method and frequency."""

from __future__ import annotations

import pytest
from django.test import Client

from locates.ground.line import separation_for_error_m

ADDRESS = "/locates/method"


@pytest.mark.django_db
def test_advice_comes_in_order_and_names_common_practice(clients: dict[str, Client]) -> None:
    answer = clients["member"].get(ADDRESS, {"target": "METAL_PIPE", "access": ["TERMINAL"], "own": "8192 Hz"})
    methods = [view.advice.method.value for view in answer.context["views"]]
    assert methods[0] == "direct connection"
    assert [b for b in answer.context["views"][0].bands if b.startswith("500")] == []
    assert "Common practice, no source" in answer.content.decode()


@pytest.mark.django_db
def test_nothing_said_of_access_is_a_fault_beside_it(clients: dict[str, Client]) -> None:
    answer = clients["member"].get(ADDRESS, {"target": "METAL_PIPE"})
    assert answer.status_code == 400
    assert "when nothing can, choose that" in answer.context["form"].errors["access"][0]


@pytest.mark.django_db
def test_the_separation_is_the_engines(clients: dict[str, Client]) -> None:
    given = {"depth": "1 m", "error": "0.1 m", "moment": "1", "current_ma": "10"}
    words = clients["member"].get(ADDRESS, given).context["apart_words"]
    feet = separation_for_error_m(1.0, 0.010, 1.0, 0.4, 0.1) / 0.3048
    assert feet > 10
    assert words.startswith(f"{int(feet)} ft")
    near = clients["member"].get(ADDRESS, {**given, "moment": "0.001"})
    assert near.context["apart_words"] == "10 ft"  # never less than what crews keep


@pytest.mark.django_db
def test_a_bad_figure_is_said_beside_its_field(clients: dict[str, Client]) -> None:
    answer = clients["member"].get(ADDRESS, {"depth": "3", "error": "3 in", "moment": "x", "current_ma": "10"})
    assert answer.status_code == 400
    assert set(answer.context["apart_form"].errors) == {"depth", "moment"}
