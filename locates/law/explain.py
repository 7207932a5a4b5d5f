"""A rule told in plain words, each line with its evidence and citation, for a crew, an owner or a court."""

from __future__ import annotations

from datetime import time
from typing import NamedTuple

from locates.law.days import holiday_table
from locates.law.decision import UNVERIFIED
from locates.law.rule import (
    Advance,
    Begins,
    EarlyStart,
    Ends,
    Ground,
    Jurisdiction,
    Receipt,
    Silence,
    Span,
    Validity,
    Version,
    Wait,
)
from locates.law.trace import life_words

CAUTION = (
    "This is an aid to planning. The law and the notification centre's word prevail; local codes and licensed "
    "practice decide."
)


class Line(NamedTuple):
    """One fact of a rule: what it is about, in words, on what evidence."""

    about: str
    words: str
    tier: str
    citation: str
    doubt: str


def rule_lines(version: Version) -> tuple[Line, ...]:
    """Every part of a version in words."""
    found = [_line("Wait", wait_words(version.wait), version.wait.ground)]
    if version.receipt is not None:
        found.append(_line("Taken as received", receipt_words(version.receipt), version.receipt.ground))
    for special in version.special_notices:
        words = (
            f"A {special.on.capitalize()} notice opens {special.opens_on.capitalize()} {clock(special.opens_time)}"
        )
        if special.one_day_later_if_holiday:
            words += f", one day later when that {special.one_day_later_if_holiday.capitalize()} is a holiday"
        found.append(_line("Named start", words, special.ground))
    if version.centre_sets_start:
        found.append(_line("Start", "The notification centre prints the start; it rules when later", version.ground))
    for about, advance in (("At most ahead", version.max_advance), ("Lapses when work stops", version.lapse)):
        if advance is not None:
            found.append(_advance(about, advance))
    found += [_life(about, rule) for about, rule in _lives(version) if rule is not None]
    found += _renewal(version)
    found += _answers(version)
    zone = version.zone
    width = f"{zone.inches_each_side} in each side of the {zone.measured_from.replace('_', ' ')}"
    half = ", plus half the line's width" if zone.plus_half_width else ""
    found.append(_line("Tolerance zone", _join(f"{width}{half}", zone.words), zone.ground))
    found.append(_holidays(version))
    found += [_line(name.replace("_", " ").capitalize(), d.words, d.ground) for name, d in version.duties.items()]
    return tuple(found)


def wait_words(wait: Wait) -> str:
    """'48 hours from 7:00 AM of the next working day; Saturdays, Sundays and holidays do not count'."""
    begins = {
        Begins.NOTICE_INSTANT: "from the notice",
        Begins.NEXT_DAY: "from the next day",
        Begins.NEXT_WORKING_DAY: "from the next working day",
    }[wait.begins]
    if wait.begins_time is not None:
        begins = begins.replace("from the", f"from {clock(wait.begins_time)} of the")
    words = f"{span_words(Span(wait.amount, wait.unit))} {begins}"
    if wait.counts_notice_day_if_by is not None:
        words += f" (the day of notice counts when received by {clock(wait.counts_notice_day_if_by)})"
    at = clock(wait.ends_time or time())
    ends = {
        Ends.SAME_CLOCK: "dig once they have run out",
        Ends.LAST_DAY: f"dig on the last of them from {at}",
        Ends.DAY_AFTER: f"dig from {at} of the day after the last",
        Ends.NEXT_WORKING_DAY: f"dig from {at} of the working day after the last",
    }[wait.ends]
    skipped = [name for name in ("saturday", "sunday", "holiday") if name in wait.skips]
    plain = ", ".join(f"{name.capitalize() if name != 'holiday' else name}s" for name in skipped)
    return f"{words}; {ends}" + (f"; {plain} do not count" if plain else "")


def receipt_words(rule: Receipt) -> str:
    """What happens to a notice outside the hours."""
    parts = []
    if rule.opens is not None:
        parts.append(f"before {clock(rule.opens)}: at {clock(rule.opens)}")
    if rule.closes is not None:
        parts.append(f"after {clock(rule.closes)}: {clock(rule.next_day_time or time())} of the next working day")
    if rule.non_working_day == "next_working_day":
        parts.append(f"on a weekend or holiday: {clock(rule.next_day_time or time())} of the next working day")
    return "; ".join(parts) or "as given"


