"""The day on which to send each item away that costs the fewest visits. Pure.

A visit is lost when, on its day, its crew has fewer items of a kind at hand than the visit needs and no
spare is left at the yard. Items of one kind hang together through the spares, so each kind is solved as
one: exactly, by trying the combinations with a bound, as long as that ends within a fixed number of
tries; otherwise by improving one item at a time, and then the answer says that it is not proven. Kinds
are solved apart: a visit that needs two of them counts for each.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

MOST_TRIES = 20_000
MOST_WORK = 2_000_000  # tries times items and visits, so that a large register still answers
MOST_ROUNDS = 20
NEVER = -(10**9)  # a day of leaving so long ago that the item is back throughout


@dataclass(frozen=True, slots=True)
class Leaving:
    """An item that must go: `days` are the possible days of leaving (ordinals), it is away `away_days`.
    `crew_id` None: it is a spare at the yard."""

    item_id: int
    kind: str
    crew_id: int | None
    days: tuple[int, ...]
    away_days: int


@dataclass(frozen=True, slots=True)
class Need:
    """A planned visit: the day, its crew, and how many of each kind it needs."""

    visit_id: int
    day: int
    crew_id: int
    kinds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Holding:
    """An item that stays: usable on a day from `usable` (its crew's, or a spare with crew_id None)."""

    kind: str
    crew_id: int | None
    last_day: int | None = None  # the last day it may go out; None: no end known


@dataclass(frozen=True, slots=True)
class Proposal:
    """When to send an item and the visits lost on that choice; `proven` when no other choice loses fewer."""

    item_id: int
    day: int
    lost: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """`lost` are all visits lost; `anyway` those of them that would be lost with every item at hand."""

    proposals: tuple[Proposal, ...]
    lost: tuple[int, ...]
    anyway: frozenset[int]
    proven: bool


def propose(leaving: Sequence[Leaving], needs: Iterable[Need], staying: Iterable[Holding]) -> Answer:
    """For every item the day of leaving; together they lose the fewest visits, the earlier lost day being
    no better than the later, and among equals each item goes as late as it may."""
    wanted, holdings = list(needs), list(staying)
    chosen: dict[int, int] = {}
    proven = True
    for kind in sorted({item.kind for item in leaving}):
        group = [item for item in leaving if item.kind == kind]
        days, exact = _Kind(kind, group, wanted, holdings).solve()
        chosen |= days
        proven = proven and exact
    lost = lost_visits(leaving, chosen, wanted, holdings)
    never = {item.item_id: NEVER for item in leaving}
    anyway = lost_visits(leaving, never, wanted, holdings) & lost
    proposals = []
    for item in leaving:
        away = range(chosen[item.item_id], chosen[item.item_id] + item.away_days)
        mine = tuple(
            n.visit_id for n in wanted if n.visit_id in lost - anyway and n.day in away and item.kind in n.kinds
        )
        proposals.append(Proposal(item.item_id, chosen[item.item_id], mine))
    return Answer(tuple(proposals), tuple(sorted(lost)), anyway, proven)


def lost_visits(
    leaving: Iterable[Leaving], chosen: Mapping[int, int], needs: Iterable[Need], staying: Iterable[Holding]
) -> frozenset[int]:
    """The visits that the chosen days lose: the measure itself, plain and slow."""
    items, holdings = list(leaving), list(staying)
    lost = set()
    by_day: dict[int, list[Need]] = {}
    for need in needs:
        by_day.setdefault(need.day, []).append(need)
    for day, there in by_day.items():
        at_hand: Counter[tuple[str, int | None]] = Counter()
        for item in items:
            start = chosen[item.item_id]
            if not start <= day < start + item.away_days:
                at_hand[item.kind, item.crew_id] += 1
        for holding in holdings:
            if holding.last_day is None or day <= holding.last_day:
                at_hand[holding.kind, holding.crew_id] += 1
        lost |= _lost_on_a_day(there, at_hand)
    return frozenset(lost)


def _lost_on_a_day(needs: Sequence[Need], at_hand: Counter[tuple[str, int | None]]) -> set[int]:
    """A crew's items serve all its visits of the day; what a crew lacks it draws from the yard for the day,
    the crew with the most visits first, for a spare saves all of them."""
    lost: set[int] = set()
    crews = Counter(need.crew_id for need in needs)
    for kind in sorted({kind for need in needs for kind in need.kinds}):
        spares = at_hand[kind, None]
        for crew, _ in sorted(crews.items(), key=lambda pair: (-_served(needs, pair[0], kind), pair[0])):
            mine = sorted(
                ((n.kinds.count(kind), n.visit_id) for n in needs if n.crew_id == crew and kind in n.kinds),
            )
            if not mine:
                continue
            short = max(mine[-1][0] - at_hand[kind, crew], 0)
            drawn = min(short, spares)
            spares -= drawn
            lost |= {visit for count, visit in mine if count > at_hand[kind, crew] + drawn}
    return lost


def _served(needs: Sequence[Need], crew_id: int, kind: str) -> int:
    return sum(need.crew_id == crew_id and kind in need.kinds for need in needs)


class _Kind:
    """One kind's items: search over their days."""

    def __init__(self, kind: str, group: Sequence[Leaving], needs: Sequence[Need], staying: Sequence[Holding]):
        self.group = sorted(group, key=lambda item: (len(item.days), item.item_id))
        self.needs = [
            Need(need.visit_id, need.day, need.crew_id, tuple(k for k in need.kinds if k == kind))
            for need in needs
            if kind in need.kinds
        ]
        self.staying = [holding for holding in staying if holding.kind == kind]
        self.tries = 0
        self.most = min(MOST_TRIES, MOST_WORK // (len(group) + len(self.needs) + 1))

    def cost(self, chosen: Mapping[int, int]) -> int:
        """Visits lost when items without a day are at hand throughout: never more than with them away."""
        at_hand = {item.item_id: NEVER for item in self.group}
        self.tries += 1
        return len(lost_visits(self.group, at_hand | dict(chosen), self.needs, self.staying))

    def solve(self) -> tuple[dict[int, int], bool]:
        least = self.cost({})
        best = {item.item_id: max(item.days) for item in self.group}
        if self.cost(best) == least:
            return best, True
        best = self._descend(best)
        cost = self.cost(best)
        if cost == least:
            return best, True
        self.tries, self.exhausted = 0, False
        self.best, self.best_cost = best, cost
        self._branch(0, {})
        return self.best, not self.exhausted

    def _descend(self, chosen: dict[int, int]) -> dict[int, int]:
        for _ in range(MOST_ROUNDS):
            before = dict(chosen)
            for item in self.group:
                if self.tries > self.most:
                    return chosen
                chosen[item.item_id] = min(item.days, key=lambda day: (self.cost(chosen | {item.item_id: day}), -day))
            if chosen == before:
                break
        return chosen

    def _branch(self, depth: int, chosen: dict[int, int]) -> None:
        if depth == len(self.group):
            self.best, self.best_cost = dict(chosen), self.cost(chosen)
            return
        item = self.group[depth]
        for day in sorted(item.days, reverse=True):
            if self.tries > self.most:
                self.exhausted = True
                return
            step = chosen | {item.item_id: day}
            if self.cost(step) < self.best_cost:
                self._branch(depth + 1, step)
