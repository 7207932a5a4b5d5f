"""What the job itself asks for, whatever the ticket: dig area, marks, private lines, local rules. Pure."""

from __future__ import annotations

from datetime import datetime

from tickets.states import LocateKind, Outcome, SightingKind, State
from tickets.verdict.blocker import Blocker, blocker
from tickets.verdict.facts import Facts, LocateFacts, SightingFacts
from tickets.verdict.hearing import merged_operators
from tickets.verdict.result import Kind, Reason
from tickets.verdict.words import instant_words

_SEEN = {
    SightingKind.NO_MARKS_SEEN: ("no marks were seen", "Ask the notification centre to have it marked"),
    SightingKind.MARKS_FADED: ("the marks are faded", "Ask the notification centre for a re-mark"),
    SightingKind.UNMARKED_LINE_SEEN: (
        "an unmarked line was seen",
        "Stop, and tell the notification centre and the operator",
    ),
}


def of_job(facts: Facts, at: datetime) -> list[Blocker]:
    """Blockers that no ticket can lift."""
    found: list[Blocker] = []
    if facts.closed_at is not None and facts.closed_at <= at:
        found.append(blocker(State.STOP, Kind.JOB, "The job is closed.", "Open the job again."))
    if not facts.dig_areas:
        words = "No dig area is drawn, so it is not known where the crew will dig."
        found.append(blocker(State.UNKNOWN, Kind.AREA, words, "Draw the dig area."))
    found += _marks(facts, at)
    found += _private_lines(facts, at)
    for rule in facts.local_rules:
        if rule.confirmed_at is None or rule.confirmed_at > at:
            words = f"{rule.name}: {rule.requirement} Nobody has confirmed it."
            remedy = f"Someone confirms: {rule.requirement}"
            found.append(blocker(State.UNKNOWN, Kind.LOCAL_RULE, words, remedy, rule.source))
    return found


def _marks(facts: Facts, at: datetime) -> list[Blocker]:
    """The last bad sighting that still stands, of the whole site and of each operator."""
    standing: dict[str | None, SightingFacts] = {}
    for sighting in sorted(facts.sightings, key=lambda s: s.seen_at):
        if sighting.kind in _SEEN and sighting.seen_at <= at and not _lifted(facts, sighting, at):
            standing[sighting.key] = sighting
    found = []
    for bad in standing.values():
        what, remedy = _SEEN[bad.kind]
        whose = "On site" if bad.operator is None else f"{bad.operator}: on site"
        words = f"{whose} {what}, {instant_words(bad.seen_at, facts.time_zone)}."
        lifted = "the crew records that the marks are there"
        if bad.kind is SightingKind.UNMARKED_LINE_SEEN and bad.operator is None:
            lifted += ", or the company's own locate"
        found.append(blocker(State.STOP, Kind.MARKS, words, f"{remedy}; then {lifted}."))
    return found


def _lifted(facts: Facts, bad: SightingFacts, at: datetime) -> bool:
    """Marks seen later, for the same operator or the whole site, lift a bad sighting; one of the whole
    site stands until the whole site's marks are seen. An unmarked line of nobody's is lifted by the
    company's own later locate too. Where every operator concerned says it has no facilities, marks missing
    is as it should be."""
    if any(
        s.kind is SightingKind.MARKS_SEEN and bad.seen_at < s.seen_at <= at and s.key in {bad.key, None}
        for s in facts.sightings
    ):
        return True
    if bad.kind is SightingKind.NO_MARKS_SEEN:
        return _nothing_to_mark(facts, bad.key, at)
    if bad.kind is SightingKind.UNMARKED_LINE_SEEN and bad.key is None:
        return any(
            m.kind is LocateKind.LOCATED and m.words and bad.seen_at < m.made_at <= at and not m.in_doubt(at)
            for m in facts.locates
        )
    return False


def _nothing_to_mark(facts: Facts, key: str | None, at: datetime) -> bool:
    concerned = [o for o in merged_operators(facts.tickets) if key in {o.key, None}]
    first = min((t.received_at for t in facts.tickets), default=at)
    answers = [o.latest(at, first) for o in concerned]
    return bool(answers) and all(a is not None and a.outcome is Outcome.NO_FACILITIES for a in answers)


def _private_lines(facts: Facts, at: datetime) -> list[Blocker]:
    doubted = _standing_doubt(facts, at)
    if doubted is not None:
        made = instant_words(doubted.made_at, facts.time_zone)
        words = f"Instrument in doubt: the private locate of {made} cannot be relied on. {doubted.doubt}"
        remedy = "Locate the private lines again with an instrument that has passed its check, or the owner "
        remedy += "waives it by name with a reason."
        return [blocker(State.UNKNOWN, Kind.PRIVATE_LINES, words, remedy)]
    if facts.private_lines_likely is False or _sound(facts, at):
        return []
    words = "Lines that no operator marks are likely here and have not been located."
    remedy = "Locate them with the company's own equipment, or record why none are there and who says so."
    return [blocker(State.UNKNOWN, Kind.PRIVATE_LINES, words, remedy)]


def _sound(facts: Facts, at: datetime) -> list[LocateFacts]:
    """The locates and waivers that can be relied on."""
    return [m for m in facts.locates if m.made_at <= at and m.words and m.by and not m.in_doubt(at)]


def _standing_doubt(facts: Facts, at: datetime) -> LocateFacts | None:
    """The latest locate in doubt that nothing has cured: neither a later locate nor a later waiver."""
    doubted = [m for m in facts.locates if m.made_at <= at and m.in_doubt(at) and not _cured(facts, m, at)]
    return max(doubted, key=lambda m: m.made_at, default=None)


def _cured(facts: Facts, doubted: LocateFacts, at: datetime) -> bool:
    assert doubted.doubted_at is not None
    for other in facts.locates:
        if other.made_at > at or not (other.words and other.by) or other.in_doubt(at):
            continue
        if other.made_at >= doubted.doubted_at or (
            other.kind is LocateKind.LOCATED and other.made_at > doubted.made_at
        ):
            return True
    return False


def notes_of_job(facts: Facts, at: datetime) -> list[Reason]:
    """What there is to know about the job even when nothing blocks: every line located, latest locate first;
    what a later locate says again is not repeated. A waiver counts until it is located all the same."""
    made = sorted(_sound(facts, at), key=lambda m: m.made_at, reverse=True)
    notes, told = [], set[str]()
    for locate in made:
        if locate.kind is LocateKind.WAIVED:
            if locate is made[0]:
                notes.append(_note(f"No private locate: {locate.words} ({locate.by})."))
            continue
        new = tuple(line for line in dict.fromkeys(locate.lines) if line not in told)
        told |= set(new)
        if new:
            head = f"Private lines located {instant_words(locate.made_at, facts.time_zone)} ({locate.by})"
            notes.append(_note(f"{head}: {new[0]}") if len(new) == 1 else _note(f"{head}, {len(new)} findings:", new))
    return notes


def _note(words: str, items: tuple[str, ...] = ()) -> Reason:
    return Reason(words, "", Kind.PRIVATE_LINES, blocks=False, items=items)
