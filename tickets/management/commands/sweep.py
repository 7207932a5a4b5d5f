"""`manage.py sweep`: settle what is due, here and now, without worker or broker; `--rederive` everything."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from locates import clock
from tickets.models import Job
from tickets.services import claim_due, refresh_job, settle_follow_up


class Command(BaseCommand):
    help = "Settles due follow-ups; with --rederive computes every open job's windows and verdict anew."

    def add_arguments(self, parser: ArgumentParser) -> None:
        words = "compute windows, verdicts and follow-ups of every open job anew, as after a change of the law"
        parser.add_argument("--rederive", action="store_true", help=words)

    def handle(self, *args: Any, **options: Any) -> None:
        if options["rederive"]:
            jobs = list(Job.objects.filter(closed_at=None).order_by("pk"))
            for job in jobs:
                refresh_job(job=job, now=clock.now())
            self.stdout.write(f"{len(jobs)} open jobs derived anew.")
        settled = 0
        while claims := claim_due(now=clock.now()):
            for claim in claims:
                now = clock.now()
                settled += settle_follow_up(follow_up_id=claim.follow_up_id, claim_token=claim.token, now=now)
        self.stdout.write(f"{settled} follow-ups settled.")
