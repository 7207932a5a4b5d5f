"""`manage.py law`: one state's rule in plain words with its citations, or the table of all."""

from __future__ import annotations

from argparse import ArgumentParser
from collections import Counter
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from locates.errors import FirstspadeError
from locates.law.explain import CAUTION, law_text, span_words, wait_words
from locates.law.load import codes, jurisdiction
from locates.law.rule import Jurisdiction, Tier


class Command(BaseCommand):
    help = "Print the excavation-notice rule of one state, or the table of all."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--state", help="two-letter code, such as VA")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["state"]:
                self.stdout.write(law_text(jurisdiction(options["state"].upper())))
                return
            laws = [jurisdiction(code) for code in codes()]
            for law in laws:
                self.stdout.write(_row(law))
        except FirstspadeError as refusal:
            raise CommandError(refusal.message) from None
        self.stdout.write(f"\n{_summary(laws)}\n\n{CAUTION}")


def _summary(laws: list[Jurisdiction]) -> str:
    versions = sum(len(law.versions) for law in laws)
    sources = sum(len(law.sources) for law in laws)
    grades = Counter(str(law.evidence) for law in laws)
    graded = ", ".join(f"{grades[str(tier)]} {tier}" for tier in Tier if grades[str(tier)])
    read = sum(law.versions[-1].holidays.complete for law in laws)
    return (
        f"{len(laws)} jurisdictions, {versions} versions, {sources} sources cited; evidence: {graded}; "
        f"list of holidays read in the text that governs: {read}, else the federal days are skipped as well"
    )


def _row(law: Jurisdiction) -> str:
    version = law.versions[-1]
    life = version.validity.span or (version.begin_work.span if version.begin_work else None)
    kind = "" if version.validity.span else " to begin"
    lives = f"{span_words(life)}{kind}" if life else "no fixed life"
    flag = "" if law.verified else "  unverified: confirm with the notification centre"
    zone = f"{version.zone.inches_each_side} in"
    return f"{law.code}  {wait_words(version.wait)}  |  life {lives}  |  zone {zone}  |  {law.evidence}{flag}"
