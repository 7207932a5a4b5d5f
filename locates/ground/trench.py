"""What a trench takes: protection, slope, top width, spoil, truck loads, set-back, ways out. Pure.

Sources: 29 CFR 1926.651 and .652, Subpart P Appendices A, B and F (text or reprints read; the short-term
type A slope and the soil strengths from secondary sources). Benches are left out: their dimensions could not
be checked against the text. Swell and truck size are common practice, settings, no source.

The engine never says that an excavation is safe: it says what the federal rule asks for at least. A
competent person decides on site, state plans may ask for more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from locates.ground.caution import (
    COMPETENT_PERSON,
    DEPTH_IS_NOT_PERMISSION,
    LAW_RULES,
    PROTECT_BEFORE_ENTRY,
)
from locates.ground.lengths import CUBIC_YARD_M3, FOOT_M, feet_inches
from locates.ground.refusal import not_negative, positive

PROTECT_FROM_M = 5 * FOOT_M  # 1926.652(a)(1)
LADDER_FROM_M = 4 * FOOT_M  # 1926.651(c)(2)
LADDER_REACH_M = 25 * FOOT_M
ENGINEER_OVER_M = 20 * FOOT_M  # 1926.652(b)(4), (c); Appendix F
SHORT_TERM_DEPTH_M = 12 * FOOT_M  # Appendix B, Table B-1
SHORT_TERM_HOURS = 24.0
SET_BACK_M = 2 * FOOT_M  # 1926.651(j)(2)
REPOSE_DEG = 33.7  # loose spoil stands at about 1 1/2 : 1; common practice, no source
EDGE = 1e-9  # lengths typed as "5 ft" must meet the limit of 5 ft whatever the last bit says


class Soil(StrEnum):
    """Soil class of Subpart P Appendix A, as the competent person found it."""

    ROCK = "stable rock"
    A = "type A"
    B = "type B"
    C = "type C"
    UNKNOWN = "not classified"


SLOPES = {Soil.ROCK: 0.0, Soil.A: 0.75, Soil.B: 1.0, Soil.C: 1.5, Soil.UNKNOWN: 1.5}
SHORT_TERM_A = 0.5
# bank to loose volume; common practice, no source: a setting
SWELL = {Soil.ROCK: 0.50, Soil.A: 0.30, Soil.B: 0.25, Soil.C: 0.15, Soil.UNKNOWN: 0.30}


class Protection(StrEnum):
    """What 1926.652(a)(1) asks for at this depth and soil."""

    NOT_REQUIRED = "not required by depth; the competent person found no sign of a cave-in"
    DECIDE = "the competent person must examine the ground before anyone enters"
    REQUIRED = "required"
    ENGINEER = "required, designed by a registered professional engineer"


@dataclass(frozen=True, slots=True)
class TrenchAsk:
    """The trench that is wanted.

    `no_cave_in_sign` is the competent person's finding for a shallow trench: True, False, or None when not
    examined. `disturbed` is true over or beside an earlier trench, so over every existing line: such soil is
    never type A. `open_hours` is how long it stays open.
    """

    depth_m: float
    bottom_width_m: float
    length_m: float
    soil: Soil = Soil.UNKNOWN
    open_hours: float | None = None
    disturbed: bool = True
    no_cave_in_sign: bool | None = None
    water_or_seepage: bool = False

    def __post_init__(self) -> None:
        for name in ("depth_m", "bottom_width_m", "length_m"):
            positive(name, getattr(self, name))
        if self.open_hours is not None:
            positive("open_hours", self.open_hours, "hours")


@dataclass(frozen=True, slots=True)
class Hauling:
    """How spoil is carried off. Defaults are common practice, no source; None takes the soil's usual swell."""

    truck_m3: float = 10.0 * CUBIC_YARD_M3
    swell: float | None = None

    def __post_init__(self) -> None:
        positive("truck_m3", self.truck_m3, "m3")
        if self.swell is not None:
            not_negative("swell", self.swell, "(share)")


