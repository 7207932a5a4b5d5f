"""Which method and frequency to try first, given target, access and neighbours. Pure.

Advice is common practice, no source, unless a row names one; the table below is data, changed without
touching the code. Bound by law: 47 CFR 15.213 lets cable-locating transmitters work from 9 to 490 kHz, at
peak output up to 10 W below 45 kHz and 1 W from 45 to 490 kHz. Order of choice: direct connection, clamp,
induction, passive; the lowest frequency that gives a usable signal.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from locates.ground.caution import ENERGISED, UNKNOWN_IS_NOT_CLEAR
from locates.ground.quality import Method
from locates.ground.refusal import GroundError

COMMON_PRACTICE = "common practice, no source"
FCC = "47 CFR 15.213"


class Target(StrEnum):
    """What is looked for, by what it is made of."""

    METAL_PIPE = "metal pipe"
    TRACER_PIPE = "plastic pipe with tracer wire"
    PLAIN_PIPE = "plastic, clay or concrete pipe without wire"
    IRON_DRAIN = "cast-iron drain"
    POWER_CABLE = "power cable"
    SIGNAL_CABLE = "telephone, television or fibre with metal"
    UNKNOWN = "anything that may be there"


class Access(StrEnum):
    """What can be reached."""

    TERMINAL = "metal, valve, meter or wire end to clip on to"
    CABLE = "cable or pipe that a clamp closes round"
    OPEN_END = "open pipe, clean-out or duct"
    NONE = "nothing but the ground"


@dataclass(frozen=True, slots=True)
class Band:
    """A frequency band in hertz with its usual use."""

    low_hz: float
    high_hz: float
    use: str


LOW = Band(500.0, 700.0, "least coupling to neighbours; long runs, crowded ground; sonde inside iron")
MIDDLE = Band(8_000.0, 10_000.0, "a compromise for direct connection and clamp")
HIGH = Band(32_000.0, 34_000.0, "induction, short lines, small cables; sonde in pipe that is not metal")
HIGHEST = Band(65_000.0, 84_000.0, "jumps insulated joints and bad grounds; couples to everything: last resort")
MAINS = Band(50.0, 60.0, "current that the load itself draws")
RADIO = Band(10_000.0, 30_000.0, "distant transmissions that long metal sends on")
SONDE_IRON = Band(512.0, 512.0, "sonde in the head of a sewer camera; passes cast iron")


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to try: rank 1 first. `source` says whose word it is; `allowed_w` the peak output by law."""

    rank: int
    method: Method
    bands: tuple[Band, ...]
    what: str
    why: str
    source: str
    allowed_w: float | None
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of the table: it applies when target and access are among its sets."""

    targets: frozenset[Target]
    access: frozenset[Access]
    method: Method
    bands: tuple[Band, ...]
    what: str
    why: str
    cautions: tuple[str, ...] = ()
    crowded_last: bool = False


_METAL = frozenset({Target.METAL_PIPE, Target.TRACER_PIPE, Target.IRON_DRAIN, Target.SIGNAL_CABLE})
_CONDUCTORS = _METAL | {Target.POWER_CABLE}
_HOLLOW = frozenset({Target.PLAIN_PIPE, Target.IRON_DRAIN, Target.TRACER_PIPE})
_ANYWHERE = frozenset(Access)

TABLE: tuple[_Row, ...] = (
    _Row(
        _METAL,
        frozenset({Access.TERMINAL}),
        Method.DIRECT,
        (LOW, MIDDLE),
        "Clip one lead on; put the other on a ground stake square to the line, as far off as the lead "
        "allows, 10 ft at least, and not across another line.",
        "Strongest signal at the lowest frequency, least stray coupling; you may stand beside the transmitter.",
    ),
    _Row(
        _CONDUCTORS,
        frozenset({Access.TERMINAL, Access.CABLE}),
        Method.CLAMP,
        (MIDDLE, HIGH),
        "Close the clamp round the one cable or pipe; both its ends must be grounded for current to flow.",
        "Picks one line out of several without touching a conductor.",
        (ENERGISED,),
    ),
    _Row(
        frozenset({Target.PLAIN_PIPE}),
        frozenset({Access.OPEN_END}),
        Method.DIRECT,
        (MIDDLE, HIGH),
        "Push a metal cable or rod in and energise it.",
        "Traces the whole run at once, 100 ft and more, where a sonde takes a mark every 10 ft.",
    ),
    _Row(
        _HOLLOW,
        frozenset({Access.OPEN_END}),
        Method.SONDE,
        (SONDE_IRON, HIGH),
        "Push a sonde or the camera head in; mark about every 10 ft and at each bend, junction and end.",
        "Pipe that is not metal carries no signal of its own; 512 Hz also passes cast iron.",
        ("Hold the receiver in line with the pipe for a sonde; the peak lies between the two nulls.",),
    ),
    _Row(
        _CONDUCTORS,
        _ANYWHERE,
        Method.INDUCTION,
        (HIGH, MIDDLE),
        "Set the transmitter over and in line with the line, keep the receiver away from it, and try a "
        "second place on the other side.",
        "Needs no access, but couples to every line near by.",
        (
            "For a mark keep 10 ft or more from the transmitter; for a depth keep the distance that the "
            "reckoning names, often 30 to 60 ft.",
        ),
        crowded_last=True,
    ),
    _Row(
        _CONDUCTORS,
        _ANYWHERE,
        Method.INDUCTION,
        (HIGHEST,),
        "Only where insulated joints or a bad ground stop the lower frequencies.",
        "Jumps joints, dies fast, and couples to everything.",
        ("Prove every mark with a second method.",),
        crowded_last=True,
    ),
    _Row(
        frozenset({Target.POWER_CABLE}),
        _ANYWHERE,
        Method.PASSIVE_POWER,
        (MAINS,),
        "Switch a load on and sweep in two directions at right angles.",
        "Finds loaded cables quickly; silent when no current flows or when it balances.",
        ("No dependable depth; no owner is identified.", ENERGISED),
    ),
    _Row(
        frozenset(Target),
        _ANYWHERE,
        Method.PASSIVE_POWER,
        (MAINS,),
        "Sweep the whole area in two directions at right angles, before and after everything else.",
        "Shows lines that nobody thought of.",
        ("No dependable depth; silence proves nothing.", UNKNOWN_IS_NOT_CLEAR),
    ),
    _Row(
        frozenset(Target),
        _ANYWHERE,
        Method.PASSIVE_RADIO,
        (RADIO,),
        "Sweep the same way for long metal.",
        "Shows long conductors without power on them.",
        ("No dependable depth; silence proves nothing.", UNKNOWN_IS_NOT_CLEAR),
    ),
    _Row(
        frozenset({Target.PLAIN_PIPE, Target.UNKNOWN, Target.TRACER_PIPE}),
        _ANYWHERE,
        Method.RADAR,
        (),
        "Scan across the likely course; prove the wave speed on a known line.",
        "May show pipe that is not metal; blind in wet clay.",
        ("An empty scan is not clear ground.", UNKNOWN_IS_NOT_CLEAR),
    ),
    _Row(
        frozenset({Target.PLAIN_PIPE, Target.TRACER_PIPE}),
        frozenset({Access.NONE}),
        Method.EXPOSED,
        (),
        "Expose it by hand or vacuum where the record puts it, and follow from there.",
        "Nothing else finds a pipe without metal and without an opening for certain.",
    ),
)


def advise(
    target: Target,
    access: Iterable[Access],
    crowded: bool = False,
    available_hz: Iterable[float] = (),
) -> tuple[Advice, ...]:
    """What to try, first to last, each with why.

    `crowded` (other lines near by) puts low bands first and induction last; `available_hz` (the crew's own
    transmitter and sondes) drops bands nobody can make. Refuses an empty access list: say NONE.
    """
    reach = frozenset(access)
    if not reach:
        raise GroundError(
            "Say what can be reached; when nothing can, choose that.",
            code="access_missing",
            fields={"access": "at least one"},
        )
    rows = [row for row in TABLE if target in row.targets and row.access & reach]
    if crowded:
        rows = [r for r in rows if not r.crowded_last] + [r for r in rows if r.crowded_last]
    own = tuple(available_hz)
    chosen: list[Advice] = []
    for row in rows:
        bands = _bands(row, own, crowded)
        if row.bands and not bands:
            continue
        chosen.append(
            Advice(
                rank=len(chosen) + 1,
                method=row.method,
                bands=bands,
                what=row.what,
                why=row.why,
                source=COMMON_PRACTICE,
                allowed_w=_allowed_w(row, bands),
                cautions=row.cautions,
            )
        )
    return tuple(chosen)


def allowed_output_w(frequency_hz: float) -> float:
    """Peak output that 47 CFR 15.213 allows a cable-locating transmitter; refuses a frequency outside it.

    Below 9 kHz the section does not reach; the figure there is not given.
    """
    if 9_000.0 <= frequency_hz < 45_000.0:
        return 10.0
    if 45_000.0 <= frequency_hz <= 490_000.0:
        return 1.0
    raise GroundError(
        f"{frequency_hz:g} Hz lies outside 9 to 490 kHz, the range of 47 CFR 15.213. Use a frequency inside "
        "it, or one below 9 kHz that the equipment's maker states.",
        code="frequency_outside_rule",
        fields={"frequency_hz": "9,000 to 490,000 Hz"},
    )


def _bands(row: _Row, own: tuple[float, ...], crowded: bool) -> tuple[Band, ...]:
    bands = row.bands
    passive = row.method in (Method.PASSIVE_POWER, Method.PASSIVE_RADIO)
    if own and not passive:
        bands = tuple(b for b in bands if any(0.98 * b.low_hz <= f <= 1.02 * b.high_hz for f in own))
    return tuple(sorted(bands, key=lambda b: b.low_hz)) if crowded else bands


def _allowed_w(row: _Row, bands: tuple[Band, ...]) -> float | None:
    """The least output that any band inside the rule allows; None for what sends nothing or lies below it."""
    if row.method not in (Method.DIRECT, Method.CLAMP, Method.INDUCTION):
        return None
    inside = [allowed_output_w(b.high_hz) for b in bands if b.low_hz >= 9_000.0]
    return min(inside) if inside else None
