"""The demo through the services, on awkward days; what it promises to show is there."""

from __future__ import annotations

import re
import shutil
from datetime import datetime
from io import StringIO
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.conf import settings
from django.contrib.auth import authenticate
from django.core.management import CommandError, call_command

from crews.demo.jobs import _between
from crews.demo.load import load, logins
from crews.demo.scenario import ScenarioWrong, read_scenario
from crews.models import Crew, Equipment, Person, Role
from crews.selectors import company_today, day_of, today_of
from locates.field.models import Photo, Run
from locates.place import resolve
from tickets.evidence import verify
from tickets.models import Customer, Job, Site
from tickets.states import State

FOLDER = Path(settings.ROOT) / "fixtures" / "demo"
DAYS = [
    "2026-11-27T03:50+00:00",  # Thanksgiving night in the east, afternoon of a holiday everywhere
    "2026-11-01T06:30+00:00",  # in the hour that clocks in the east show twice
]


@pytest.mark.django_db
@pytest.mark.parametrize("day", DAYS)
def test_the_demo_shows_what_it_promises_on_any_day(day: str) -> None:
    now = datetime.fromisoformat(day)
    said: list[str] = []
    scenario = read_scenario(FOLDER)
    load(scenario, now, said.append)
    jobs = list(Job.objects.select_related("site"))
    assert len(said) == len(jobs) == len(scenario.jobs)
    assert {job.number: job.verdict_state for job in jobs} == {row["number"]: row["shows"] for row in scenario.jobs}
    assert {job.verdict_state for job in jobs} == {str(state) for state in State}
    assert len({job.site.state for job in jobs}) >= 5
    assert len({now.astimezone(ZoneInfo(job.site.time_zone)).utcoffset() for job in jobs}) >= 3
    assert [job.number for job in jobs if verify(job) is not None] == []
    assert all(entry.at <= now for job in jobs for entry in job.evidence.all())
    check_field(now)


def check_field(now: datetime) -> None:
    """Three crews with something to do today; a dozen items, one of them overdue."""
    crews = list(Crew.objects.all())
    assert len(crews) == 3
    for crew in crews:
        assert len(day_of(crew, today_of(crew, now), now).stops) >= 2
    items = list(Equipment.objects.all())
    assert len(items) >= 12
    assert len([item for item in items if item.is_overdue(company_today(now))]) == 1
    assert {person.role for person in Person.objects.all()} == set(Role.values)


@pytest.mark.django_db
def test_loading_again_changes_nothing_and_the_log_ins_work() -> None:
    out = StringIO()
    with time_machine.travel(datetime.fromisoformat("2026-09-16T14:00+00:00"), tick=False):
        call_command("load_demo", stdout=out)
        before = (Job.objects.count(), Person.objects.count())
        call_command("load_demo", stdout=out)
    assert (Job.objects.count(), Person.objects.count()) == before
    assert "not loaded again" in out.getvalue()
    scenario = read_scenario(FOLDER)
    made = logins(scenario)
    assert [login.role for login in made] == ["owner", "dispatcher", *["crew_member"] * 3]
    assert len({login.crew for login in made if login.crew}) == 3
    for login in made:
        assert f"{login.username:<12} password {scenario.password}" in out.getvalue()
        person = authenticate(username=login.username, password=scenario.password)
        assert person is not None


def test_log_ins_can_be_asked_for_alone() -> None:
    out = StringIO()
    call_command("load_demo", "--logins", stdout=out)
    assert "dispatcher" in out.getvalue()


@pytest.mark.django_db
def test_a_job_that_shows_something_else_stops_the_whole_load() -> None:
    scenario = read_scenario(FOLDER)
    wrong: Any = {**scenario.jobs[0], "shows": "expired"}
    broken = type(scenario)(**{**{name: getattr(scenario, name) for name in scenario.__slots__}, "jobs": (wrong,)})
    with pytest.raises(ScenarioWrong, match="shows 'clear' and not 'expired'"):
        load(broken, datetime.fromisoformat(DAYS[0]), lambda words: None)
    assert not Person.objects.exists()
    assert not Site.objects.exists()
    assert not Customer.objects.exists()


def test_every_number_is_one_of_those_kept_for_fiction() -> None:
    text = "\n".join(file.read_text(encoding="utf-8") for file in sorted(FOLDER.glob("*.toml")))
    numbers = re.findall(r"\b\d{3}-\d{3}-\d{4}\b", text)
    assert len(numbers) >= 15
    assert [number for number in numbers if not re.fullmatch(r"\d{3}-555-01\d\d", number)] == []


