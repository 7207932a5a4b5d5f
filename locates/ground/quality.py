"""Quality level of a segment by ASCE 38-22, decided by method and evidence, never by wish. Pure.

Sources: the level definitions of ASCE/UESI/CI 38-22 as reprinted in a public contract exhibit (D and C read
there) and in a practitioner's page on the committee draft (B and A, secondary); PAS 128 as a second scale
(secondary; A from memory). Under ASCE 38 a level is a professional's judgment: what an unsealed private
locate finds is, to the designer, level D input, whatever it rests on. Levels D, C and B carry no tolerance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import groupby

from locates.ground.caution import DEPTH_IS_NOT_PERMISSION, UNKNOWN_IS_NOT_CLEAR
from locates.ground.doubt import Grade
from locates.ground.lengths import FOOT_M
from locates.ground.refusal import GroundError

A_VERTICAL_M = 0.1 * FOOT_M  # ASCE 38-22: 0.1 ft vertical and 0.2 ft horizontal (secondary source)
A_HORIZONTAL_M = 0.2 * FOOT_M


class Method(StrEnum):
    """How a line was found."""

    EXPOSED = "exposed and measured"
    DIRECT = "direct connection"
    CLAMP = "clamp"
    INDUCTION = "induction"
    PASSIVE_POWER = "passive power"
    PASSIVE_RADIO = "passive radio"
    SONDE = "sonde"
    RADAR = "ground-penetrating radar"
    RECORDS = "from records"
    SAID = "from what people say"
    PAINT = "from marks found on site"


GEOPHYSICS = frozenset(
    {
        Method.DIRECT,
        Method.CLAMP,
        Method.INDUCTION,
        Method.PASSIVE_POWER,
        Method.PASSIVE_RADIO,
        Method.SONDE,
        Method.RADAR,
    }
)


class QualityLevel(StrEnum):
    """ASCE 38 quality level; A is the best."""

    A = "A"
    B = "B"
    C = "C"
    D = "D"


class PasLevel(StrEnum):
    """PAS 128 level of a segment; the suffix P (post-processed radar) is not told apart."""

    A = "QL-A"
    B1 = "QL-B1"
    B2 = "QL-B2"
    B3 = "QL-B3"
    B4 = "QL-B4"
    C = "QL-C"
    D = "QL-D"


PAS_TOLERANCES = {
    PasLevel.A: "50 mm horizontal, 25 mm vertical (from memory)",
    PasLevel.B1: "150 mm or 15 % of depth horizontal, 15 % of depth vertical (secondary source)",
    PasLevel.B2: "250 mm or 40 % of depth horizontal, 40 % of depth vertical (secondary source)",
    PasLevel.B3: "500 mm horizontal, depth not given (secondary source)",
}


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a segment rests on. Every field is what was done, not what is wanted.

    `surveyed` is true when the marks were tied to the project's datum; `features_surveyed` when visible
    features (valves, covers, pedestals) were surveyed and the record agrees with them; `interpreted` when a
    professional judged the geophysics; `sealed_by` names the professional who signs the level. An exposure
    counts only with its measured accuracies and `target_verified` (the thing exposed IS the target), and
    only where the hole was.
    """

    methods: frozenset[Method]
    surveyed: bool = False
    features_surveyed: bool = False
    interpreted: bool = False
    sealed_by: str = ""
    target_verified: bool = False
    exposed_vertical_m: float | None = None
    exposed_horizontal_m: float | None = None
    depth_read: bool = False
    methods_agree: bool = False
    worst_doubt: Grade | None = None


@dataclass(frozen=True, slots=True)
class Quality:
    """What may be claimed for a segment, and what must be said beside it.

    `claim` is the level that may be printed as an ASCE 38 statement (level D unless sealed); `supports` the
    level that the evidence would bear if a professional signed; `missing` what the next better level takes.
    """

    claim: QualityLevel
    supports: QualityLevel
    pas: PasLevel
    reasons: tuple[str, ...]
    missing: tuple[str, ...]
    must_say: tuple[str, ...]

    @property
    def tolerance(self) -> str | None:
        """The only tolerance ASCE 38 attaches to a level, and that only to A; None for B, C and D."""
        if self.claim is not QualityLevel.A:
            return None
        return "0.1 ft (30 mm) vertical, 0.2 ft (60 mm) horizontal, outside limits"


