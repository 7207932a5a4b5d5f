"""What located lines mean for the dig: zones, crossings, the drawing to scale, the profile."""

from __future__ import annotations

import re
from typing import Any

import pytest
import shapely

from locates.field import selectors
from locates.field.drawing import draw
from locates.field.models import Run
from locates.field.plan import site_plan, zone_at
from locates.field.profile import profiles
from locates.field.services import finish_run
from locates.ground.crossing import Meeting
from locates.ground.lengths import FOOT_M
from tests.factories import LATITUDE, LONGITUDE, NOW, crew_member, dispatcher, make_job, make_ticket
from tests.locates.field.making import GRID, add, start
from tickets.models import Job


def trench_area(length_m: float = 12.0, width_m: float = 1.0) -> dict[str, Any]:
    """A dig area running east from the site, its middle line on y = 0."""
    corners = [(0, -width_m / 2), (length_m, -width_m / 2), (length_m, width_m / 2), (0, width_m / 2)]
    ring = [list(reversed(GRID.to_position(x, y))) for x, y in [*corners, corners[0]]]
    area = {"type": "Polygon", "coordinates": [ring]}
    return {
        "polygon": area,
        "method": "machine",
        "name": "Trench",
        "planned_depth_m": 1.2,
        "planned_width_m": width_m,
    }


@pytest.fixture
def trenched(db: None) -> Job:
    return make_job(actor=dispatcher(), private_lines_likely=True, dig_areas=[trench_area()])


def crossing_run(job: Job, actor: Any, x_m: float = 6.0, depth: str = "30") -> Run:
    """A line running north across the trench, read at five points by RTK."""
    run = start(job, actor, position_by="rtk", outside_diameter_m=0.05)
    for index in range(5):
        add(run, actor, x_m, -6.0 + 3.0 * index, depth=depth, accuracy_m=0.04)
    run.refresh_from_db()
    return run


def plan_of(job: Job) -> Any:
    found = selectors.located_job(job.pk, dispatcher())
    return site_plan(found, selectors.runs_of(found), NOW)


def test_the_zone_is_the_states(trenched: Job) -> None:
    """Virginia: 2 ft (Va. Code 56-265.24)."""
    zone = zone_at(trenched, NOW)
    assert (zone.rule.zone_in, zone.known) == (24.0, True)
    assert "56-265.24" in zone.citation


def test_a_state_without_a_rule_leaves_the_whole_area(trenched: Job) -> None:
    trenched.site.state = "PR"
    zone = zone_at(trenched, NOW)
    assert not zone.known
    assert "whole dig area" in zone.words


def test_a_crossing_line_is_dug_for_by_hand_as_wide_as_zone_and_doubt_ask(trenched: Job) -> None:
    run = crossing_run(trenched, crew_member())
    plan = plan_of(trenched)
    (trench,) = [d.trench for d in plan.digs]
    (crossing,) = trench.crossings
    assert crossing.meeting is Meeting.CROSSES
    assert crossing.chainage_m == pytest.approx(6.0, abs=0.05)
    least = 24 * 0.0254 + 0.025 + min(run.result["trace"]["position_band_m"])
    assert crossing.hand_to_m - crossing.hand_from_m >= 2 * least
    assert crossing.depth_band_m[0] < 0.762 < crossing.depth_band_m[1]
    assert plan.digs[0].zones[0].area_m2 >= 2 * least * 1.0
    assert plan.digs[0].share == pytest.approx(plan.digs[0].zones[0].area_m2 / 12.0, rel=1e-3)


def test_a_run_that_found_nothing_is_not_drawn(trenched: Job) -> None:
    actor = crew_member()
    run = crossing_run(trenched, actor)
    finish_run(run=run, found=False, words="Faded out.", locate_complete=False, actor=actor, now=NOW)
    plan = plan_of(trenched)
    assert (plan.lines, [r.pk for r in plan.not_drawn]) == ((), [run.pk])


def test_the_drawing_is_to_scale(trenched: Job) -> None:
    crossing_run(trenched, crew_member())
    drawing = draw(plan_of(trenched))
    assert drawing is not None
    units_a_foot = (drawing.bar[1] - drawing.bar[0]) / float(drawing.bar_words.split()[0])
    xs = [float(x) for x, _ in re.findall(r"([\d.]+),([\d.]+)", drawing.digs[0])]
    assert (max(xs) - min(xs)) / units_a_foot == pytest.approx(12.0 / FOOT_M, rel=0.01)
    assert [note.words for note in drawing.crossings] == ["1"]
    assert {note.words for note in drawing.lines[0].letters} == {"E"}


def test_every_line_drawn_has_its_letters_and_its_depth_however_crowded(trenched: Job) -> None:
    actor = crew_member()
    for x_m in (5.0, 5.4, 5.8, 6.2, 6.6):
        crossing_run(trenched, actor, x_m=x_m)
    drawing = draw(plan_of(trenched))
    assert drawing is not None
    assert len(drawing.lines) == 5
    for line in drawing.lines:
        assert {note.words for note in line.letters} == {"E"}
        assert line.depths
        assert all(re.fullmatch(r"E \d′\d+″ to \d′\d+″", note.words) for note in line.depths)


def test_the_profile_has_the_crossing_at_its_chainage_and_depth(trenched: Job) -> None:
    crossing_run(trenched, crew_member())
    (profile,) = profiles(plan_of(trenched))
    (drawn,) = profile.crossings
    assert (drawn.x - profile.left) / profile.across == pytest.approx(0.5, abs=0.01)
    assert drawn.band_y is not None
    deep = (drawn.band_y + drawn.band_height / 2 - profile.ground_y) / profile.trench_height * 1.2
    assert deep == pytest.approx(sum(profile.trench.crossings[0].depth_band_m) / 2, abs=0.02)
    assert profile.rows[0].colour_words == "red"


def test_no_depth_read_is_any_depth(trenched: Job) -> None:
    crossing_run(trenched, crew_member(), depth="")
    (profile,) = profiles(plan_of(trenched))
    assert profile.crossings[0].band_y is None
    assert "any depth" in profile.rows[0].depth_words


def test_a_pit_has_zones_but_no_trench(db: None) -> None:
    job = make_job(actor=dispatcher(), dig_areas=[{**trench_area(3.0, 3.0), "name": "Pit"}])
    crossing_run(job, crew_member(), x_m=1.5)
    (dig,) = plan_of(job).digs
    assert dig.trench is None
    assert dig.zones


def test_the_sloped_trench_is_held_against_the_tickets_area(trenched: Job) -> None:
    assert "No one ticket area" in plan_of(trenched).digs[0].excavation.fit_words
    make_ticket(trenched)
    fit = plan_of(trenched).digs[0].excavation.fit
    assert fit is not None
    assert not fit.fits


def test_nothing_to_draw(db: None) -> None:
    job = make_job(actor=dispatcher(), dig_areas=[])
    assert draw(plan_of(job)) is None


def test_the_plane_is_the_sites(trenched: Job) -> None:
    plan = plan_of(trenched)
    assert (plan.grid.latitude, plan.grid.longitude) == (LATITUDE, LONGITUDE)
    assert shapely.area(plan.digs[0].ground) == pytest.approx(12.0, rel=1e-4)
