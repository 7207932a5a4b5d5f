"""What opening a dig area takes, in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from locates.field.excavation import Excavation
from locates.field.models import SoilFinding
from locates.field.plan import DigOnPlan
from locates.ground.lengths import CUBIC_YARD_M3, feet_inches

TRUCK_YARDS = 10


@dataclass(frozen=True)
class ExcavationView:
    """What an excavation takes, in words."""

    name: str
    area_pk: int
    facts: tuple[tuple[str, str], ...]
    soil_words: str
    stale: bool
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]


def excavation_view(found: Excavation, today: date) -> ExcavationView:
    """The figures of an excavation; a finding of another day is said to be old."""
    takes = found.takes
    zone = ZoneInfo(found.area.job.site.time_zone)
    stale = found.finding is not None and found.finding.found_at.astimezone(zone).date() != today
    facts = [
        ("Size planned", f"{feet_inches(found.width_m)} wide, {feet_inches(found.depth_m)} deep"),
        ("Protective system", _upper(takes.protection)),
        ("Soil reckoned with", _upper(takes.soil_used)),
    ]
    if takes.slope is not None and takes.top_width_m is not None and takes.angle_deg is not None:
        words = "Vertical sides" if takes.slope == 0 else f"{takes.slope:g} to 1, {takes.angle_deg:.0f} degrees"
        facts.append(("Steepest slope", words))
        facts.append(("Top width when sloped", feet_inches(takes.top_width_m)))
    facts.append(("Inside the ticket's area", found.fit_words))
    if takes.loose_m3 is not None:
        facts.append(("Spoil when sloped", _spoil(takes.loose_m3, takes.truck_loads or 0)))
    facts.append(("Spoil with vertical sides", _spoil(takes.shielded_loose_m3, takes.shielded_truck_loads)))
    facts.append(("Spoil set-back", f"{feet_inches(takes.spoil_set_back_m)} from the edge at least"))
    if takes.strip_m is not None:
        facts.append(("Trench, set-back and pile", f"{feet_inches(takes.strip_m)} across"))
    if takes.ladders:
        facts.append(("Ways out", f"{takes.ladders} at least"))
    return ExcavationView(
        found.name, found.area.pk, tuple(facts), _soil_words(found.finding), stale, takes.reasons, takes.cautions
    )


def dig_words(dig: DigOnPlan) -> tuple[str, ...]:
    """How much of a dig area is hand digging."""
    name = dig.area.name or "The dig area"
    if dig.refused:
        return (f"{name}: {dig.refused}",)
    if not dig.zones:
        return (f"{name}: no located line reaches into it. What was not looked for may still be there.",)
    return (f"{name}: {max(1, round(100 * dig.share))} % of it is dug by hand or vacuum.", *dig.cautions)


def _soil_words(finding: SoilFinding | None) -> str:
    if finding is None:
        return "Nobody has classified the soil yet: the figures are for unclassified soil."
    return f"{finding.get_soil_display()}, found by {finding.competent_person}. {finding.how_words}"


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]


def _spoil(loose_m3: float, loads: int) -> str:
    yards = loose_m3 / CUBIC_YARD_M3
    said = f"{yards:.0f}" if yards >= 10 else f"{yards:.1f}"
    return f"{said} cubic yards loose, {loads} truck load{'' if loads == 1 else 's'} of {TRUCK_YARDS}"
