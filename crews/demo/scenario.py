"""The demo's data files, read whole and held against each other before anything is written."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from locates.errors import FirstspadeError

REGIONS = ("east", "plains", "west")
Row = Mapping[str, Any]


class ScenarioWrong(FirstspadeError):
    code = "scenario_wrong"


@dataclass(frozen=True, slots=True)
class Scenario:
    """The parsed files. Rows stay as they stand there; the services check what they mean."""

    company: str
    password: str
    crews: tuple[Row, ...]
    people: tuple[Row, ...]
    equipment: tuple[Row, ...]
    customers: tuple[Row, ...]
    jobs: tuple[Row, ...]


def read_scenario(folder: Path) -> Scenario:
    """Raises ScenarioWrong with the file or the row at fault."""
    company = _read(folder / "company.toml")
    regions = [_read(folder / f"{name}.toml") for name in REGIONS]
    located = _read(folder / "locates.toml")
    for run in located["run"]:
        run["photo"] = [{**one, "content": _picture(folder / "photos" / one["file"])} for one in run.get("photo", ())]
    for job in (row for region in regions for row in region["job"]):
        job["run"] = [run for run in located["run"] if run["job"] == job["number"]]
        job["soil"] = [found for found in located["soil"] if found["job"] == job["number"]]
    scenario = Scenario(
        company=company["name"],
        password=company["password"],
        crews=tuple(company["crew"]),
        people=tuple(company["person"]),
        equipment=tuple(_read(folder / "equipment.toml")["item"]),
        customers=tuple(row for region in regions for row in region["customer"]),
        jobs=tuple(row for region in regions for row in region["job"]),
    )
    _check_names(scenario)
    return scenario


def _read(file: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as wrong:
        raise ScenarioWrong(f"{file.name} cannot be read: {wrong}") from wrong


def _picture(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as wrong:
        raise ScenarioWrong(f"{file.name} cannot be read: {wrong}") from wrong


def _check_names(scenario: Scenario) -> None:
    crews = {row["name"] for row in scenario.crews}
    customers = {row["name"] for row in scenario.customers}
    for row in (*scenario.people, *scenario.equipment):
        if row.get("crew", next(iter(crews))) not in crews:
            raise ScenarioWrong(f"{row.get('username') or row.get('serial')}: there is no crew {row['crew']!r}.")
    for job in scenario.jobs:
        if job["customer"] not in customers:
            raise ScenarioWrong(f"{job['number']}: there is no customer {job['customer']!r}.")
        for visit in job.get("visit", ()):
            if visit["crew"] not in crews:
                raise ScenarioWrong(f"{job['number']}: there is no crew {visit['crew']!r}.")
    if scenario.people[0]["role"] != "owner":
        raise ScenarioWrong("The first person must be the owner, who adds the others.")
