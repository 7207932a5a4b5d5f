"""Large problems in parts: a quick first plan, then a few neighbouring shifts at a time, the rest held still.

Each part is a whole problem of its own for the same search. Visits outside a part keep their place; where one is
linked to a visit inside, the inside visit's windows are cut so that the order holds. Pure.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

import numpy as np

from .budget import Budget
from .improve import Improver, State
from .model import FAR_S, Model, cross
from .order import start_ranges
from .problem import Problem, Visit, Window
from .tour import Tour, bare_tour
from .travel import Travel, places_of
from .ways import Clip, WayBook

LARGE = 40_000
PART_SHIFTS = 20
PART_SECONDS = 1.2


def is_large(model: Model) -> bool:
    """Whether shifts times visits are too many for one search to move through in seconds."""
    return len(model.shifts) * len(model.visits) > LARGE


@dataclass(slots=True)
class _Whole:
    """The plan in the making: option sequences and their cost by shift, visits left out, boxes of linked visits."""

    sequences: list[tuple[int, ...]]
    costs: list[int]
    left: set[int]
    clips: dict[int, Clip]


def improve_in_parts(model: Model, budget: Budget, seed: int, most_parts: int | None) -> tuple[State, int]:
    """A plan for a large problem; `most_parts` limits the parts improved after the first plan."""
    rng = random.Random(seed)
    budget.phase = "first plan"
    improver = Improver(model, seed, calls_tried=1)
    greedy = improver.run(improver.empty(), budget, most_rounds=0)
    whole = _Whole(
        [tour.seq for tour in greedy.tours], [tour.cost for tour in greedy.tours], set(greedy.left), greedy.clips
    )
    del improver, greedy  # the prices of insertions take most of the memory
    book = WayBook(model, 2)
    rounds = 0
    budget.tell(_cost(model, whole), force=True)
    budget.phase = "improving in parts"
    parts = 0
    while budget.left() > 0.05 and (most_parts is None or parts < most_parts):
        parts += 1
        shifts = _neighbouring(model, whole, rng)
        seconds = min(PART_SECONDS, max(0.3, budget.seconds / 15))
        rounds += _improve(model, book, whole, shifts, budget.part(seconds), seed + parts)
        budget.tell(_cost(model, whole))
    return _state(model, book, whole), rounds


def _cost(model: Model, whole: _Whole) -> int:
    return sum(whole.costs) + sum(int(model.penalty[v]) for v in whole.left)


def _neighbouring(model: Model, whole: _Whole, rng: random.Random) -> list[int]:
    """Shifts near one another on the map, on one day or several, around a visit left out or a shift at random."""
    days = sorted({shift.day for shift in model.shifts})
    if whole.left and rng.random() < 0.4:
        v = rng.choice(sorted(whole.left))
        centre = int(model.loc[v])
        able = [
            s
            for s in np.flatnonzero(model.allowed[:, v]).tolist()
            if any(
                model.options[o].earliest_s <= model.shifts[s].last_s
                and model.options[o].latest_s >= model.shifts[s].start_s
                for o in model.options_of[v]
            )
        ]
    else:
        seed_shift = rng.randrange(len(model.shifts))
        seq = whole.sequences[seed_shift]
        centre = int(model.loc[model.options[rng.choice(seq)].visit]) if seq else model.start_loc[seed_shift]
        wide = rng.choice((1, 2, len(days)))
        chosen = set(days[max(0, days.index(model.shifts[seed_shift].day) - wide + 1) :][: 2 * wide - 1])
        able = [s for s, shift in enumerate(model.shifts) if shift.day in chosen]
    near = {
        s: min(
            [
                int(model.time[centre, model.start_loc[s]]),
                *(int(model.time[centre, model.loc[model.options[o].visit]]) for o in whole.sequences[s]),
            ]
        )
        for s in able
    }
    return sorted(able, key=lambda s: near[s] * (0.7 + 0.6 * rng.random()))[:PART_SHIFTS]


def _improve(model: Model, book: WayBook, whole: _Whole, shifts: list[int], budget: Budget, seed: int) -> int:
    """Search one part and take the result over when it is better; gives the rounds searched."""
    inside = [model.options[o].visit for s in shifts for o in whole.sequences[s]]
    visits = [
        v
        for v in dict.fromkeys([*inside, *_candidates(model, whole, shifts)])
        if _can_move(model, whole, v, set(inside) | whole.left)
    ]
    if not visits or not shifts:
        return 0
    part = _Part(model, whole, shifts, visits)
    improver = Improver(part.model, seed)
    state = improver.state_of(part.sequences())
    budget.quiet()
    state = improver.run(state, budget, 0.3)
    part.take_over(book, state)
    return improver.rounds


def _candidates(model: Model, whole: _Whole, shifts: list[int]) -> list[int]:
    """Visits left out that some shift of the part could serve, the dearest first; not too many at a time."""
    able: list[bool] = np.any(model.allowed[shifts], axis=0).tolist()
    low = min(model.shifts[s].start_s for s in shifts)
    high = max(model.shifts[s].last_s for s in shifts)
    fits = [
        v
        for v in whole.left
        if able[v]
        and any(model.options[o].earliest_s <= high and model.options[o].latest_s >= low for o in model.options_of[v])
    ]
    fits.sort(key=lambda v: (-int(model.penalty[v]), max(model.options[o].latest_s for o in model.options_of[v]), v))
    return fits[: 3 * len(shifts)]


def _can_move(model: Model, whole: _Whole, v: int, known: set[int]) -> bool:
    """Not while a visit that must come before it is neither planned nor in the part."""
    return all(after or u in known or u not in whole.left for u, after, _, _ in model.links_of.get(v, ()))


class _Part:
    """Some shifts and visits of the whole as a problem of their own."""

    def __init__(self, model: Model, whole: _Whole, shifts: list[int], visits: list[int]) -> None:
        self._whole_model, self._whole, self._shifts, self._visits = model, whole, shifts, visits
        self._bounds = {v: self._outside_bounds(v) for v in visits if v in model.links_of}
        ids = {model.visits[v].id for v in visits}
        problem: Problem = model.problem
        small = replace(
            problem,
            visits=tuple(self._cut(model.visits[v], self._bounds.get(v)) for v in visits),
            shifts=tuple(model.shifts[s] for s in shifts),
            links=tuple(k for k in problem.links if k.before_id in ids and k.after_id in ids),
        )
        self.model = Model(small, _travel_between(small, model.travel), parent=(model, shifts, visits))

    def _outside_bounds(self, v: int) -> Clip:
        """Starts of `v` that suit the boxes of planned visits outside the part."""
        model, inside = self._whole_model, set(self._visits)
        low, high = -FAR_S, FAR_S
        for u, after, gap_min, gap_max in model.links_of[v]:
            if u in inside or u not in self._whole.clips:
                continue
            a, b = self._whole.clips[u]
            if after:
                high = min(high, a - gap_min - int(model.duration[v]))
                low = max(low, b - gap_max - int(model.duration[v]))
            else:
                low = max(low, b + int(model.duration[u]) + gap_min)
                high = min(high, a + int(model.duration[u]) + gap_max)
        return low, high

    def _cut(self, visit: Visit, bounds: Clip | None) -> Visit:
        if bounds is None or bounds == (-FAR_S, FAR_S):
            return visit
        window = (Window(*bounds),)
        # no window left means never, while an empty tuple would mean always
        lawful = cross(visit.lawful or (self._whole_model.horizon,), window) or (Window(FAR_S, FAR_S),)
        return replace(visit, lawful=lawful, renewed=cross(visit.renewed, window))

    def sequences(self) -> list[tuple[int, ...]]:
        """What stands on the part's shifts now, in the part's own options."""
        number = {v: k for k, v in enumerate(self._visits)}
        out = []
        for s in self._shifts:
            seq: list[int] = []
            for o in self._whole.sequences[s]:
                was = self._whole_model.options[o]
                k = number.get(was.visit)
                rows = self.model.options_of[k] if k is not None else []
                seq += [
                    r
                    for r in rows
                    if self.model.options[r].cost == was.cost
                    and self.model.options[r].earliest_s <= was.latest_s
                    and self.model.options[r].latest_s >= was.earliest_s
                ][:1]
            out.append(tuple(seq))
        return out

    def take_over(self, book: WayBook, state: State) -> None:
        """Put the part's result into the whole when the whole gets better by it."""
        whole, model = self._whole, self._whole_model
        clips = {v: box for v, box in whole.clips.items() if v not in set(self._visits)}
        for k, box in state.clips.items():
            clips[self._visits[k]] = box
        sequences: dict[int, tuple[int, ...]] = {}
        for s, tour in zip(self._shifts, state.tours, strict=True):
            seq = self._in_whole(tour)
            if seq is None:
                return
            sequences[s] = seq
            for o in seq:
                v = model.options[o].visit
                if v in model.links_of:
                    low, high = clips.get(v, (-FAR_S, FAR_S))
                    a, b = self._bounds.get(v, (-FAR_S, FAR_S))
                    clips[v] = (max(low, a), min(high, b))
        left = (whole.left - set(self._visits)) | {self._visits[k] for k in state.left}
        if self._orphaned(left):
            return
        tours = {s: _tour(model, book, s, seq, clips) for s, seq in sequences.items()}
        if any(tour is None for tour in tours.values()):
            return
        costs = {s: tour.cost for s, tour in tours.items() if tour is not None}
        before = sum(whole.costs[s] for s in self._shifts) + sum(int(model.penalty[v]) for v in whole.left)
        after_cost = sum(costs.values()) + sum(int(model.penalty[v]) for v in left)
        if after_cost < before:
            whole.left, whole.clips = left, {v: box for v, box in clips.items() if v not in left}
            for s, seq in sequences.items():
                whole.sequences[s], whole.costs[s] = seq, costs[s]

    def _orphaned(self, left: set[int]) -> bool:
        """Whether a planned visit outside the part would lose the one that must come before it."""
        inside = set(self._visits)
        return any(
            after and u not in inside and u not in left
            for v in left & inside
            for u, after, _, _ in self._whole_model.links_of.get(v, ())
        )

    def _in_whole(self, tour: Tour) -> tuple[int, ...] | None:
        """The tour's sequence in the options of the whole; None when one has no match."""
        seq = []
        starts = start_ranges(tour)
        for r in tour.seq:
            mine = self.model.options[r]
            start = starts[r][0]
            found = [
                o
                for o in self._whole_model.options_of[self._visits[mine.visit]]
                if self._whole_model.options[o].earliest_s <= start <= self._whole_model.options[o].latest_s
            ]
            if not found:
                return None
            seq.append(min(found, key=lambda o: self._whole_model.options[o].cost))
        return tuple(seq)


def _travel_between(problem: Problem, travel: Travel) -> Travel:
    """The part's rows and columns of the travel table."""
    places = places_of(problem)
    rows = np.array([travel.index[place] for place in places], dtype=np.int64)
    cut = np.ix_(rows, rows)
    return Travel(
        {place: k for k, place in enumerate(places)}, travel.time_s[cut], travel.distance_m[cut], travel.note
    )


def _tour(model: Model, book: WayBook, s: int, seq: tuple[int, ...], clips: dict[int, Clip]) -> Tour | None:
    """The tour with its cost but without prices of insertions."""
    if not seq:
        return bare_tour(model, s, (), None)
    cut = {o: clips[v] for o in seq if (v := model.options[o].visit) in clips}
    ways = book.ways(s, seq, cut)
    return bare_tour(model, s, seq, min(ways, key=lambda way: way.cost)) if ways else None


def _state(model: Model, book: WayBook, whole: _Whole) -> State:
    tours = []
    for s, seq in enumerate(whole.sequences):
        tour = _tour(model, book, s, seq, whole.clips)
        assert tour is not None
        tours.append(tour)
    return State(tours, sorted(whole.left), _cost(model, whole), dict(whole.clips))