@dataclass(frozen=True, slots=True)
class TrenchPlan:
    """What the trench takes when its sides are sloped, and what stands when they are not.

    `slope` is horizontal to one vertical (0 is vertical), None past 20 ft where an engineer designs;
    `set_back_each_side_m` how far the top edge leaves the bottom's; volumes are in the bank and loose;
    `strip_m` the width that trench, set-back and one spoil pile take beside each other.
    """

    protection: Protection
    soil_used: Soil
    slope: float | None
    angle_deg: float | None
    set_back_each_side_m: float | None
    top_width_m: float | None
    section_m2: float | None
    bank_m3: float | None
    loose_m3: float | None
    truck_loads: int | None
    shielded_bank_m3: float
    shielded_loose_m3: float
    shielded_truck_loads: int
    spoil_set_back_m: float
    spoil_pile_width_m: float | None
    strip_m: float | None
    ladders: int
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]


def plan_trench(ask: TrenchAsk, hauling: Hauling | None = None) -> TrenchPlan:
    """Protection, slope and quantities of one trench, each figure with its rule in `reasons`."""
    hauling = hauling or Hauling()
    soil, reasons = soil_used(ask)
    protection = _protection(ask, soil, reasons)
    slope = slope_ratio(ask, soil)
    swell = SWELL[soil] if hauling.swell is None else hauling.swell
    shielded = ask.depth_m * ask.bottom_width_m * ask.length_m
    if slope is not None:
        reasons.append(_slope_reason(ask, soil, slope))
    if slope and protection is Protection.REQUIRED:
        reasons.append("A vertical lower part is shored or shielded to 18 in above its top (Appendix B).")
    top = None if slope is None else ask.bottom_width_m + 2.0 * ask.depth_m * slope
    section = None if slope is None else ask.depth_m * (ask.bottom_width_m + ask.depth_m * slope)
    bank = None if section is None else section * ask.length_m
    pile = None if section is None else pile_width_m(section * (1.0 + swell))
    ladders = ladder_count(ask.depth_m, ask.length_m)
    if ladders:
        reasons.append(f"4 ft or deeper: a way out within 25 ft of travel, {ladders} at least (1926.651(c)(2)).")
    if ask.depth_m > LADDER_FROM_M + EDGE:
        reasons.append("Over 4 ft: test the air where it may be bad, before anyone enters (1926.651(g)(1)).")
    return TrenchPlan(
        protection=protection,
        soil_used=soil,
        slope=slope,
        angle_deg=None if slope is None else math.degrees(math.atan2(1.0, slope)),
        set_back_each_side_m=None if slope is None else slope * ask.depth_m,
        top_width_m=top,
        section_m2=section,
        bank_m3=bank,
        loose_m3=None if bank is None else bank * (1.0 + swell),
        truck_loads=None if bank is None else truck_loads(bank, swell, hauling.truck_m3),
        shielded_bank_m3=shielded,
        shielded_loose_m3=shielded * (1.0 + swell),
        shielded_truck_loads=truck_loads(shielded, swell, hauling.truck_m3),
        spoil_set_back_m=SET_BACK_M,
        spoil_pile_width_m=pile,
        strip_m=None if top is None or pile is None else top + SET_BACK_M + pile,
        ladders=ladders,
        reasons=tuple(reasons),
        cautions=(PROTECT_BEFORE_ENTRY, COMPETENT_PERSON, DEPTH_IS_NOT_PERMISSION, LAW_RULES),
    )