def test_every_site_lies_in_its_state_away_from_the_line() -> None:
    for row in read_scenario(FOLDER).jobs:
        place = resolve(row["latitude"], row["longitude"])
        assert (place.state_code, place.near_state_line) == (row["state"], False), row["number"]


def test_an_unreadable_or_contradictory_scenario_is_named(tmp_path: Path) -> None:
    shutil.copytree(FOLDER, tmp_path, dirs_exist_ok=True)
    east = tmp_path / "east.toml"
    good = east.read_text(encoding="utf-8")
    east.write_text(good.replace('customer = "Tilbrook', 'customer = "Unheard', 1), encoding="utf-8")
    with pytest.raises(ScenarioWrong, match=r"Q-1044: there is no customer 'Unheard"):
        read_scenario(tmp_path)
    east.write_text(good.replace('crew = "Alder crew"', 'crew = "Oak crew"', 1), encoding="utf-8")
    with pytest.raises(ScenarioWrong, match="there is no crew 'Oak crew'"):
        read_scenario(tmp_path)
    (tmp_path / "photos" / "flag_at_the_shed.webp").unlink()
    with pytest.raises(ScenarioWrong, match=r"flag_at_the_shed\.webp cannot be read"):
        read_scenario(tmp_path)
    east.write_text("[[", encoding="utf-8")
    with pytest.raises(ScenarioWrong, match=r"east\.toml cannot be read"):
        read_scenario(tmp_path)


@pytest.mark.django_db
def test_a_refusal_reaches_the_command_line_as_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any) -> None:
        raise ScenarioWrong("east.toml cannot be read: here.")

    monkeypatch.setattr("crews.management.commands.load_demo.load", refuse)
    with pytest.raises(CommandError, match=r"east\.toml cannot be read: here\."):
        call_command("load_demo")


def test_nobody_answers_at_night_and_shares_keep_their_order() -> None:
    zone = "America/New_York"
    start = datetime.fromisoformat("2026-09-11T10:00-04:00")  # a Friday
    end = datetime.fromisoformat("2026-09-16T07:00-04:00")
    instants = [_between(start, end, share / 20, zone) for share in range(1, 20)]
    assert instants == sorted(instants)
    assert len(set(instants)) == len(instants)
    for at in instants:
        assert start < at <= end
        assert at.weekday() < 5
        assert 7 <= at.hour <= 17


@pytest.mark.django_db
def test_the_locates_of_the_demo_fill_every_page() -> None:
    """A traced gas line, a power line found twice, a sewer with a break, a doubtful wire, records alone."""
    now = datetime.fromisoformat("2026-09-16T14:00+00:00")
    load(read_scenario(FOLDER), now, lambda words: None)
    runs = {run.label: run for run in Run.objects.filter(job__number="Q-1041")}
    assert all(run.finished_at is not None and run.finished_at <= now for run in runs.values())
    assert Run.objects.filter(job__number="Q-1046", finished_at=None).count() == 1
    photos = Photo.objects.order_by("id").values_list("run__label", "point_number", "width_px", "height_px")
    assert list(photos) == [
        ("Power to the shed", 9, 640, 480),
        ("Gas to the garage heater", 2, 640, 480),
        ("Gas to the garage heater", 4, 640, 480),
    ]
    assert all(photo.words and photo.file.size and photo.added_at <= now for photo in Photo.objects.all())
    sewer = runs["Sewer lateral, camera sonde"]
    assert [(spot["words"], spot["trouble"]) for spot in sewer.result["dig_points"]] == [
        ("Roots at a joint", ""),
        ("Break, crown gone", ""),
    ]
    assert sewer.result["pipe"]["trouble"] == ""
    doubts = {d["code"] for p in runs["Wire beside the walk, doubtful"].result["points"] for d in p["doubts"]}
    assert {"transmitter_beside_receiver", "peak_null_apart", "sides_differ"} <= doubts
    assert "A" in {one["supports"] for one in runs["Gas to the garage heater"].result["quality"]}
    assert {one["supports"] for one in runs["Water service, from the meter card"].result["quality"]} == {"C"}
    assert runs["Power to the shed"].result["points"][0]["doubts"] == []
    assert Job.objects.get(number="Q-1041").private_locates.count() == 1
