"""`manage.py bench NAME …`: one of the benchmarks, each with its own arguments."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from importlib import import_module
from typing import Any

from django.core.management.base import BaseCommand, CommandError

BENCHMARKS = {
    "clock": ("tests.bench.clock", "legal windows a second"),
    "ground": ("tests.bench.ground", "depths and traces from a receiver's readings"),
    "planner": ("crews.planning.bench", "routes against published instances"),
}


class Command(BaseCommand):
    help = "Measure one part: " + ", ".join(f"{name} ({words})" for name, (_, words) in BENCHMARKS.items())
    requires_system_checks: list[str] = []

    def run_from_argv(self, argv: list[str]) -> None:
        """Everything after the name belongs to the benchmark, its --help too."""
        name, arguments = (argv[2] if len(argv) > 2 else ""), argv[3:]
        if name in BENCHMARKS:
            sys.exit(run(name, arguments))
        super().run_from_argv(argv)

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", choices=sorted(BENCHMARKS), help="what to measure")
        parser.add_argument("arguments", nargs="*", help="its own arguments; NAME --help lists them")

    def handle(self, *args: Any, **options: Any) -> None:
        if code := run(options["name"], options["arguments"]):
            raise CommandError(f"bench {options['name']} ended with code {code}.", returncode=code)


def run(name: str, arguments: list[str]) -> int:
    """One benchmark's exit code. Its module is loaded only now: most need the test packages."""
    code: int = import_module(BENCHMARKS[name][0]).main(arguments)
    return code