def soil_used(ask: TrenchAsk) -> tuple[Soil, list[str]]:
    """The soil class to reckon with: disturbed soil is never type A, wet soil is type C, unknown is C's slope."""
    if ask.soil is Soil.ROCK:
        return Soil.ROCK, ["Stable rock, as the competent person found it."]
    if ask.water_or_seepage and ask.soil is not Soil.C:
        return Soil.C, ["Water stands or seeps in: reckoned as type C (Appendix A)."]
    if ask.soil is Soil.A and ask.disturbed:
        return Soil.B, ["Disturbed soil, as over an earlier trench, is never type A: reckoned as B (Appendix A)."]
    if ask.soil is Soil.UNKNOWN:
        return Soil.UNKNOWN, ["No soil class was found: not steeper than 1 1/2 to 1 (1926.652(b)(1))."]
    return ask.soil, [f"Soil {ask.soil.value}, as the competent person found it."]


def slope_ratio(ask: TrenchAsk, soil: Soil) -> float | None:
    """Steepest slope, horizontal to one vertical, by Table B-1; None past 20 ft."""
    if ask.depth_m > ENGINEER_OVER_M + EDGE and soil is not Soil.ROCK:
        return None
    brief = ask.open_hours is not None and ask.open_hours <= SHORT_TERM_HOURS
    if soil is Soil.A and brief and ask.depth_m <= SHORT_TERM_DEPTH_M + EDGE:
        return SHORT_TERM_A
    return SLOPES[soil]


def truck_loads(bank_m3: float, swell: float, truck_m3: float) -> int:
    """Loads to carry a bank volume off: loose volume over the truck's, rounded up."""
    loads = positive("bank_m3", bank_m3, "m3") * (1.0 + swell) / positive("truck_m3", truck_m3, "m3")
    return math.ceil(loads - EDGE)


def pile_width_m(loose_section_m2: float) -> float:
    """Width of a spoil pile along the trench that holds a loose section, at the angle of repose."""
    return 2.0 * math.sqrt(positive("loose_section_m2", loose_section_m2, "m2") / math.tan(math.radians(REPOSE_DEG)))


def ladder_count(depth_m: float, length_m: float) -> int:
    """Fewest ways out of a trench 4 ft or deeper so that nobody is farther than 25 ft from one."""
    if depth_m < LADDER_FROM_M - EDGE:
        return 0
    return max(1, math.ceil(length_m / (2.0 * LADDER_REACH_M) - EDGE))


def _protection(ask: TrenchAsk, soil: Soil, reasons: list[str]) -> Protection:
    if soil is Soil.ROCK:
        reasons.append("Entirely in stable rock no protective system is required (1926.652(a)(1)).")
        return Protection.NOT_REQUIRED
    if ask.depth_m > ENGINEER_OVER_M + EDGE:
        reasons.append("Deeper than 20 ft: a registered professional engineer designs (1926.652(b)(4), (c)).")
        return Protection.ENGINEER
    if ask.depth_m >= PROTECT_FROM_M - EDGE:
        reasons.append("5 ft or deeper: a protective system is required (1926.652(a)(1)).")
        return Protection.REQUIRED
    if ask.no_cave_in_sign is None:
        reasons.append("Under 5 ft: a competent person must first examine the ground (1926.652(a)(1)).")
        return Protection.DECIDE
    if ask.no_cave_in_sign and not ask.water_or_seepage:
        reasons.append("Under 5 ft and examined without a sign of a cave-in (1926.652(a)(1)).")
        return Protection.NOT_REQUIRED
    reasons.append("Under 5 ft, but the ground shows signs of a cave-in or water (1926.652(a)(1)).")
    return Protection.REQUIRED


def _slope_reason(ask: TrenchAsk, soil: Soil, slope: float) -> str:
    if soil is Soil.ROCK:
        return "Vertical sides are allowed in stable rock (Table B-1)."
    name = {0.5: "1/2", 0.75: "3/4", 1.0: "1", 1.5: "1 1/2"}[slope]
    brief = ", open 24 h or less and 12 ft or less" if slope == SHORT_TERM_A else ""
    rule = "1926.652(b)(1)" if soil is Soil.UNKNOWN else "Appendix B, Table B-1"
    return f"Slope {name} to 1 at {feet_inches(ask.depth_m)}{brief} ({rule})."
