"""A crew's day as its phone page shows it: the plain values of the day, and what the crew can do there."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from crews import selectors
from crews.day_content import caution_content, day_content
from crews.models import Crew, Person
from crews.phone.seen import Reading, readings_of
from crews.selectors import Stop
from crews.words import day_words
from locates import cautions
from tickets.models import Job
from tickets.services.writing import verdict_digest
from tickets.states import SightingKind, State, Utility, choices
from tickets.verdict.words import instant_words

# However quiet the law is, answers and marks change: a page is not trusted longer than this.
FRESH_FOR = timedelta(minutes=10)
SHOWN_SIGHTINGS = 3
GAS_WORDS = "A gas or oil line is named here. Smell, hiss or bubbling: leave at once, upwind, then call 911."
POWER_WORDS = "A power line is named here. Treat every cable as live until its operator says otherwise."


def phone_day(person: Person, crew: Crew, on: date, now: datetime) -> dict[str, Any]:
    """Everything the page shows for one crew and local day, as of `now`; constant in queries."""
    day = selectors.day_of(crew, on, now)
    content = day_content(day, now)
    digests = {stop.job.pk: verdict_digest(stop.verdict) for stop in day.stops}
    read = readings_of(digests)
    today = selectors.today_of(crew, now)
    for stop, site in zip(day.stops, content["sites"], strict=True):
        site |= _site_extras(stop, now, digests[stop.job.pk], read[stop.job.pk], person)
        site["begin_allowed"] = on <= today and _lets_work_begin(stop)
    for item in content["equipment"]:
        due, title = item["due_on"], (item["due_title"] or "calibration").lower()
        item["due_words"] = f"{title} good through {day_words(due)}" if due else ""
    return content | {
        "is_today": on == today,
        "yesterday": _link(on - timedelta(days=1), today),
        "tomorrow": _link(on + timedelta(days=1), today),
        "today": today,
        "flagged": sum(1 for item in content["equipment"] if item["flag"]),
        "struck": caution_content((cautions.EMERGENCY, cautions.POWER_STRIKE, cautions.DAMAGE)),
        "always": caution_content((cautions.UNKNOWN_IS_NO, cautions.MARKS_GONE, cautions.PRIVATE_LINES)),
        "sighting_kinds": choices(SightingKind),
        "fresh_s": _fresh_seconds(content, now),
    }


def _site_extras(stop: Stop, now: datetime, digest: str, read: tuple[Reading, ...], person: Person) -> dict[str, Any]:
    job, zone = stop.job, stop.job.site.time_zone
    operators = [o for t in job.tickets.all() if t.cancelled_at is None for o in t.operators.all()]
    changes = stop.verdict.next_change_at
    utilities = {operator.utility for operator in operators}
    named = [words for one, words in ((Utility.GAS, GAS_WORDS), (Utility.POWER, POWER_WORDS)) if one in utilities]
    return {
        "digest": digest,
        "changes_before": bool(changes and changes <= stop.visit.starts_at),
        "read": [{"name": one.name, "words": instant_words(one.at, zone)} for one in read],
        "read_by_me": any(one.person_id == person.pk for one in read),
        "operators": operators,
        "sightings": _sightings(job),
        "named_lines": named,
        "worked_today": job.last_worked_on == now.astimezone(ZoneInfo(zone)).date(),
    }


def _sightings(job: Job) -> list[dict[str, str]]:
    latest = sorted(job.sightings.all(), key=lambda seen: (seen.seen_at, seen.pk), reverse=True)[:SHOWN_SIGHTINGS]
    return [
        {
            "kind_words": seen.get_kind_display(),
            "operator": "" if seen.operator is None else seen.operator.name,
            "words": instant_words(seen.seen_at, job.site.time_zone),
            "by": str(seen.by),
            "note": seen.note,
        }
        for seen in latest
    ]


def _lets_work_begin(stop: Stop) -> bool:
    return stop.verdict.may_dig or stop.verdict.state is State.EMERGENCY


def _link(day: date, today: date) -> dict[str, Any]:
    words = {today - timedelta(days=1): "Yesterday", today: "Today", today + timedelta(days=1): "Tomorrow"}
    return {"date": day, "words": words.get(day, day_words(day).rsplit(" ", 1)[0])}


def _fresh_seconds(content: dict[str, Any], now: datetime) -> int:
    """How long every verdict on the page holds by itself, and no longer than FRESH_FOR."""
    changes = [site["verdict"]["next_change_at"] for site in content["sites"]]
    spans = [at - now for at in changes if at is not None and at > now]
    return max(1, int(min([FRESH_FOR, *spans]).total_seconds()))