def decide(evidence: Evidence) -> Quality:
    """The level of one segment, by method and evidence."""
    if not evidence.methods:
        raise GroundError(
            "A segment without a method has no quality level. Enter how the line was found.",
            code="method_missing",
            fields={"methods": "at least one"},
        )
    supports, reasons = _supports(evidence)
    sealed = bool(evidence.sealed_by.strip())
    claim = supports if sealed else QualityLevel.D
    return Quality(
        claim=claim,
        supports=supports,
        pas=_pas(evidence),
        reasons=tuple(reasons),
        missing=tuple(_missing(evidence, supports, sealed)),
        must_say=tuple(_must_say(evidence, claim, sealed)),
    )


def _supports(evidence: Evidence) -> tuple[QualityLevel, list[str]]:
    """The best level that method and evidence bear, with why."""
    reasons: list[str] = []
    if Method.EXPOSED in evidence.methods:
        lacking = _lacking_for_a(evidence)
        if not lacking:
            return QualityLevel.A, ["Exposed, measured within 0.1 ft and 0.2 ft, tied to datum, target verified."]
        reasons.append(f"Exposed, but not level A: {'; '.join(lacking)}.")
    found = sorted(m.value for m in evidence.methods & GEOPHYSICS)
    if found:
        lacking = _lacking_for_b(evidence)
        if not lacking:
            return QualityLevel.B, [*reasons, f"Found by {', '.join(found)}, surveyed and judged."]
        reasons.append(f"Found by {', '.join(found)}, but not level B: {'; '.join(lacking)}.")
    if Method.RECORDS in evidence.methods and evidence.features_surveyed:
        return QualityLevel.C, [*reasons, "Records correlated with surveyed visible features."]
    if not found:
        reasons.append("Rests on records, marks or words that nothing surveyed bears out.")
    return QualityLevel.D, reasons


def _lacking_for_a(evidence: Evidence) -> list[str]:
    vertical, horizontal = evidence.exposed_vertical_m, evidence.exposed_horizontal_m
    lacking = []
    if not evidence.surveyed:
        lacking.append("not tied to the project's datum")
    if not evidence.target_verified:
        lacking.append("the thing exposed was not verified as the target")
    if vertical is None or horizontal is None:
        lacking.append("the accuracy of the measurement was not recorded")
    elif not (0 < vertical <= A_VERTICAL_M + 1e-9 and 0 < horizontal <= A_HORIZONTAL_M + 1e-9):
        lacking.append("measured less closely than 0.1 ft vertical and 0.2 ft horizontal")
    return lacking


def _lacking_for_b(evidence: Evidence) -> list[str]:
    lacking = []
    if not evidence.surveyed:
        lacking.append("the marks are not tied to the project's datum")
    if not evidence.interpreted:
        lacking.append("no professional judged the readings")
    if evidence.worst_doubt in (Grade.DOUBT, Grade.STRONG):
        lacking.append(f"the readings carry a {evidence.worst_doubt.value}")
    return lacking


def _missing(evidence: Evidence, supports: QualityLevel, sealed: bool) -> list[str]:
    """What the next better level takes, and the signature where that alone is missing."""
    missing = []
    if not sealed:
        missing.append("A professional who judges and seals the level.")
    if supports is QualityLevel.D and not evidence.methods & GEOPHYSICS:
        missing.append("For level C: records, and a survey of the visible features that agree with them.")
    if supports in (QualityLevel.D, QualityLevel.C):
        lacking = _lacking_for_b(evidence) if evidence.methods & GEOPHYSICS else ["nothing was detected yet"]
        missing.append(f"For level B: detection on site, surveyed and judged ({'; '.join(lacking)}).")
    if supports is QualityLevel.B:
        missing.append("For level A: expose, verify the target, measure within 0.1 ft and 0.2 ft, at each place.")
    return missing


