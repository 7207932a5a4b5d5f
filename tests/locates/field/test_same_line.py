"""A line that several runs have followed is met once, as wide as all of them say; what is not certain stays apart."""

from __future__ import annotations

from typing import Any

import pytest

from locates.ground.crossing import Crossing
from tests.factories import crew_member
from tests.locates.field.making import add, start
from tests.locates.field.test_plan import crossing_run, plan_of, trenched
from tickets.models import Job

__all__ = ["trenched"]


@pytest.fixture
def actor(db: None) -> Any:
    return crew_member()


def met(job: Job) -> tuple[Crossing, ...]:
    plan = plan_of(job)
    (trench,) = [dig.trench for dig in plan.digs if dig.trench is not None]
    assert len([zone for dig in plan.digs for zone in dig.zones]) == len(plan.lines)  # every run keeps its zone
    found: tuple[Crossing, ...] = trench.crossings
    return found


def again(job: Job, actor: Any, x_m: float, **given: Any) -> None:
    """A further run north across the trench, by phone: wider."""
    depth = given.pop("depth", "36")
    run = start(job, actor, outside_diameter_m=0.05, **given)
    for index in range(5):
        add(run, actor, x_m, -6.0 + 3.0 * index, depth=depth, accuracy_m=1.0)


def test_two_runs_of_one_line_are_one_crossing_as_wide_as_both(trenched: Job, actor: Any) -> None:
    crossing_run(trenched, actor)
    (alone,) = met(trenched)
    again(trenched, actor, 6.4, label="power  to the Shed")
    (both,) = met(trenched)
    assert both.chainage_m == pytest.approx(6.0, abs=0.1)  # where the surer run has it
    assert both.hand_from_m < alone.hand_from_m
    assert both.hand_to_m > alone.hand_to_m + 0.4
    assert alone.depth_band_m is not None
    assert both.depth_band_m is not None
    assert both.depth_band_m[0] <= alone.depth_band_m[0]
    assert both.depth_band_m[1] > alone.depth_band_m[1]
    assert "It was located 2 times: the stretch and the depth take in every run." in both.cautions
    assert len([words for words in both.cautions if "by hand or vacuum for" in words]) == 1


def test_a_run_without_a_depth_does_not_hide_that_none_was_read(trenched: Job, actor: Any) -> None:
    crossing_run(trenched, actor)
    again(trenched, actor, 6.2, depth="")
    (both,) = met(trenched)
    assert both.depth_band_m is not None
    assert "Not every run read a depth of Power to the shed here: it may also lie outside the band." in both.cautions


@pytest.mark.parametrize(
    ("x_m", "given"),
    [
        (6.4, {"label": "Feed to the barn"}),
        (6.4, {"utility": "gas"}),
        (11.0, {}),
    ],
)
def test_what_is_not_certain_stays_apart(trenched: Job, actor: Any, x_m: float, given: dict[str, Any]) -> None:
    crossing_run(trenched, actor)
    again(trenched, actor, x_m, **given)
    assert len(met(trenched)) == 2


def test_two_lines_of_an_unknown_utility_stay_apart(trenched: Job, actor: Any) -> None:
    for x_m in (6.0, 6.4):
        again(trenched, actor, x_m, label="Unknown", utility="unknown")
    assert len(met(trenched)) == 2
