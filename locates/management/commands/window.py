"""`manage.py window`: the legal window of a notice, or of a file of notices, from the law's data alone."""

from __future__ import annotations

import csv
import json
from argparse import ArgumentParser
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from locates import clock
from locates.errors import FirstspadeError
from locates.law.decision import UNVERIFIED, Decision
from locates.law.explain import CAUTION
from locates.law.load import jurisdiction
from locates.law.local_time import read_instant
from locates.law.trace import instant_words
from locates.law.window import window_for, zone_for

COLUMNS = ("state", "received", "time_zone", "printed_start", "printed_expiry", "stated_start")


class Command(BaseCommand):
    help = "Print the legal window of a notice: when digging may begin, when the ticket ends, when to renew."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--state", help="two-letter code, such as VA")
        parser.add_argument("--received", help="local date and time of the notice, as 2026-11-25T10:00")
        parser.add_argument("--time-zone", help="the site's zone, where the state has more than one")
        parser.add_argument("--printed-start", help="start printed on the ticket")
        parser.add_argument("--printed-expiry", help="expiry printed on the ticket")
        parser.add_argument("--stated-start", help="start named in the notice")
        parser.add_argument("--batch", metavar="FILE.csv", help=f"one notice a line; columns {', '.join(COLUMNS)}")
        parser.add_argument("--json", action="store_true", help="JSON, one object a line with --batch")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["batch"]:
            self._batch(Path(options["batch"]), options["json"])
            return
        if not options["state"] or not options["received"]:
            raise CommandError("Give --state and --received, or --batch FILE.csv.")
        try:
            made = decide_row(options, clock.now(), trace=True)
        except FirstspadeError as refusal:
            raise CommandError(refusal.message) from None
        self.stdout.write(json.dumps(made.as_json(), indent=2) if options["json"] else _plain(made))

    def _batch(self, path: Path, as_json: bool) -> None:
        if not path.is_file():
            raise CommandError(f"{path.name}: there is no such file.")
        bad = 0
        with path.open(newline="", encoding="utf-8-sig") as lines:
            for number, made in _rows(csv.DictReader(lines), clock.now()):
                if isinstance(made, str):
                    bad += 1
                    line = json.dumps({"line": number, "error": made}) if as_json else f"line {number}: {made}"
                else:
                    line = json.dumps(made.as_json()) if as_json else _short(made)
                self.stdout.write(line)
        if bad:
            raise CommandError(f"{bad} of the lines could not be judged; each says why.")


def _rows(reader: csv.DictReader[str], now: datetime) -> Iterator[tuple[int, Decision | str]]:
    missing = [name for name in ("state", "received") if name not in (reader.fieldnames or ())]
    if missing:
        raise CommandError(f"The file has no column {', '.join(missing)}; the first line names the columns.")
    for number, row in enumerate(reader, 2):
        try:
            yield number, decide_row(row, now, trace=True)
        except FirstspadeError as refusal:
            yield number, refusal.message


def decide_row(row: dict[str, Any], now: datetime, *, trace: bool) -> Decision:
    """The decision for one notice given as texts. Raises FirstspadeError with one clear line."""
    state = (row["state"] or "").strip().upper()
    site_zone = row.get("time_zone") or None
    zone = zone_for(jurisdiction(state), site_zone)

    def given(name: str) -> datetime | None:
        return read_instant(row[name], zone, name) if row.get(name) else None

    return window_for(
        state,
        read_instant(row["received"] or "", zone),
        site_zone,
        now=now,
        stated_start=given("stated_start"),
        printed_start=given("printed_start"),
        printed_expiry=given("printed_expiry"),
        trace=trace,
    )


def _short(made: Decision) -> str:
    closes = instant_words(made.closes_at) if made.closes_at else "no fixed expiry"
    return f"{made.state}  opens {instant_words(made.opens_at)}  closes {closes}"


def _plain(made: Decision) -> str:
    out: list[str] = [f"{made.state}, rule {made.rule_version}, evidence: {made.evidence}"]
    if not made.verified:
        out.append(UNVERIFIED.capitalize())
    out.append(f"Digging may begin   {instant_words(made.opens_at)} as far as the wait goes")
    out.append(f"Ticket is good to   {instant_words(made.closes_at) if made.closes_at else 'no fixed expiry'}")
    for words, at in (
        ("Work must begin by", made.start_by),
        ("Renew from", made.renew_from),
        ("Renew by", made.renew_by),
    ):
        if at is not None:
            out.append(f"{words:<20}{instant_words(at)}")
    out += ["", "How it was counted", *_indented(s.words for s in made.steps)]
    if made.warnings or made.doubts:
        out += ["", "Ask about", *_indented((*made.warnings, *made.doubts))]
    return "\n".join([*out, "", CAUTION])


def _indented(lines: Iterable[str]) -> list[str]:
    return [f"  {line}" for line in lines]