def span_words(span: Span) -> str:
    name = str(span.unit).replace("_", " ")
    return f"{span.amount} {name if span.amount != 1 else name.rstrip('s')}"


def clock(at: time) -> str:
    """'7:00 AM'."""
    return f"{at.hour % 12 or 12}:{at.minute:02d} {'AM' if at.hour < 12 else 'PM'}"


def law_text(law: Jurisdiction) -> str:
    """The law of a jurisdiction as plain text, newest version first."""
    out = [f"{law.name} ({law.code}): {law.statute}", f"Evidence: {law.evidence}"]
    if not law.verified:
        out.append(UNVERIFIED.capitalize())
    out += [f"Note: {note}" for note in law.notes]
    for version in reversed(law.versions):
        out += ["", f"In force from {version.holds_from.isoformat()} ({version.id})" + _after(version.note)]
        for line in rule_lines(version):
            out.append(f"  {line.about}: {line.words} [{line.tier}{_after(line.citation)}]")
            if line.doubt:
                out.append(f"      in doubt: {line.doubt}")
    out += ["", "Sources"]
    out += [
        f"  {s.title}{_after(s.section)}{_after(s.url)} ({s.tier}; read {s.read_on.isoformat()})" for s in law.sources
    ]
    return "\n".join([*out, "", CAUTION])


def _lives(version: Version) -> tuple[tuple[str, Validity | None], ...]:
    return (
        ("Ticket's life", version.validity),
        ("Work must begin", version.begin_work),
        ("Project ticket", version.project_ticket),
    )


def _life(about: str, rule: Validity) -> Line:
    words = life_words(rule).removeprefix("Life: ")
    if about == "Work must begin":
        words = f"within {words}"
    ends = {"end_of_day": ", to the end of that day", "start_of_day": ", to the start of that day"}.get(
        rule.closes, ""
    )
    if rule.ends_time is not None:
        ends = f", to {clock(rule.ends_time)}"
    return _line(about, _join(words + ends, rule.words), rule.ground)


def _renewal(version: Version) -> list[Line]:
    rule = version.renewal
    parts = []
    if rule.earliest is not None:
        parts.append(f"not earlier than {span_words(rule.earliest)} before the expiry")
    if rule.latest is not None:
        parts.append(f"at least {span_words(rule.latest)} before the expiry")
    parts.append("early enough that its own wait ends by the expiry")
    return [_line("Renewal", _join("; ".join(parts), rule.words), rule.ground)]


def _answers(version: Version) -> list[Line]:
    rule = version.answers
    every = "every operator must have answered" if rule.all_must_answer else "silence after the wait suffices"
    early = {
        EarlyStart.NEVER: "no start before the wait has ended",
        EarlyStart.ALL_ANSWERED: "earlier once all have answered",
        EarlyStart.ALL_NO_FACILITIES: "earlier only when all say they have nothing there",
    }[rule.early_start]
    due = f"due {rule.due}" if rule.due else ""
    found = [_line("Answers", _join("; ".join(p for p in (every, early, due) if p), rule.words), rule.ground)]
    second = version.second_notice
    if second is not None:
        length = "length of the further wait not known" if second.span is None else f"wait {span_words(second.span)}"
        if second.working_hours_only:
            length += " (working hours)"
        then = "then proceed with care" if second.silence_then is Silence.PROCEED_WITH_CARE else "then still wait"
        found.append(
            _line("No answer: tell the centre again", _join(f"{length}; {then}", second.words), second.ground)
        )
    return found


def _holidays(version: Version) -> Line:
    listed, table = version.holidays, holiday_table()
    names = ", ".join(table.holidays[name].title for name in listed.days) or "none named"
    manner = table.observances[listed.observed].title
    joined = "" if listed.complete else "; list not read in a text, so federal holidays are skipped as well"
    return _line("Holidays", f"{names}; {manner}{joined}", listed.ground)


def _advance(about: str, rule: Advance) -> Line:
    return _line(about, span_words(rule.span), rule.ground)


def _line(about: str, words: str, ground: Ground) -> Line:
    return Line(about, words, str(ground.tier), ground.citation(), ground.doubt)


def _join(first: str, second: str) -> str:
    return f"{first}. {second}" if second else first


def _after(words: str) -> str:
    return f"; {words}" if words else ""
