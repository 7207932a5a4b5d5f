"""Small invented problems for tests: factories of crews, shifts, visits, and random ones of up to eight visits."""

from __future__ import annotations

import random
from typing import Any

from crews.planning.problem import (
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

HOUR = 3_600
DAY = 24 * HOUR
YARD_PLACE = Place.geographic(40.0, -83.0)


def place(north_km: float = 0.0, east_km: float = 0.0) -> Place:
    """A place some kilometres north and east of the yard."""
    return Place.geographic(round(40.0 + north_km / 111.0, 6), round(-83.0 + east_km / 85.0, 6))


def crew(name: str = "red", skills: set[str] | None = None, **more: Any) -> Crew:
    return Crew(name, frozenset(skills if skills is not None else {"dig", "locate"}), "yard", **more)


def shift(name: str = "red", day: int = 0, start_h: float = 7, end_h: float = 16, **more: Any) -> Shift:
    start, end = int((day * 24 + start_h) * HOUR), int((day * 24 + end_h) * HOUR)
    more.setdefault("start_place", YARD_PLACE)
    more.setdefault("end_place", YARD_PLACE)
    return Shift(f"{name} {day}", name, day, start, end, **more)


def visit(name: str = "a", hours: float = 1.0, **more: Any) -> Visit:
    more.setdefault("kind", VisitKind.DIG)
    more.setdefault("place", place(5, 5))
    return Visit(name, duration_s=int(hours * HOUR), **more)


def problem(
    visits: list[Visit], crews: list[Crew] | None = None, shifts: list[Shift] | None = None, **more: Any
) -> Problem:
    more.setdefault("yards", (Yard("yard", YARD_PLACE),))
    return Problem(tuple(visits), tuple(crews or [crew()]), tuple(shifts or [shift()]), **more)


def random_problem(seed: int, most: int = 8) -> Problem:
    """Up to `most` visits, two crews over one or two days, with skills, kit, parts, windows, promises and order."""
    rng = random.Random(seed)
    days = rng.choice((1, 2))
    team = [
        Crew("red", frozenset({"dig", "locate"}), "yard", {"coupling": rng.randint(0, 2)}),
        Crew("blue", frozenset(rng.choice(({"dig"}, {"dig", "locate"}))), "yard", {"coupling": 1}),
    ]
    homes = {c.id: place(rng.uniform(-25, 25), rng.uniform(-25, 25)) for c in team}
    shifts = [
        shift(
            c.id,
            day,
            end_h=rng.choice((12, 14, 16)),
            overtime_max_s=rng.choice((0, HOUR)),
            start_place=homes[c.id],
            end_place=homes[c.id],
        )
        for c in team
        for day in range(days)
    ]
    kit = [Kit("receiver 1", "receiver", crew_id="red")]
    kit += [Kit(f"yard {kind} {n}", kind, yard_id="yard") for kind in ("receiver", "camera") for n in range(4)]
    visits = [_random_visit(rng, k, days) for k in range(rng.randint(3, most))]
    links = []
    for first, second in zip(visits[::2], visits[1::2], strict=False):
        if rng.random() < 0.5:
            longest = rng.choice((None, None, DAY))
            links.append(OrderLink(first.id, second.id, rng.choice((0, HOUR)), longest))
    yard = Yard("yard", YARD_PLACE, frozenset({"coupling"}) if rng.random() < 0.7 else frozenset(), call_s=600)
    return Problem(tuple(visits), tuple(team), tuple(shifts), (yard,), tuple(kit), tuple(links))


def _random_visit(rng: random.Random, number: int, days: int) -> Visit:
    opens = rng.randrange(days) * DAY + rng.choice((0, 8, 10)) * HOUR
    closes = opens + rng.choice((4, 8, 24, 48)) * HOUR
    length = rng.choice((1, 2, 3)) * HOUR // 2
    lawful = [Window(opens, closes - length)]
    if rng.random() < 0.3:
        lawful.append(Window(closes + 2 * HOUR, closes + 6 * HOUR))
    promised = ()
    if rng.random() < 0.3:
        start = rng.randrange(days) * DAY + rng.choice((8, 10, 12)) * HOUR
        promised = (Window(start, start + 2 * HOUR),)
    sooner = tuple(sorted(rng.sample(range(7 * HOUR, days * DAY, HOUR), 3))) if rng.random() < 0.2 else ()
    kit = rng.choices(((), (KitNeed("receiver"),), (KitNeed("camera"),)), (5, 2, 2))[0]
    return Visit(
        f"v{number}",
        VisitKind.DIG,
        length,
        place(rng.uniform(-30, 30), rng.uniform(-30, 30)),
        tuple(lawful),
        promised,
        sooner,
        expires_s=lawful[-1].latest_s + length if rng.random() < 0.4 else None,
        priority=rng.choice(tuple(Priority)),
        skills=frozenset(rng.choice(({"dig"}, {"dig"}, {"locate"}))),
        kit=kit,
        parts={"coupling": rng.choice((0, 0, 1, 2))},
    )
