"""Published worked examples, laid on dates: fixtures/law/examples, each with its source and reckoning."""

from __future__ import annotations

import tomllib
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from locates.law.load import jurisdiction
from locates.law.window import window_for
from locates.law.workdays import zone_days

EXAMPLES = Path(__file__).parents[3] / "fixtures" / "law" / "examples"
LIMITS = ("opens_at", "closes_at", "start_by", "renew_by")
GIVEN = ("received", "time_zone", "stated_start", "printed_start", "work_begun_at")
KEYS = {*LIMITS, *GIVEN, "tolerance", "source", "tier", "reckoning"}


def published() -> list:
    return list(_published())


def _published():
    for path in sorted(EXAMPLES.glob("*.toml")):
        for number, example in enumerate(tomllib.loads(path.read_text("utf-8"))["example"], 1):
            yield pytest.param(path.stem.upper(), example, id=f"{path.stem}-{number}")


def zone_for(code, example):
    law = jurisdiction(code)
    return example.get("time_zone") or law.law_time_zone or law.time_zones[0]


@pytest.mark.parametrize(("code", "example"), published())
def test_published_example(code, example):
    assert set(example) <= KEYS
    assert example["source"]
    assert example["reckoning"]
    tz = zone_days(zone_for(code, example)).tz
    at = {
        name: value.replace(tzinfo=tz) if value.tzinfo is None else value
        for name, value in example.items()
        if isinstance(value, datetime)
    }
    made = window_for(
        code,
        at["received"],
        zone_for(code, example),
        stated_start=at.get("stated_start"),
        printed_start=at.get("printed_start"),
        work_begun_at=at.get("work_begun_at"),
    )
    checked = [name for name in LIMITS if name in at]
    assert checked, "an example must name a limit"
    for name in checked:
        agrees(getattr(made, name).astimezone(tz), at[name], example["tolerance"])


def agrees(ours: datetime, published: datetime, tolerance: str) -> None:
    """The first instant of the published day or later (day), the same minute, or an inequality."""
    if tolerance == "minute":
        assert abs(ours - published) < timedelta(minutes=1)
    elif tolerance == "day":
        assert ours.date() == published.date()
    elif tolerance == "not_before":
        assert ours >= published
    elif tolerance == "not_after":
        assert ours <= published
    else:
        pytest.fail(f"unknown tolerance {tolerance!r}")


def test_the_published_examples_are_there():
    # One row each of the collection that the examples were laid from: AL FL MT ND NE IN KS×5 MD MN TX.
    found = [p.id.split("-")[0] for p in published()]
    assert {"al", "fl", "mt", "nd", "ne", "in", "ks", "md", "mn", "tx", "pa", "va"} <= set(found)
    assert found.count("ks") >= 5
