"""Invented crews and visits of any size, for the growth table and the tests. No real place, firm or person. Pure."""

from __future__ import annotations

import random
from types import MappingProxyType

from ..problem import (
    Break,
    Crew,
    Kit,
    KitNeed,
    OrderLink,
    Place,
    Priority,
    Problem,
    Shift,
    Visit,
    VisitKind,
    Window,
    Yard,
)

HOUR_S = 3_600
DAY_S = 24 * HOUR_S
_SKILLS = ("locate", "dig", "camera", "gas")
_SOUTH, _WEST = 39.9, -83.2  # a square of about 45 km in open country of the Middle West
_LENGTH_S = {
    VisitKind.LOCATE: 45 * 60,
    VisitKind.DIG: 150 * 60,
    VisitKind.CAMERA: 60 * 60,
    VisitKind.WHITE_LINE: 20 * 60,
}


def invented_problem(visits: int, crews: int, days: int, seed: int = 0) -> Problem:
    """A problem of about `visits` visits for `crews` crews over `days` days: skills, kit, windows, order, breaks."""
    rng = random.Random(f"{visits}/{crews}/{days}/{seed}")
    yards = tuple(
        Yard(f"yard {k + 1}", _place(rng), frozenset({"sonde battery", "coupling"}), call_s=600)
        for k in range(max(1, crews // 10))
    )
    team = tuple(_crew(rng, k, yards) for k in range(crews))
    shifts = tuple(_shift(crew, day, yards) for crew in team for day in range(days))
    kit = tuple(item for k, crew in enumerate(team) for item in _kit(rng, k, crew)) + tuple(
        Kit(f"camera {y.id} {n}", "camera", yard_id=y.id) for y in yards for n in range(3)
    )
    work: list[Visit] = []
    links: list[OrderLink] = []
    while len(work) < visits:
        _job(rng, len(work), days, work, links, visits)
    return Problem(tuple(work), team, shifts, yards, kit, tuple(links))


def _place(rng: random.Random) -> Place:
    return Place.geographic(round(_SOUTH + rng.random() * 0.4, 5), round(_WEST + rng.random() * 0.5, 5))


def _crew(rng: random.Random, k: int, yards: tuple[Yard, ...]) -> Crew:
    skills = {"locate", "dig"} if k % 3 else {"dig", "gas"}
    if k % 4 == 1:
        skills |= {"camera"}
    return Crew(
        f"crew {k + 1}",
        frozenset(skills),
        yards[k % len(yards)].id,
        MappingProxyType({"coupling": rng.randint(1, 3)}),
    )


def _shift(crew: Crew, day: int, yards: tuple[Yard, ...]) -> Shift:
    yard = next(y for y in yards if y.id == crew.yard_id)
    start = day * DAY_S + 7 * HOUR_S
    noon = Break(1_800, start + 4 * HOUR_S, start + 6 * HOUR_S)
    return Shift(
        f"{crew.id} day {day + 1}",
        crew.id,
        day,
        start,
        start + 9 * HOUR_S,
        yard.place,
        yard.place,
        (noon,),
        overtime_max_s=HOUR_S,
    )


def _kit(rng: random.Random, k: int, crew: Crew) -> list[Kit]:
    frequencies = frozenset({512, 8_192, 33_000} if k % 5 else {8_192, 33_000})
    items = [
        Kit(f"receiver {k + 1}", "receiver", crew.id, frequencies_hz=frequencies),
        Kit(f"transmitter {k + 1}", "transmitter", crew.id, frequencies_hz=frozenset({8_192, 33_000})),
    ]
    if "camera" in crew.skills and rng.random() < 0.5:
        items.append(Kit(f"camera {k + 1}", "camera", crew.id))
    return items


def _job(rng: random.Random, number: int, days: int, work: list[Visit], links: list[OrderLink], most: int) -> None:
    """A dig, often with a locate before it; or a camera inspection; at one place."""
    place = _place(rng)
    kind = rng.random()
    opens = rng.randrange(days) * DAY_S
    span = rng.choice((1, 2, 3, days))
    if kind < 0.2:
        work.append(
            _visit(
                f"camera {number}",
                VisitKind.CAMERA,
                place,
                opens,
                span,
                rng,
                frozenset({"camera"}),
                (KitNeed("camera"),),
            )
        )
        return
    gas = rng.random() < 0.2
    dig = _visit(
        f"dig {number}",
        VisitKind.DIG,
        place,
        opens,
        span,
        rng,
        frozenset({"gas"} if gas else {"dig"}),
        parts={"coupling": 1} if rng.random() < 0.4 else {},
    )
    if kind < 0.6 and len(work) + 1 < most:
        pair = (KitNeed("receiver", common_frequency_with="transmitter"), KitNeed("transmitter"))
        sonde = (KitNeed("receiver", frequency_hz=512),)
        locate = _visit(
            f"locate {number}",
            VisitKind.LOCATE,
            place,
            max(0, opens - DAY_S),
            span + 1,
            rng,
            frozenset({"locate"}),
            pair if rng.random() < 0.7 else sonde,
        )
        work.append(locate)
        links.append(OrderLink(locate.id, dig.id, gap_min_s=HOUR_S))
    work.append(dig)


def _visit(
    name: str,
    kind: VisitKind,
    place: Place,
    opens_s: int,
    days: int,
    rng: random.Random,
    skills: frozenset[str],
    kit: tuple[KitNeed, ...] = (),
    parts: dict[str, int] | None = None,
) -> Visit:
    length = _LENGTH_S[kind] + rng.randrange(-2, 3) * 300
    closes = opens_s + days * DAY_S
    promised: tuple[Window, ...] = ()
    if rng.random() < 0.25:
        day = opens_s + rng.randrange(days) * DAY_S
        start = day + rng.choice((7, 9, 12)) * HOUR_S
        promised = (Window(start, start + 3 * HOUR_S),)
    priority = rng.choices((Priority.EMERGENCY, Priority.HIGH, Priority.NORMAL, Priority.LOW), (1, 4, 12, 3))[0]
    return Visit(
        name,
        kind,
        length,
        place,
        (Window.finishing_by(opens_s, closes, length),),
        promised,
        expires_s=closes if kind is VisitKind.DIG else None,
        priority=priority,
        skills=skills,
        kit=kit,
        parts=MappingProxyType(parts or {}),
    )
