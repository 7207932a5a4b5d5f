"""Data file -> rule. Strict: what is not understood is refused with the file, the key and the remedy."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TypeVar

from locates.errors import FirstspadeError
from locates.law.days import WEEKDAYS, holiday_table
from locates.law.reader import RuleFileError, Table
from locates.law.rule import (
    Advance,
    Anchor,
    Answers,
    Begins,
    Closes,
    Duty,
    EarlyStart,
    Ends,
    Ground,
    HolidayList,
    Jurisdiction,
    Receipt,
    Renewal,
    SecondNotice,
    Silence,
    Source,
    Span,
    SpecialNotice,
    Tier,
    Unit,
    Validity,
    Version,
    Wait,
    Zone,
)

DATA = Path(__file__).parent / "data"
DUTIES = (
    "white_lining",
    "hand_digging",
    "emergency",
    "damage",
    "private_lines",
    "records",
    "variants",
)
T = TypeVar("T")
Sources = Mapping[str, Source]


class UnknownJurisdiction(FirstspadeError):
    code = "unknown_jurisdiction"


def codes() -> tuple[str, ...]:
    """Codes of every jurisdiction with a data file, sorted ('AK', 'AL', …)."""
    return tuple(sorted(p.stem.upper() for p in (DATA / "us").glob("*.toml")))


@cache
def jurisdiction(code: str) -> Jurisdiction:
    """The law of one jurisdiction, read once. Raises UnknownJurisdiction or RuleFileError."""
    path = DATA / "us" / f"{code.lower()}.toml"
    if len(code) != 2 or not code.isalpha() or not path.exists():
        raise UnknownJurisdiction(
            f"'{code}' is not a jurisdiction with a data file; use a two-letter code such as VA.",
            fields={"state": "not known"},
        )
    return load(path)


def load(path: Path) -> Jurisdiction:
    """Read and check one data file. Raises RuleFileError."""
    raw = path.read_bytes()
    try:
        top = Table(path.name, "", tomllib.loads(raw.decode("utf-8")))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as problem:
        raise RuleFileError(path.name, "file", f"is not TOML ({problem})", "mend the line it names") from None
    code = top.text("code")
    if code != path.stem.upper():
        raise top.fault("code", f"{code!r} does not match the file's name", f"write {path.stem.upper()!r}")
    sources = _sources(top)
    evidence, digest = top.choice("evidence", Tier), hashlib.sha256(raw).hexdigest()
    versions = tuple(
        replace(_version(t, code, sources), evidence=evidence, digest=digest) for t in top.tables("version")
    )
    if not versions:
        raise top.fault("version", "is missing", "add at least one [[version]]")
    starts = [v.holds_from for v in versions]
    if starts != sorted(set(starts)):
        raise top.fault("version", "versions are not in order of holds_from", "put the oldest first, each once")
    result = Jurisdiction(
        code=code,
        name=top.text("name"),
        statute=top.text("statute"),
        time_zones=top.texts("time_zones"),
        law_time_zone=top.text("law_time_zone", None),
        evidence=evidence,
        notes=top.texts("notes", ()),
        versions=versions,
        sources=tuple(sources.values()),
        digest=digest,
    )
    top.done()
    return result


def _sources(top: Table) -> dict[str, Source]:
    found: dict[str, Source] = {}
    for t in top.tables("source"):
        s = Source(
            id=t.text("id"),
            title=t.text("title"),
            section=t.text("section", ""),
            url=t.text("url", ""),
            tier=t.choice("tier", Tier),
            edition=t.text("edition", ""),
            read_on=t.day("read_on"),
        )
        t.done()
        if s.id in found:
            raise t.fault("id", f"{s.id!r} is used twice", "give every source its own id")
        found[s.id] = s
    return found


def _ground(t: Table, sources: Sources) -> Ground:
    tier = t.choice("tier", Tier)
    ids = t.texts("cites", ())
    for i in ids:
        if i not in sources:
            raise t.fault("cites", f"{i!r} is no source of this file", "cite an id of a [[source]]")
    if tier is not Tier.MEMORY and not ids:
        raise t.fault("cites", f"is missing for a value of tier {tier}", "cite at least one [[source]]")
    return Ground(tier, tuple(sources[i] for i in ids), t.text("doubt", ""))


def _part(parent: Table, key: str, build: Callable[[Table, Ground], T], sources: Sources) -> T | None:
    t = parent.table(key)
    if t is None:
        return None
    made = build(t, _ground(t, sources))
    t.done()
    return made


def _needed(parent: Table, key: str, build: Callable[[Table, Ground], T], sources: Sources) -> T:
    t = parent.needed(key)
    made = build(t, _ground(t, sources))
    t.done()
    return made


def _version(t: Table, code: str, sources: Sources) -> Version:
    duties = {name: duty for name in DUTIES if (duty := _part(t, name, _duty, sources)) is not None}
    made = Version(
        code=code,
        holds_from=t.day("holds_from"),
        ground=_ground(t, sources),
        note=t.text("note", ""),
        centre_sets_start=t.flag("centre_sets_start", False),
        wait=_needed(t, "wait", _wait, sources),
        receipt=_part(t, "receipt", _receipt, sources),
        special_notices=tuple(_special(s, sources) for s in t.tables("special_notice")),
        max_advance=_part(t, "max_advance", _advance, sources),
        validity=_needed(t, "validity", _validity, sources),
        begin_work=_part(t, "begin_work", _validity, sources),
        lapse=_part(t, "lapse", _advance, sources),
        project_ticket=_part(t, "project_ticket", _validity, sources),
        renewal=_needed(t, "renewal", _renewal, sources),
        answers=_needed(t, "answers", _answers, sources),
        second_notice=_part(t, "second_notice", _second, sources),
        zone=_needed(t, "tolerance_zone", _zone, sources),
        holidays=_needed(t, "holidays", _holidays, sources),
        duties=duties,
    )
    t.done()
    return made


def _span(t: Table, key: str) -> Span | None:
    inner = t.table(key)
    if inner is None:
        return None
    made = Span(inner.whole("amount"), inner.choice("unit", Unit))
    inner.done()
    return made


def _wait(t: Table, ground: Ground) -> Wait:
    unit = t.choice("unit", Unit)
    skips = t.texts("skips", [] if unit is Unit.CALENDAR_DAYS else ["saturday", "sunday", "holiday"])
    for s in skips:
        if s not in (*WEEKDAYS, "holiday"):
            raise t.fault("skips", f"{s!r} is not known", "write weekday names or holiday")
    made = Wait(
        ground=ground,
        amount=t.whole("amount"),
        unit=unit,
        begins=t.choice("begins", Begins),
        begins_time=t.clock("begins_time"),
        ends=t.choice("ends", Ends),
        ends_time=t.clock("ends_time"),
        skips=frozenset(skips),
        counts_notice_day_if_by=t.clock("counts_notice_day_if_by"),
    )
    if unit is Unit.HOURS and made.ends is not Ends.SAME_CLOCK:
        raise t.fault("ends", f"{made.ends} does not go with hours", "write same_clock, or count working_days")
    if made.ends is Ends.SAME_CLOCK and made.ends_time is not None:
        raise t.fault("ends_time", "does not go with same_clock", "remove it: the hours decide")
    if made.begins_time is not None and made.begins is Begins.NOTICE_INSTANT:
        raise t.fault("begins_time", "does not go with notice_instant", "remove it or use [receipt]")
    return made


def _receipt(t: Table, ground: Ground) -> Receipt:
    made = Receipt(
        ground=ground,
        opens=t.clock("opens"),
        closes=t.clock("closes"),
        next_day_time=t.clock("next_day_time"),
        non_working_day=t.word("non_working_day", ("as_received", "next_working_day"), "as_received"),
    )
    if made.closes is not None and made.non_working_day == "as_received":
        # Friday evening would else be received after Saturday: a later notice would open earlier.
        raise t.fault("non_working_day", "does not go with closes", 'write "next_working_day"')
    return made


def _special(t: Table, sources: Sources) -> SpecialNotice:
    opens_time = t.clock("opens_time")
    if opens_time is None:
        raise t.fault("opens_time", "is missing", "write a time of day as 11:59:00")
    made = SpecialNotice(
        ground=_ground(t, sources),
        on=t.word("on", WEEKDAYS),
        opens_on=t.word("opens_on", WEEKDAYS),
        opens_time=opens_time,
        one_day_later_if_holiday=t.word("one_day_later_if_holiday", WEEKDAYS, None),
    )
    t.done()
    return made


def _advance(t: Table, ground: Ground) -> Advance:
    return Advance(ground, Span(t.whole("amount"), t.choice("unit", Unit)))


def _validity(t: Table, ground: Ground) -> Validity:
    fixed = not t.flag("no_fixed_life", False)
    span = Span(t.whole("amount"), t.choice("unit", Unit)) if fixed else None
    made = Validity(
        ground=ground,
        span=span,
        anchor=t.choice("from", Anchor, "notice"),
        anchor_day_counts=t.flag("anchor_day_counts", False),
        closes=t.choice("closes", Closes, "same_clock"),
        ends_time=t.clock("ends_time"),
        words=t.text("words", ""),
    )
    if (made.closes is Closes.AT) != (made.ends_time is not None):
        raise t.fault("ends_time", 'goes with closes = "at" and only with it', "write both or neither")
    if span is not None and span.unit is Unit.HOURS and made.closes is not Closes.SAME_CLOCK:
        raise t.fault("closes", "must be same_clock when hours are counted", "remove it or count days")
    return made


def _renewal(t: Table, ground: Ground) -> Renewal:
    return Renewal(
        ground=ground,
        earliest=_span(t, "earliest"),
        latest=_span(t, "latest"),
        notice_day_counts=t.flag("notice_day_counts", False),
        words=t.text("words", ""),
    )


def _answers(t: Table, ground: Ground) -> Answers:
    return Answers(
        ground=ground,
        required=t.flag("required", True),
        all_must_answer=t.flag("all_must_answer", True),
        early_start=t.choice("early_start", EarlyStart, "never"),
        due=t.text("due", ""),
        words=t.text("words", ""),
    )


def _second(t: Table, ground: Ground) -> SecondNotice:
    return SecondNotice(
        ground=ground,
        span=_span(t, "wait"),
        working_hours_only=t.flag("working_hours_only", False),
        silence_then=t.choice("silence_then", Silence, "wait"),
        words=t.text("words", ""),
    )


def _zone(t: Table, ground: Ground) -> Zone:
    return Zone(
        ground=ground,
        inches_each_side=t.whole("inches_each_side"),
        measured_from=t.word("measured_from", ("outer_edge", "mark", "centreline")),
        plus_half_width=t.flag("plus_half_width", False),
        words=t.text("words", ""),
    )


def _duty(t: Table, ground: Ground) -> Duty:
    required = t.word("required", ("always", "where_not_described", "never", "not_known"), "")
    return Duty(ground=ground, words=t.text("words"), required=required)


def _holidays(t: Table, ground: Ground) -> HolidayList:
    table = holiday_table()
    days, overrides = t.texts("days"), t.mapping("observed_for")
    for name in (*days, *overrides):
        if name not in table.holidays:
            raise t.fault("days", f"{name!r} is not in holidays.toml", "add it there or mend the name")
    for manner in (t.text("observed"), *overrides.values()):
        if manner not in table.observances:
            raise t.fault("observed", f"{manner!r} is not in holidays.toml", "add it there or mend the name")
    return HolidayList(
        ground=ground,
        days=days,
        observed=t.text("observed"),
        observed_for=overrides,
        complete=t.flag("complete"),
    )
