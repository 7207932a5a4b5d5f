"""A crew's day as plain values: what the API answers and a page or a printed sheet renders."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from crews.models import Equipment
from crews.register.day_kit import Held, held_on
from crews.register.visit_kit import kit_of_day
from crews.selectors import CrewDay, Stop
from crews.site_zone import SiteZone, site_zone
from crews.words import day_words, span_words
from locates import cautions
from locates.cautions import Caution
from locates.ground.lengths import feet_inches
from tickets.models import DigArea, Job, Ticket, TicketOperator
from tickets.states import WORDS, Outcome
from tickets.verdict.words import instant_words


def day_content(day: CrewDay, now: datetime) -> dict[str, Any]:
    """The day with all its sites, as of `now`."""
    crew = day.crew
    kit = kit_of_day(crew, day.on, [stop.visit for stop in day.stops])
    return {
        "crew": {
            name: getattr(crew, name)
            for name in ("id", "name", "time_zone", "yard_name", "yard_latitude", "yard_longitude")
        },
        "date": day.on,
        "date_words": day_words(day.on),
        "as_of": now,
        "as_of_words": instant_words(now, crew.time_zone),
        "sites": [site_content(stop, now, kit.get(stop.visit.pk, ())) for stop in day.stops],
        "equipment": [item_content(held) for held in held_on(crew, day.on)],
        "cautions": caution_content(cautions.EVERY_PAGE),
    }


def site_content(stop: Stop, now: datetime, kit: tuple[str, ...]) -> dict[str, Any]:
    """One stop of the day; `kit` says what to mind about the instruments that it needs."""
    job, site, verdict = stop.job, stop.job.site, stop.verdict
    zone = site_zone(site.state, site.time_zone, now)
    tickets = [ticket for ticket in job.tickets.all() if ticket.cancelled_at is None]
    return {
        "visit": visit_content(stop),
        "kit": list(kit),
        "job": job_content(job),
        "place": {
            name: getattr(site, name)
            for name in ("street", "town", "county", "state", "latitude", "longitude", "time_zone")
        },
        "verdict": {
            "state": str(verdict.state),
            "words": verdict.words,
            "may_dig": verdict.may_dig,
            "sentence": verdict.sentence,
            "reasons": [reason.as_json() for reason in verdict.reasons],
            "would_change": list(verdict.would_change),
            "unverified": verdict.unverified,
            "next_change_at": verdict.next_change_at,
            "next_change_words": said(verdict.next_change_at, site.time_zone),
        },
        "window": window_content(stop),
        "tickets": [ticket_content(ticket, site.time_zone) for ticket in tickets],
        "dig_areas": areas_content(job),
        "tolerance_zone": zone,
        "cautions": [
            *verdict_cautions(stop, zone),
            *caution_content(cautions.for_site(zone_sentence(zone))),
        ],
    }


def visit_content(stop: Stop) -> dict[str, Any]:
    visit = stop.visit
    return {
        "id": visit.pk,
        "kind": visit.kind,
        "kind_words": visit.get_kind_display(),
        "starts_at": visit.starts_at,
        "ends_at": visit.ends_at,
        "words": span_words(visit.starts_at, visit.ends_at, stop.job.site.time_zone),
        "pinned": visit.pinned,
        "note": visit.note,
    }


def job_content(job: Job) -> dict[str, Any]:
    return {
        "id": job.pk,
        "number": job.number,
        "title": job.title,
        "work": job.work,
        "customer_name": job.customer.name,
        "customer_phone": job.customer.phone,
        "private_lines_likely": job.private_lines_likely,
    }


def window_content(stop: Stop) -> dict[str, Any]:
    verdict, zone = stop.verdict, stop.job.site.time_zone
    return {
        "opens_at": verdict.opens_at,
        "opens_words": said(verdict.opens_at, zone),
        "closes_at": verdict.closes_at,
        "closes_words": said(verdict.closes_at, zone),
        "renew_from": verdict.renew_from,
        "renew_by": verdict.renew_by,
        "renew_by_words": said(verdict.renew_by, zone),
    }


def ticket_content(ticket: Ticket, time_zone: str) -> dict[str, Any]:
    return {
        "id": ticket.pk,
        "number": ticket.number,
        "kind": ticket.kind,
        "kind_words": ticket.get_kind_display(),
        "received_at": ticket.received_at,
        "warnings": ticket.window_warnings,
        "answers": [answer_content(operator, time_zone) for operator in ticket.operators.all()],
    }


def answer_content(operator: TicketOperator, time_zone: str) -> dict[str, Any]:
    """The answer that governs: the latest, and of the same instant the one recorded last."""
    latest = max(operator.answers.all(), key=lambda a: (a.answered_at, a.pk), default=None)
    return {
        "operator": operator.name,
        "utility": operator.utility,
        "utility_words": operator.get_utility_display(),
        "outcome": latest.outcome if latest else str(Outcome.NOT_ANSWERED),
        "outcome_words": latest.get_outcome_display() if latest else WORDS[Outcome.NOT_ANSWERED],
        "answered_at": latest.answered_at if latest else None,
        "answered_words": said(latest.answered_at, time_zone) if latest else "",
        "holds_until": latest.holds_until if latest else None,
        "note": latest.note if latest else "",
    }


def areas_content(job: Job) -> dict[str, Any]:
    """GeoJSON (RFC 7946) of the ground the job opens."""
    areas = [area for area in job.dig_areas.all() if area.removed_at is None]
    return {"type": "FeatureCollection", "features": [area_content(area) for area in areas]}


def area_content(area: DigArea) -> dict[str, Any]:
    return {
        "type": "Feature",
        "id": area.pk,
        "geometry": area.polygon,
        "properties": {
            "name": area.name,
            "method": area.method,
            "method_words": area.get_method_display(),
            "planned_depth_m": area.planned_depth_m,
            "planned_depth_words": length(area.planned_depth_m),
            "planned_width_m": area.planned_width_m,
            "planned_width_words": length(area.planned_width_m),
        },
    }


def item_content(held: Held) -> dict[str, Any]:
    item: Equipment = held.item
    return {
        "id": item.pk,
        "kind": item.kind,
        "kind_words": item.get_kind_display(),
        "name": item.name,
        "serial": item.serial,
        "calibration_due_on": item.calibration_due_on,
        "due_on": item.due_on,
        "due_title": item.due_title,
        "overdue": held.overdue,
        "may_go_out": held.may_go_out,
        "checks_to_do": [{"key": check.key, "title": check.title} for check in held.checks],
        "flag": held.flag,
    }


def caution_content(given: tuple[Caution, ...]) -> list[dict[str, str]]:
    return [caution._asdict() for caution in given]


def verdict_cautions(stop: Stop, zone: SiteZone | None) -> list[dict[str, str]]:
    """The verdict's own cautions without the width of the zone, which follows in a caution of its own."""
    said_below = zone.words if zone is not None else None
    return [
        {"code": "verdict", "words": words, "source": ""}
        for words in stop.verdict.cautions
        if said_below is None or not words.startswith(said_below)
    ]


def zone_sentence(zone: SiteZone | None) -> str:
    """Width, what the law adds, its text; empty when the zone is not known."""
    if zone is None:
        return ""
    doubt = " Unverified: confirm with the notification centre." if zone.unverified else ""
    return " ".join(part for part in (zone.words, zone.more) if part) + doubt


def said(at: datetime | None, time_zone: str) -> str:
    """The instant in words, or nothing."""
    return instant_words(at, time_zone) if at is not None else ""


def length(value_m: float | None) -> str:
    """Feet and inches, or nothing."""
    return feet_inches(value_m) if value_m is not None else ""
