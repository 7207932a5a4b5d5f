"""manage.py load_demo: the demo scenario, laid relative to the moment of loading."""

from __future__ import annotations

import time
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import OperationalError, ProgrammingError

from crews.demo.load import Login, load, logins
from crews.demo.scenario import Scenario, read_scenario
from crews.models import Person
from locates import clock
from locates.errors import FirstspadeError

FOLDER = Path("fixtures") / "demo"


class Command(BaseCommand):
    help = (
        "Load the demo scenario into an empty database. Nothing happens where there are log-ins already: the "
        "evidence log refuses deletes, so start over with a fresh database (demo --fresh)."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--logins", action="store_true", help="only print the demo's log-ins")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            scenario = read_scenario(settings.ROOT / FOLDER)
            if options["logins"]:
                self.stdout.write(login_words(scenario, logins(scenario)))
                return
            if anybody():
                self.stdout.write("There are log-ins already; the demo was not loaded again.")
                return
            self._load(scenario, options["verbosity"])
        except FirstspadeError as refused:
            raise CommandError(refused.message) from refused

    def _load(self, scenario: Scenario, verbosity: int) -> None:
        began = time.monotonic()
        made = load(scenario, clock.now(), self._say if verbosity > 1 else _say_nothing)
        if verbosity:
            took_s = time.monotonic() - began
            self.stdout.write(f"{scenario.company}: {len(scenario.jobs)} jobs loaded in {took_s:.1f} s.")
            self.stdout.write(login_words(scenario, made))

    def _say(self, words: str) -> None:
        self.stdout.write(words)


def _say_nothing(words: str) -> None:
    pass


def anybody() -> bool:
    """Whether somebody can log in already."""
    try:
        return Person.objects.exists()
    except (OperationalError, ProgrammingError) as wrong:
        raise CommandError("The database has no tables yet; run migrate first.") from wrong


def login_words(scenario: Scenario, made: list[Login]) -> str:
    """One line a log-in: who it is, the name, the password."""
    lines = []
    for login in made:
        who = login.crew or login.role.replace("_", " ")
        lines.append(f"  {who:<14} {login.username:<12} password {scenario.password}")
    return "\n".join(lines)
