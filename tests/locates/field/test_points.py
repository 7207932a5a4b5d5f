"""Points at entry: caught, explained, with a way to correct; and sent twice they stand once."""

from __future__ import annotations

import math
import uuid
from datetime import timedelta
from typing import Any

import pytest

from locates.errors import FirstspadeError
from locates.field import reckoning, services
from locates.field.models import Point
from locates.ground.exchange import Mark
from tests.factories import NOW, crew_member
from tests.locates.field.making import GRID, SONDE, add, at, follow, start
from tickets.models import Job


@pytest.fixture
def actor(db: None) -> Any:
    return crew_member()


def refused(job: Job, actor: Any, first: tuple[float, float] | None = None, **given: Any) -> FirstspadeError:
    run = start(job, actor)
    if first is not None:
        add(run, actor, *first)
    count = run.points.count()
    point = services.PointGiven(**{**at(5, 5), "accuracy_m": 0.2, **given})
    with pytest.raises(FirstspadeError) as caught:
        services.add_point(run=run, client_id=uuid.uuid4(), given=point, actor=actor, now=NOW)
    assert run.points.count() == count
    return caught.value


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"depth": "9999"}, "depth", "over-range"),
        ({"depth": "OL"}, "depth", "over-range"),
        ({"depth": "-20"}, "depth", "below the ground"),
        ({"depth": "3"}, "depth", "Did you mean 3 ft?"),
        ({"depth": "deep"}, "depth", "not a length"),
        ({"latitude": -77.62, "longitude": 37.4}, "position", "swapped"),
        ({"longitude": 77.62}, "position", "minus sign"),
        ({"latitude": 38.4}, "position", "miles from the site"),
        ({"latitude": None}, "position", "no position"),
        ({"accuracy_m": 80.0}, "position", "good to 262 ft 6 in only; a mark needs 98 ft 5 in"),
        ({"accuracy": "300"}, "accuracy", "good to 300 ft only"),
        ({"accuracy": "0"}, "accuracy", "No position is exact"),
        ({"accuracy": "near"}, "accuracy", "not a length"),
        ({"depth": "30", "null_behind": "10"}, "null_ahead", "both nulls"),
        ({"depth": "30", "null_behind": "10", "null_ahead": "60"}, "null_ahead", "off their midpoint"),
        ({"depth": "30", "current_ma": math.nan}, "current_ma", "not a number"),
        ({"depth": "30", "placed": "chalk"}, "placed", "not known"),
    ],
)
def test_a_bad_point_is_refused_at_its_field(
    job: Job, actor: Any, given: dict[str, Any], field: str, words: str
) -> None:
    assert words in refused(job, actor, **given).fields[field]


def test_a_jump_of_300_m_is_refused(job: Job, actor: Any) -> None:
    assert "start a new run" in refused(job, actor, first=(0, 0), **at(310, 0)).fields["position"]


def test_feet_typed_as_inches_are_seen_from_the_neighbours_and_can_be_corrected(job: Job, actor: Any) -> None:
    trouble = refused(job, actor, first=(0, 0), depth="3")
    assert "Did you mean 3 ft?" in trouble.fields["depth"]
    assert trouble.members["correction"]["depth"] == pytest.approx(0.9144)  # type: ignore[attr-defined]


def test_sent_twice_it_stands_once(job: Job, actor: Any) -> None:
    run = start(job, actor)
    given, client_id = services.PointGiven(**at(1, 1), accuracy_m=0.2, depth="30"), uuid.uuid4()
    first = services.add_point(run=run, client_id=client_id, given=given, actor=actor, now=NOW)
    again = services.add_point(run=run, client_id=client_id, given=given, actor=actor, now=NOW)
    assert (first.pk, Point.objects.count()) == (again.pk, 1)


def test_a_phones_clock_that_runs_ahead_stops_nobody(job: Job, actor: Any) -> None:
    run = start(job, actor)
    assert add(run, actor, 1, 1, taken_at=NOW + timedelta(days=1)).taken_at == NOW
    assert add(run, actor, 2, 1, taken_at=NOW - timedelta(hours=1)).taken_at == NOW - timedelta(hours=1)


