"""The day on which to send each item away that costs the fewest visits. Pure.

A visit is lost when, on one of its days, its crew has fewer items of a kind at hand than the visit needs and
no spare is left at the yard. What hangs together, through spares, through a crew, or through visits that need
two kinds, is solved as one: exactly, by trying the combinations with a bound, as long as that ends within a
fixed number of tries; otherwise by improving one item at a time, and then the answer says that it is not
proven.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

MOST_TRIES = 20_000
MOST_WORK = 2_000_000  # tries times items and visits, so that a large register still answers
MOST_ROUNDS = 20
NEVER = -(10**9)  # a day of leaving so long ago that the item is back throughout
ALWAYS = 10**9

Key = tuple[str, int | None]  # a kind and a crew, or the yard
Hand = Mapping[Key, Sequence[int]]  # how many may go out, day by day in the order of the days


@dataclass(frozen=True, slots=True)
class Leaving:
    """An item that must go: `days` are the possible days of leaving (ordinals), it is away `away_days`.
    `crew_id` None: it is a spare at the yard. Until it leaves it may go out up to `last_day` (None: no end
    known) and on the days `also`, for which somebody has given the word."""

    item_id: int
    kind: str
    crew_id: int | None
    days: tuple[int, ...]
    away_days: int
    last_day: int | None = None
    also: frozenset[int] = frozenset()

    def at_hand(self, day: int, start: int) -> bool:
        """Whether it may go out that day when it leaves on `start`."""
        if start <= day < start + self.away_days:
            return False
        return day >= start or self.last_day is None or day <= self.last_day or day in self.also


@dataclass(frozen=True, slots=True)
class Need:
    """A planned visit on one day: its crew, and the kinds it needs, a kind as often as it needs it. A visit
    of several days has several."""

    visit_id: int
    day: int
    crew_id: int
    kinds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Holding:
    """`count` items alike that stay: a crew's, or spares with crew_id None; usable up to `last_day` (None: no
    end known) and on the days `also`."""

    kind: str
    crew_id: int | None
    last_day: int | None = None
    also: frozenset[int] = frozenset()
    count: int = 1


@dataclass(frozen=True, slots=True)
class Proposal:
    """When to send an item, and the visits lost on that choice."""

    item_id: int
    day: int
    lost: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """`lost` are all visits lost; `anyway` those of them that would be lost with every item at hand; `proven`
    when no other choice of days loses fewer."""

    proposals: tuple[Proposal, ...]
    lost: tuple[int, ...]
    anyway: frozenset[int]
    proven: bool


def propose(leaving: Sequence[Leaving], needs: Iterable[Need], staying: Iterable[Holding]) -> Answer:
    """For every item the day of leaving; together they lose the fewest visits, and among equals each item goes
    as late as it may."""
    wanted, holdings = list(needs), list(staying)
    chosen: dict[int, int] = {}
    proven = True
    for group, asked in _groups(leaving, wanted, holdings):
        days, exact = _Group(group, asked, holdings).solve()
        chosen |= days
        proven = proven and exact
    measure = _Measure(wanted, holdings)
    lost = measure.lost(leaving, chosen)
    anyway = measure.lost(leaving, {item.item_id: NEVER for item in leaving}) & lost
    proposals = []
    for item in leaving:
        away = range(chosen[item.item_id], chosen[item.item_id] + item.away_days)
        mine = {n.visit_id for n in wanted if n.visit_id in lost - anyway and n.day in away and item.kind in n.kinds}
        proposals.append(Proposal(item.item_id, chosen[item.item_id], tuple(sorted(mine))))
    return Answer(tuple(proposals), tuple(sorted(lost)), anyway, proven)


def lost_visits(
    leaving: Iterable[Leaving], chosen: Mapping[int, int], needs: Iterable[Need], staying: Iterable[Holding]
) -> frozenset[int]:
    """The visits that the chosen days lose: the measure itself."""
    return _Measure(list(needs), staying).lost(leaving, chosen)


def _by_day(needs: Iterable[Need]) -> dict[int, list[Need]]:
    found: dict[int, list[Need]] = {}
    for need in needs:
        found.setdefault(need.day, []).append(need)
    return found


class _Measure:
    """The visits lost on a choice of days; what stays is counted once."""

    def __init__(self, needs: Iterable[Need], staying: Iterable[Holding]):
        self.by_day = _by_day(needs)
        self.order = sorted(self.by_day)
        self.stays = self._hand((one, one.count, ALWAYS, ALWAYS) for one in staying)

    def lost(self, leaving: Iterable[Leaving], chosen: Mapping[int, int]) -> frozenset[int]:
        """Where item `i` leaves on the day `chosen[i]`."""
        starts = ((item, chosen[item.item_id]) for item in leaving)
        moving = self._hand((item, 1, start, start + item.away_days) for item, start in starts)
        lost: set[int] = set()
        for place, day in enumerate(self.order):
            lost |= _lost_on_a_day(self.by_day[day], self.stays, moving, place)
        return frozenset(lost)

    def _hand(self, rows: Iterable[tuple[Leaving | Holding, int, int, int]]) -> Hand:
        """Items, how many, the day they leave and the day they are back: the steps up and down, then their sums."""
        steps: dict[Key, list[int]] = {}
        for one, count, start, back in rows:
            row = steps.get((one.kind, one.crew_id))
            if row is None:
                row = steps[one.kind, one.crew_id] = [0] * (len(self.order) + 1)
            last = ALWAYS if one.last_day is None else one.last_day
            spans = [(0, bisect_right(self.order, min(last, start - 1))), (bisect_left(self.order, back), -1)]
            for day in one.also:
                if last < day < start and day in self.by_day:
                    place = bisect_left(self.order, day)
                    spans.append((place, place + 1))
            for first, end in spans:
                row[first] += count
                row[end] -= count
        return {key: list(accumulate(row)) for key, row in steps.items()}


def _lost_on_a_day(needs: Sequence[Need], stays: Hand, moving: Hand, place: int) -> set[int]:
    """A crew's items serve all its visits of the day; what a crew lacks it draws from the yard for the day,
    the crew with the most visits first, for a spare saves all of them."""

    def at_hand(kind: str, crew_id: int | None) -> int:
        return sum(hand[kind, crew_id][place] for hand in (stays, moving) if (kind, crew_id) in hand)

    lost: set[int] = set()
    for kind in sorted({kind for need in needs for kind in need.kinds}):
        spares = at_hand(kind, None)
        asking: dict[int, list[tuple[int, int]]] = {}
        for need in needs:
            count = need.kinds.count(kind)
            if count:
                asking.setdefault(need.crew_id, []).append((count, need.visit_id))
        for crew, mine in sorted(asking.items(), key=lambda pair: (-len(pair[1]), pair[0])):
            held = at_hand(kind, crew)
            drawn = min(max(max(mine)[0] - held, 0), spares)
            spares -= drawn
            lost |= {visit for count, visit in mine if count > held + drawn}
    return lost


def _groups(
    leaving: Sequence[Leaving], needs: Sequence[Need], staying: Sequence[Holding]
) -> list[tuple[list[Leaving], list[Need]]]:
    """Items whose days bear on each other, with the visits that they bear on."""
    root: dict[Key, Key] = {}

    def find(key: Key) -> Key:
        while root.setdefault(key, key) != key:
            key = root[key]
        return key

    every: list[Leaving | Holding] = [*leaving, *staying]
    spare_kinds = {one.kind for one in every if one.crew_id is None}

    def node(kind: str, crew_id: int | None) -> Key:
        return (kind, None if kind in spare_kinds else crew_id)

    for need in needs:
        first = find(node(need.kinds[0], need.crew_id)) if need.kinds else None
        for kind in need.kinds[1:]:
            root[find(node(kind, need.crew_id))] = first or node(kind, need.crew_id)
    groups: dict[Key, tuple[list[Leaving], list[Need]]] = {}
    for item in leaving:
        groups.setdefault(find(node(item.kind, item.crew_id)), ([], []))[0].append(item)
    for need in needs:
        key = find(node(need.kinds[0], need.crew_id)) if need.kinds else None
        if key in groups:
            groups[key][1].append(need)
    return list(groups.values())


class _Group:
    """Items that hang together: search over their days."""

    def __init__(self, items: Sequence[Leaving], needs: Sequence[Need], staying: Sequence[Holding]):
        kinds = {kind for need in needs for kind in need.kinds}
        self.measure = _Measure(needs, [one for one in staying if one.kind in kinds])
        self.told: dict[tuple[tuple[int, ...], int, int | None, frozenset[int]], list[int]] = {}
        self.days = {item.item_id: self._telling(item) for item in items}
        self.items = sorted(items, key=lambda item: (len(self.days[item.item_id]), item.item_id))
        self.tries, self.exhausted = 0, False
        self.most = min(MOST_TRIES, MOST_WORK // (len(items) + len(needs) + 1))

    def _telling(self, item: Leaving) -> list[int]:
        """The days worth trying, the latest first: a day is left out when a later one misses no more. Items that
        fall due on the same day have the same, so it is worked out once for them."""
        alike = (item.days, item.away_days, item.last_day, item.also)
        if alike not in self.told:
            kept: list[tuple[int, frozenset[int]]] = []
            for day in sorted(set(item.days), reverse=True):
                missed = frozenset(d for d in self.measure.order if not item.at_hand(d, day))
                if not any(other <= missed for _, other in kept):
                    kept.append((day, missed))
            self.told[alike] = [day for day, _ in kept]
        return self.told[alike]

    def cost(self, chosen: Mapping[int, int]) -> int:
        """Visits lost when items without a day are at hand throughout: never more than with them away."""
        at_hand = {item.item_id: NEVER for item in self.items}
        self.tries += 1
        return len(self.measure.lost(self.items, at_hand | dict(chosen)))

    def solve(self) -> tuple[dict[int, int], bool]:
        least = self.cost({})
        best = {item.item_id: self.days[item.item_id][0] for item in self.items}
        if self.cost(best) == least:
            return best, True
        best = self._descend(best)
        cost = self.cost(best)
        if cost == least:
            return best, True
        self.tries = 0
        self.best, self.best_cost = best, cost
        self._branch(0, {})
        return self.best, not self.exhausted

    def _descend(self, chosen: dict[int, int]) -> dict[int, int]:
        for _ in range(MOST_ROUNDS):
            before = dict(chosen)
            for item in self.items:
                if self.tries > self.most:
                    return chosen
                days = self.days[item.item_id]
                chosen[item.item_id] = min(days, key=lambda day: (self.cost(chosen | {item.item_id: day}), -day))
            if chosen == before:
                break
        return chosen

    def _branch(self, depth: int, chosen: dict[int, int]) -> None:
        if depth == len(self.items):
            self.best, self.best_cost = dict(chosen), self.cost(chosen)
            return
        item = self.items[depth]
        for day in self.days[item.item_id]:
            if self.tries > self.most:
                self.exhausted = True
                return
            step = chosen | {item.item_id: day}
            if self.cost(step) < self.best_cost:
                self._branch(depth + 1, step)
