"""`manage.py evidence verify [--job N]`: recompute the chains and name the first break."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from tickets.evidence import verify_all


class Command(BaseCommand):
    help = "Checks the evidence log."

    def add_arguments(self, parser: ArgumentParser) -> None:
        actions = parser.add_subparsers(dest="action", required=True)
        check = actions.add_parser("verify", help="recompute every chain and name the first break")
        check.add_argument("--job", metavar="NUMBER", help="one job only")

    def handle(self, *args: Any, **options: Any) -> None:
        jobs = entries = 0
        breaks = []
        for job, broken in verify_all(options["job"]):
            jobs, entries = jobs + 1, entries + job.evidence_length
            if broken is not None:
                breaks.append(broken)
                self.stderr.write(f"BROKEN {broken}")
        if options["job"] is not None and not jobs:
            raise CommandError(f"No job has the number {options['job']!r}.")
        if breaks:
            raise CommandError(f"{len(breaks)} of {jobs} chains are broken; the first: {breaks[0]}")
        self.stdout.write(f"{jobs} chains with {entries} entries hold.")