def _must_say(evidence: Evidence, claim: QualityLevel, sealed: bool) -> list[str]:
    words = []
    if not sealed:
        words.append(
            "Field marks, not a quality-level statement under ASCE 38; to a designer they are level D input."
        )
    if claim is not QualityLevel.A:
        words.append("No tolerance belongs to this level.")
    if evidence.depth_read and claim is not QualityLevel.A:
        words.append("A depth from a reading does not make level A.")
    if evidence.methods & {Method.PASSIVE_POWER, Method.PASSIVE_RADIO}:
        words.append("Passive signals identify no owner and give no dependable depth.")
    words += [DEPTH_IS_NOT_PERMISSION, UNKNOWN_IS_NOT_CLEAR]
    return words


def _pas(evidence: Evidence) -> PasLevel:
    """PAS 128 level by detection: two methods that agree, one with depth, one without; else what was assumed."""
    if Method.EXPOSED in evidence.methods and not _lacking_for_a(evidence):
        return PasLevel.A
    found = evidence.methods & GEOPHYSICS
    if found:
        doubtful = evidence.worst_doubt in (Grade.DOUBT, Grade.STRONG)
        active = found - {Method.PASSIVE_POWER, Method.PASSIVE_RADIO}
        if not evidence.depth_read or not active or doubtful:
            return PasLevel.B3
        return PasLevel.B1 if len(found) > 1 and evidence.methods_agree else PasLevel.B2
    return PasLevel.C if evidence.features_surveyed and Method.RECORDS in evidence.methods else PasLevel.D


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of a line with one quality, from one chainage to another."""

    from_m: float
    to_m: float
    quality: Quality


def segments(
    chainage_m: Sequence[float],
    evidence: Sequence[Evidence],
    gaps: Sequence[tuple[float, float]] = (),
    hole_half_length_m: float = 0.5,
) -> tuple[Segment, ...]:
    """Quality along a line from the evidence at its points, as runs of one quality.

    Between two points the lesser of both counts, and a hole proves its own length only: exposure is dropped
    from every stretch longer than the hole. Inside a gap (farther apart than marks may stand) nothing
    was detected: records or words at best. Chainages must grow.
    """
    if len(chainage_m) != len(evidence) or len(chainage_m) < 2:
        raise GroundError(
            "Quality along a line needs at least two points, each with its evidence.",
            code="evidence_missing",
            fields={"evidence": "one for each chainage"},
        )
    pieces: list[tuple[float, float, Quality]] = []
    for i in range(len(chainage_m) - 1):
        start, end = chainage_m[i], chainage_m[i + 1]
        if end <= start:
            raise GroundError(
                f"Chainage {end:.2f} m follows {start:.2f} m; points must stand in order along the line.",
                code="not_in_order",
                fields={"chainage_m": "must grow along the line"},
            )
        pieces += _between(start, end, evidence[i], evidence[i + 1], gaps, hole_half_length_m)
    runs = []
    for quality, group in groupby(pieces, key=lambda piece: piece[2]):
        members = list(group)
        runs.append(Segment(members[0][0], members[-1][1], quality))
    return tuple(runs)


def _between(
    start: float, end: float, a: Evidence, b: Evidence, gaps: Sequence[tuple[float, float]], half: float
) -> list[tuple[float, float, Quality]]:
    """The one to three pieces between two points: the end of one hole, what lies between, the next hole."""
    assumed = any(g0 <= start + 1e-9 and end - 1e-9 <= g1 for g0, g1 in gaps)
    middle = _lesser(_without_hole(a, assumed), _without_hole(b, assumed))
    first = min(half, (end - start) / 2.0) if Method.EXPOSED in a.methods else 0.0
    last = min(half, (end - start) / 2.0) if Method.EXPOSED in b.methods else 0.0
    pieces = [
        (start, start + first, decide(a)),
        (start + first, end - last, middle),
        (end - last, end, decide(b)),
    ]
    return [p for p in pieces if p[1] - p[0] > 1e-9]


def _without_hole(evidence: Evidence, assumed: bool) -> Quality:
    methods = evidence.methods - {Method.EXPOSED}
    if assumed:
        methods -= GEOPHYSICS
    return decide(replace(evidence, methods=methods or frozenset({Method.SAID})))


def _lesser(a: Quality, b: Quality) -> Quality:
    order = list(QualityLevel)
    return max(a, b, key=lambda q: (order.index(q.supports), order.index(q.claim), list(PasLevel).index(q.pas)))