@pytest.mark.parametrize(("typed", "kept_m"), [("3", 0.9144), ("3 ft", 0.9144), ("8 in", 0.2032), ("1 m", 1.0)])
def test_how_good_a_position_is_is_typed_in_feet_or_as_it_says(
    job: Job, actor: Any, typed: str, kept_m: float
) -> None:
    point = add(start(job, actor), actor, 1, 1, accuracy=typed, accuracy_m=None)
    assert point.accuracy_m == pytest.approx(kept_m)


def test_an_id_of_another_run_is_refused(job: Job, actor: Any) -> None:
    one, other, client_id = start(job, actor), start(job, actor), uuid.uuid4()
    given = services.PointGiven(**at(1, 1), accuracy_m=0.2, depth="30")
    services.add_point(run=one, client_id=client_id, given=given, actor=actor, now=NOW)
    with pytest.raises(FirstspadeError, match="another run"):
        services.add_point(run=other, client_id=client_id, given=given, actor=actor, now=NOW)


def test_along_a_baseline_places_are_taped(job: Job, actor: Any) -> None:
    marks = [GRID.to_position(0, 0), GRID.to_position(0, 30)]  # a baseline running north: left is west
    run = start(job, actor, position_by="baseline", start_at=marks[0], end_at=marks[1], mark_accuracy_m=0.05)
    given = services.PointGiven(along="20", left="5", depth="30")
    point = services.add_point(run=run, client_id=uuid.uuid4(), given=given, actor=actor, now=NOW)
    assert GRID.to_local(point.latitude, point.longitude) == pytest.approx((-5 * 0.3048, 20 * 0.3048), abs=1e-4)


def test_records_and_passive_signals_give_no_depth(job: Job, actor: Any) -> None:
    run = start(job, actor, method="records", frequency_hz=None, devices=())
    with pytest.raises(FirstspadeError, match="no dependable depth"):
        add(run, actor, 1, 1)
    assert add(run, actor, 1, 1, depth="").depth_m is None


def test_what_points_are_worth_is_stored_with_its_version(job: Job, actor: Any) -> None:
    run = follow(start(job, actor), actor)
    assert run.result_version == run.result["version"] == reckoning.VERSION
    assert run.result["trouble"] == ""
    assert run.result["trace"]["chainage_m"][-1] == pytest.approx(15.0, abs=0.02)
    worth = run.result["points"][0]
    assert worth["depth_m"] == pytest.approx(0.762)
    assert worth["half_band_m"] >= 0.5 * 0.762  # one method alone: half of the depth at least


def test_a_point_taken_out_no_longer_counts_and_stays_on_file(job: Job, actor: Any) -> None:
    run = follow(start(job, actor), actor, count=3)
    services.take_out_point(point=run.points.last(), words="Wrong line", actor=actor, now=NOW)
    run.refresh_from_db()
    assert run.result["order"] == [1, 2]
    assert run.points.count() == 3
    assert add(run, actor, 9, 9).number == 4


def test_a_sondes_one_number_is_a_depth(job: Job, actor: Any) -> None:
    devices = (services.DeviceGiven("receiver", "Receiver A", "QX-1"), SONDE)
    run = start(job, actor, method="sonde", frequency_hz=512.0, devices=devices)
    run = follow(run, actor, count=2)
    assert [p["depth_m"] for p in run.result["points"]] == pytest.approx([0.762, 0.762])


def test_a_sondes_nulls_give_its_depth(job: Job, actor: Any) -> None:
    """A level sonde lies 0.707107 null spacings deep (field of a magnetic dipole)."""
    devices = (services.DeviceGiven("receiver", "Receiver A", "QX-1"), SONDE)
    run = start(job, actor, method="sonde", frequency_hz=512.0, devices=devices)
    add(run, actor, 0, 0, depth="", null_behind="0.5 m", null_ahead="0.5 m")
    add(run, actor, 3, 0, depth="", null_behind="0.5 m", null_ahead="0.5 m")
    run.refresh_from_db()
    assert [p["depth_m"] for p in run.result["points"]] == pytest.approx([math.sqrt(0.5)] * 2, rel=1e-4)


def test_a_file_is_taken_whole(job: Job, actor: Any) -> None:
    run = start(job, actor)
    marks = [Mark(*GRID.to_position(3.0 * i, 0.0), 0.8) for i in range(50)]
    assert services.add_marks(run=run, marks=marks, actor=actor, now=NOW) == 50
    run.refresh_from_db()
    assert (run.points.count(), run.last_number, run.result["trouble"]) == (50, 50, "")
