"""Our own search from Python: sequences in, better sequences out. Pure; no clock of day.

It takes some visits out and puts them back better, on everything the model knows: calls at the yard, breaks, order
between visits, gaps, unevenness. Its inner loops are compiled (see `compiled.py`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..budget import Budget
from ..model import FAR_S, Model
from .dice import dice
from .facts import (
    BEST,
    COST,
    COUNT,
    EARLIEST,
    LATEST,
    ON_SITE,
    ROUNDS,
    TOUR_COST,
    WHERE,
    desk_of,
    facts_of,
    most_stops,
    plans_of,
)
from .rounds import begin, rounds

Clip = tuple[int, int]
COOLING = 100.0
SLICE_S = 0.1


@dataclass(slots=True)
class Found:
    """A plan in the making: option sequences by shift, visits left out, boxes of linked visits, its cost."""

    sequences: list[tuple[int, ...]]
    left: list[int]
    cost: int
    clips: dict[int, Clip] = field(default_factory=dict)


class Search:
    """Search over one model from one set of sequences; `run` may be called again and goes on from its best."""

    def __init__(self, model: Model, seed: int = 0, sequences: Sequence[Sequence[int]] = ()) -> None:
        self.model = model
        self._facts = facts_of(model)
        breaks = max([0, *(len(shift.breaks) for shift in model.shifts)])
        stops, ways = most_stops(model), 6 if breaks else 4
        self._trial, self._current, self._best = (plans_of(self._facts, stops, ways) for _ in range(3))
        self._desk = desk_of(self._facts, stops, ways)
        self._dice = dice(seed)
        self._per_round = 0.0
        self.time_share = 0.0
        self._begin(sequences, {})

    def go_on_from(self, plan: Found) -> None:
        """Leave the own plan for another search's best."""
        self._begin(plan.sequences, plan.clips)

    @property
    def rounds(self) -> int:
        """Rounds searched so far."""
        return int(self._desk.sum[ROUNDS])

    @property
    def cost(self) -> int:
        """Cost of the best plan so far."""
        return int(self._desk.sum[BEST])

    def _begin(self, sequences: Sequence[Sequence[int]], clips: Mapping[int, Clip]) -> None:
        """Take the sequences over as far as they can be run, then put in what is left. With boxes from a search
        the order of linked visits is bound already."""
        shifts, spot = len(self.model.shifts), self._trial.spot
        wanted = np.zeros((shifts, max([1, *(len(seq) for seq in sequences)])), dtype=np.int32)
        counts = np.zeros(shifts, dtype=np.int64)
        for s, seq in enumerate(sequences):
            wanted[s, : len(seq)] = seq
            counts[s] = len(seq)
        spot[:, WHERE], spot[:, EARLIEST], spot[:, LATEST] = -1, -FAR_S, FAR_S
        for v, clip in clips.items():
            spot[v, EARLIEST], spot[v, LATEST] = clip
        plans = (self._trial, self._current, self._best)
        begin(self._facts, *plans, self._desk, self._dice, wanted, counts, bool(clips))

    def run(self, budget: Budget, heat: float = 4.0, most_rounds: int | None = None, floor: float = COOLING) -> int:
        """Search until the budget ends or for `most_rounds`; gives the cost of the best plan found, never worse than
        before. `heat` is the first temperature in mean costs of a visit; it falls to the `floor`th part of that."""
        if not self.model.visits or not self.model.shifts:
            return self.cost
        if self._desk.sum[COST] != self.cost:
            self.go_on_from(self.found())
        whole = budget.left() or 1e-9
        done = 0
        while (left_s := budget.left()) > 0 and (most_rounds is None or done < most_rounds):
            count = self._slice(left_s, whole, done, most_rounds)
            if most_rounds is None:
                share, then = 1 - left_s / whole, 1 - max(0.0, left_s - count * self._per_round) / whole
            else:
                share, then = done / most_rounds, (done + count) / most_rounds
            scale = self._scale()
            hot, cool = (scale * heat * floor ** -min(1.0, x) for x in (share, then))
            before = budget.used()
            rounds(
                self._facts,
                self._trial,
                self._current,
                self._best,
                self._desk,
                self._dice,
                count,
                hot,
                cool,
                self.time_share,
            )
            done += count
            self._per_round = max(1e-7, (budget.used() - before) / count)
            budget.tell(self.cost)
        return self.cost

    def _slice(self, left_s: float, whole_s: float, done: int, most_rounds: int | None) -> int:
        """Rounds to run before looking at the budget again."""
        if most_rounds is not None:
            return min(100, most_rounds - done)
        if not self._per_round:
            return 5
        return max(1, min(20_000, int(min(SLICE_S, whole_s / 50, left_s) / self._per_round)))

    def _scale(self) -> float:
        """Mean cost of a planned visit in the current plan, its own time on site left out."""
        facts, current = self._facts, self._current
        planned = current.spot[:, WHERE] >= 0
        work = self.model.problem.weights.duration * int(facts.visit[planned, ON_SITE].sum())
        return max(1.0, (int(current.tour[:, TOUR_COST].sum()) - work) / max(1, int(planned.sum())))

    def found(self) -> Found:
        """The best plan so far."""
        best = self._best
        sequences = [tuple(int(o) for o in best.seq[s, : best.tour[s, COUNT]]) for s in range(len(best.tour))]
        left = [int(v) for v in np.flatnonzero(best.spot[:, WHERE] < 0)]
        clips = {
            v: (int(best.spot[v, EARLIEST]), int(best.spot[v, LATEST]))
            for v in self.model.links_of
            if best.spot[v, WHERE] >= 0 and (best.spot[v, EARLIEST] > -FAR_S or best.spot[v, LATEST] < FAR_S)
        }
        return Found(sequences, left, self.cost, clips)
