"""Our own search: take some visits out, put them back better, on everything the model knows. Pure.

Ruin by strings of neighbouring visits, after J. Christiaens and G. Vanden Berghe, "Slack induction by string
removals for vehicle routing problems", Transportation Science 54(2), 2020; recreate greedily or by regret, after
S. Ropke and D. Pisinger, "An adaptive large neighborhood search heuristic for the pickup and delivery problem
with time windows", Transportation Science 40(4), 2006; accepted by simulated annealing. What the routing
engine does not know (breaks, order between visits, gaps, unevenness) is handled here.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from .budget import Budget
from .model import Model
from .order import OrderBook
from .tour import IMPOSSIBLE, Tour, TourBook
from .ways import Clip


@dataclass(slots=True)
class State:
    """A plan in the making: a tour a shift, visits left out, and the windows that orders cut."""

    tours: list[Tour]
    left: list[int]
    cost: int
    clips: dict[int, Clip] = field(default_factory=dict)


class Improver:
    """Search over one model; `run` may be called again and goes on from the state it is given."""

    def __init__(self, model: Model, seed: int = 0, calls_tried: int = 2) -> None:
        self.model = model
        self.book = TourBook(model, calls_tried)
        self._rng = random.Random(seed)
        self._dice = np.random.default_rng(seed)
        self._near = self._neighbours()
        self._options = [np.array(rows, dtype=np.int64) for rows in model.options_of]
        self._single = all(len(rows) == 1 for rows in model.options_of)
        self._order = OrderBook(model, self.book, seed) if model.links_of else None
        self._width = (model.opt_latest - model.opt_earliest).tolist()
        self.rounds = 0
        self._closed = self._opened = -1  # a shift that this round's insertions must not, or rather should, use
        self.time_share = 0.0
        self.mean_taken = 10.0

    def _neighbours(self) -> list[list[list[int]]]:
        """For each visit the others by nearness: on the map, and on the map and in time together."""
        model = self.model
        if not model.visits:
            return []
        between = model.time[np.ix_(model.loc, model.loc)].astype(float)
        first = np.array([min((model.options[o].earliest_s for o in rows), default=0) for rows in model.options_of])
        last = np.array([max((model.options[o].latest_s for o in rows), default=0) for rows in model.options_of])
        # least waiting between two visits, and least lateness, whichever comes first
        wait = np.maximum(first[None, :] - (last + model.duration)[:, None] - between, 0.0)
        late = np.maximum((first + model.duration)[:, None] + between - last[None, :], 0.0)
        ahead = between + 0.2 * wait + late
        in_time = np.minimum(ahead, ahead.T)
        keep = min(len(model.visits), 100)
        out = []
        for measure in (between, in_time):
            nearest = np.argsort(measure, axis=1, kind="stable")[:, :keep]
            out.append([[v, *(u for u in row if u != v)] for v, row in enumerate(nearest.tolist())])
        return out

    def empty(self) -> State:
        """A state with every visit left out."""
        tours = [self.book.tour(s, ()) for s in range(len(self.model.shifts))]
        left = list(range(len(self.model.visits)))
        return self._state([tour for tour in tours if tour is not None], left, {})

    def state_of(self, sequences: Sequence[Sequence[int]]) -> State:
        """A state from option sequences a shift; what does not fit as given is left out, not forced."""
        state = self.empty()
        placed: set[int] = set()
        for s, seq in enumerate(sequences):
            kept: tuple[int, ...] = ()
            whole = self.book.tour(s, tuple(seq))
            if whole is not None:
                state.tours[s] = whole
                kept = whole.seq
            else:
                for o in seq:
                    longer = self.book.tour(s, (*kept, o))
                    if longer is not None:
                        state.tours[s], kept = longer, (*kept, o)
            placed |= {self.book.visit_of[o] for o in kept}
        left = [v for v in range(len(self.model.visits)) if v not in placed]
        if self._order is not None:
            dropped = self._order.settle(state.tours, state.clips)
            left += dropped
        return self._state(state.tours, left, state.clips)

    def _state(self, tours: list[Tour], left: list[int], clips: dict[int, Clip]) -> State:
        cost = sum(tour.cost for tour in tours) + sum(int(self.model.penalty[v]) for v in left)
        return State(tours, left, cost, clips)

    def run(
        self,
        state: State,
        budget: Budget,
        heat: float = 4.0,
        most_rounds: int | None = None,
        on_best: Callable[[State], None] | None = None,
    ) -> State:
        """The best state found within the budget (and `most_rounds`), from `state` on; never a worse one.

        `heat` is the first temperature in mean costs of a visit; it falls to a 250th of that by the end.
        """
        if not self.model.visits or not self.model.shifts:
            return state
        if state.left:
            first = self._recreate(self._copy(state), state.left)
            state = first if first.cost <= state.cost else state
        current = best = state
        whole = budget.left() or 1e-9
        scale = self._scale(best)
        rounds = 0
        while (left_s := budget.left()) > 0 and (most_rounds is None or rounds < most_rounds):
            share = 1 - left_s / whole if most_rounds is None else rounds / most_rounds
            rounds += 1
            heat_now = scale * heat * 250.0 ** -min(1.0, share)
            trial = self._ruin(self._copy(current))
            trial = self._recreate(trial, trial.left)
            if trial.cost < current.cost - heat_now * math.log(self._rng.random() or 1e-300):
                current = trial
                if trial.cost < best.cost:
                    best = trial
                    scale = self._scale(best)
                    if on_best is not None:
                        on_best(best)
            if rounds % 16 == 0:
                budget.tell(best.cost)
        self.rounds += rounds
        return best

    def _scale(self, state: State) -> float:
        """Mean cost of a planned visit, its own time on site left out."""
        model = self.model
        work = model.problem.weights.duration
        planned = len(model.visits) - len(state.left)
        routes = sum(
            tour.cost - work * sum(int(model.duration[self.book.visit_of[o]]) for o in tour.seq)
            for tour in state.tours
        )
        return max(1.0, routes / max(1, planned))

    @staticmethod
    def _copy(state: State) -> State:
        return State(list(state.tours), list(state.left), state.cost, dict(state.clips))

    # -- ruin ------------------------------------------------------------------------------------------

    def _ruin(self, state: State) -> State:
        rng, visit = self._rng, self.book.visit_of
        where = {visit[o]: s for s, tour in enumerate(state.tours) for o in tour.seq}
        if not where:
            return state
        used = [s for s, tour in enumerate(state.tours) if tour.seq]
        taken: list[int] = []
        self._closed = self._opened = -1
        kind = rng.random()
        if kind < 0.1:
            s = rng.choice(used)
            taken = list(state.tours[s].seq)
            if kind < 0.06 and len(used) > 1:
                self._closed = s
        else:
            if kind < 0.18:
                self._exchange_shifts(state, rng.choice(used))
                where = {visit[o]: s for s, tour in enumerate(state.tours) for o in tour.seq}
                used = [s for s, tour in enumerate(state.tours) if tour.seq]
            mean = len(where) / len(used)
            longest = min(10.0, mean)
            strings = int(rng.uniform(1, max(1.0, 4 * self.mean_taken / (1 + longest) - 1) + 1))
            centre = (
                rng.choice(state.left) if state.left and rng.random() < 0.5 else rng.randrange(len(self.model.visits))
            )
            if kind > 0.93 and len(used) < len(state.tours):
                self._opened = rng.choice([s for s, tour in enumerate(state.tours) if not tour.seq])
                centre = self._nearest(self._opened)
            touched: set[int] = set()
            for v in self._near[rng.random() < self.time_share][centre]:
                s = where.get(v, -1)
                if s < 0 or s in touched:
                    continue
                touched.add(s)
                taken += self._string(state.tours[s].seq, v, longest)
                if len(touched) >= strings:
                    break
        return self._without(state, taken)

    def _nearest(self, s: int) -> int:
        """One of the ten visits nearest to where a shift starts."""
        from_start = self.model.time[self.model.start_loc[s]][self.model.loc]
        return int(self._rng.choice(np.argsort(from_start, kind="stable")[:10].tolist()))

    def _exchange_shifts(self, state: State, s: int) -> None:
        """Give a whole tour to another shift and take that one's in return, where this is cheapest."""
        model, tours = self.model, state.tours
        best: tuple[int, int, Tour, Tour] | None = None
        others = [k for k in range(len(tours)) if k != s]
        for other in self._rng.sample(others, min(10, len(others))):
            theirs, mine = tours[other].seq, tours[s].seq
            if not all(model.allowed[other, self.book.visit_of[o]] for o in mine):
                continue
            if not all(model.allowed[s, self.book.visit_of[o]] for o in theirs):
                continue
            there = self.book.tour(other, mine, state.clips)
            here = self.book.tour(s, theirs, state.clips)
            if there is None or here is None:
                continue
            change = there.cost + here.cost - tours[s].cost - tours[other].cost
            if best is None or change < best[0]:
                best = (change, other, there, here)
        if best is not None:
            _, other, there, here = best
            tours[other], tours[s] = there, here

    def _string(self, seq: tuple[int, ...], v: int, longest: float) -> list[int]:
        """A run of the tour that holds visit `v`; half the time with a stretch in it spared."""
        rng = self._rng
        size = int(rng.uniform(1, min(len(seq), longest) + 1))
        at = next(k for k, o in enumerate(seq) if self.book.visit_of[o] == v)
        spare = 0
        if rng.random() < 0.5 and len(seq) > size:
            spare = 1
            while size + spare < len(seq) and rng.random() > 0.5:
                spare += 1
        start = rng.randint(max(0, at - size - spare + 1), min(at, len(seq) - size - spare))
        run = list(seq[start : start + size + spare])
        if spare:
            cut = rng.randint(0, size)
            run = run[:cut] + run[cut + spare :]
        return run

    def _without(self, state: State, taken: list[int]) -> State:
        gone = set(taken)
        freed = [self.book.visit_of[o] for o in taken]
        if self._order is not None:
            extra = self._order.followers(freed, state.tours)
            gone |= set(extra)
            freed += [self.book.visit_of[o] for o in extra]
            self._order.release(freed, state.tours, state.clips, gone)
        for s, tour in enumerate(state.tours):
            if tour.seq and not gone.isdisjoint(tour.seq):
                kept = tuple(o for o in tour.seq if o not in gone)
                shorter = self.book.tour(s, kept, state.clips)
                if shorter is None:  # travel times from outside may break the triangle; give the tour up
                    freed += [self.book.visit_of[o] for o in kept]
                    shorter = self.book.tour(s, ())
                    assert shorter is not None
                state.tours[s] = shorter
        state.left = state.left + freed
        return state

    # -- recreate --------------------------------------------------------------------------------------

    def _recreate(self, state: State, waiting: list[int]) -> State:
        gains = np.array([tour.gain for tour in state.tours])
        waiting = list(dict.fromkeys(waiting))
        if self._closed >= 0:
            gains[self._closed] = IMPOSSIBLE
        if self._opened >= 0 and waiting:
            first = min(float(gains[self._opened, self._options[v]].min(initial=IMPOSSIBLE)) for v in waiting)
            if first < IMPOSSIBLE / 2:
                gains[self._opened] -= max(0.0, first)
        self._closed = self._opened = -1
        self._sort(waiting)
        left: list[int] = []
        if self._order is not None:
            left = self._order.insert_all(state.tours, state.clips, gains, waiting, self._put, self._blink())
        elif self._rng.random() < 0.5 or len(waiting) > 60:
            left = self._greedy(state, gains, waiting)
        else:
            left = self._regret(state, gains, waiting)
        return self._state(state.tours, left, state.clips)

    def _sort(self, waiting: list[int]) -> None:
        rng, model = self._rng, self.model
        rng.shuffle(waiting)
        by = rng.random()
        by = rng.random()
        waiting_all = [v for v in waiting if model.options_of[v]]
        waiting[:] = waiting_all + [v for v in waiting if not model.options_of[v]]

        if by < 0.2:
            waiting.sort(key=self._width_of)
        elif by < 0.4:
            waiting.sort(key=self._first_start)
        elif by < 0.6:
            waiting.sort(key=lambda v: int(model.allowed[:, v].sum()))
        if int(model.penalty.max()) > int(model.penalty.min()) and rng.random() < 0.75:
            waiting.sort(key=lambda v: -int(model.penalty[v]))

    def _blink(self) -> float:
        """Chance that a shift is overlooked in this round; some rounds overlook none."""
        share = self._rng.random()
        if share < 0.6:
            return 0.0
        return 0.03 if share < 0.85 or len(self.model.shifts) > 30 else 0.2

    def _width_of(self, v: int) -> int:
        return sum(self._width[o] for o in self.model.options_of[v])

    def _first_start(self, v: int) -> int:
        return min((self.model.options[o].earliest_s for o in self.model.options_of[v]), default=0)

    def _greedy(self, state: State, gains: np.ndarray, waiting: list[int]) -> list[int]:
        left = []
        shifts = len(state.tours)
        blink = self._blink()
        for v in waiting:
            rows = self._options[v]
            if not len(rows):
                left.append(v)
                continue
            price = gains[:, rows]
            if blink:
                price = price + (self._dice.random(shifts) < blink)[:, None] * (IMPOSSIBLE / 4)
            flat = int(price.argmin())
            s, o = flat // len(rows), int(rows[flat % len(rows)])
            if gains[s, o] >= min(IMPOSSIBLE / 2, float(self.model.penalty[v])) or not self._put(
                state.tours, gains, s, o, state.clips
            ):
                left.append(v)
        return left

    def _regret(self, state: State, gains: np.ndarray, waiting: list[int]) -> list[int]:
        left: list[int] = []
        waiting = list(waiting)
        while waiting:
            if self._single:
                price = gains[:, [self.model.options_of[v][0] for v in waiting]]
            else:
                price = np.stack(
                    [
                        gains[:, self._options[v]].min(1)
                        if len(self._options[v])
                        else np.full(len(gains), IMPOSSIBLE)
                        for v in waiting
                    ],
                    axis=1,
                )
            if len(price) > 1:
                two = np.partition(price, 1, axis=0)
                regret = (two[1] - two[0]) * (0.8 + 0.4 * self._dice.random(len(waiting)))
                regret[two[0] >= IMPOSSIBLE / 2] = -1.0
                at = int(regret.argmax())
            else:
                at = int(price[0].argmin())
            v = waiting.pop(at)
            s = int(price[:, at].argmin())
            rows = self._options[v]
            if price[s, at] >= min(IMPOSSIBLE / 2, float(self.model.penalty[v])):
                left.append(v)
                continue
            o = int(rows[int(gains[s, rows].argmin())])
            if not self._put(state.tours, gains, s, o, state.clips):
                left.append(v)
        return left

    def _put(
        self,
        tours: list[Tour],
        gains: np.ndarray,
        s: int,
        o: int,
        clips: dict[int, Clip],
        position: int | None = None,
    ) -> bool:
        """Insert option `o` into the tour of shift `s` at its cheapest place; False when the tour refuses."""
        tour = tours[s]
        at = int(tour.place[o]) if position is None else position
        longer = self.book.tour(s, (*tour.seq[:at], o, *tour.seq[at:]), clips)
        if longer is None:
            return False
        tours[s] = longer
        gains[s] = longer.gain
        return True
