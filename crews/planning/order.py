"""Order between visits of a job: windows are cut so that both ends of a link hold whatever else moves. Pure.

While both visits of a link stand in the plan, each has a box of starts; the boxes are chosen so that any pair of
starts in them keeps the order and the gaps. Taking one visit out widens the other's box again.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .model import FAR_S, Model
from .tour import IMPOSSIBLE, Tour, TourBook
from .ways import REST, YARD, Clip

Put = Callable[[list[Tour], np.ndarray, int, int, dict[int, Clip], int | None], bool]


def start_ranges(tour: Tour) -> dict[int, Clip]:
    """Option -> earliest and latest start that the rest of the tour leaves it."""
    out: dict[int, Clip] = {}
    if tour.way is None:
        return out
    for k, node in enumerate(tour.way.nodes):
        if node.what in (YARD, REST):
            continue
        d, e, _, _, drive = tour.way.before[k]
        leg = tour.way.before[k + 1][4] - drive
        out[node.option] = (max(e + d + leg, node.earliest), tour.way.after[k][2])
    return out


class OrderBook:
    """Keeps the boxes of linked visits in step with the tours."""

    def __init__(self, model: Model, book: TourBook, seed: int = 0) -> None:
        self._model, self._book = model, book
        self._links = model.links_of
        self._duration: list[int] = model.duration.tolist()
        self._visit_of = book.visit_of
        self._rank = self._ranks()
        self._turn = 0
        self._hoped: set[int] = set()
        self._blink = 0.0
        self._dice = np.random.default_rng(seed)

    def _ranks(self) -> dict[int, int]:
        """Links from the first visit of a job on; earlier visits have lower ranks."""
        rank = {v: 0 for v in self._links}
        for _ in range(len(rank)):
            changed = False
            for v, links in self._links.items():
                need = max((rank[u] + 1 for u, other_after, _, _ in links if not other_after), default=0)
                if need > rank[v]:
                    rank[v], changed = need, True
            if not changed:
                break
        return rank

    def followers(self, freed: list[int], tours: list[Tour]) -> list[int]:
        """Options linked to the visits taken out, to be taken out with them every other time."""
        self._turn += 1
        if self._turn % 2:
            return []
        partners = {u for v in freed for u, *_ in self._links.get(v, ())} - set(freed)
        return [o for tour in tours for o in tour.seq if self._visit_of[o] in partners] if partners else []

    def release(self, freed: list[int], tours: list[Tour], clips: dict[int, Clip], gone: set[int]) -> None:
        """Forget the boxes of visits taken out and widen their partners' boxes."""
        touched: set[int] = set()
        for v in freed:
            clips.pop(v, None)
            touched |= {u for u, *_ in self._links.get(v, ()) if u in clips}
        for u in touched:
            box = self._box(u, clips)
            if box is None:
                clips.pop(u, None)
            else:
                clips[u] = box
        if touched:
            for s, tour in enumerate(tours):
                if any(self._visit_of[o] in touched for o in tour.seq) and gone.isdisjoint(tour.seq):
                    wider = self._book.tour(s, tour.seq, clips)
                    if wider is not None:
                        tours[s] = wider

    def _box(self, v: int, clips: dict[int, Clip]) -> Clip | None:
        """Starts of `v` that suit the boxes of all its placed partners; None when it has none placed."""
        low, high, bound = -FAR_S, FAR_S, False
        for u, other_after, gap_min, gap_max in self._links[v]:
            if u not in clips:
                continue
            bound = True
            a, b = clips[u]
            if other_after:
                high = min(high, a - gap_min - self._duration[v])
                low = max(low, b - gap_max - self._duration[v])
            else:
                low = max(low, b + self._duration[u] + gap_min)
                high = min(high, a + self._duration[u] + gap_max)
        return (low, high) if bound else None

    def insert_all(
        self,
        tours: list[Tour],
        clips: dict[int, Clip],
        gains: np.ndarray,
        waiting: list[int],
        put: Put,
        blink: float = 0.0,
    ) -> list[int]:
        """Insert visits one by one, earlier ones of a job first; gives back those left out."""
        # mostly the earlier visit first; at times the later one, which then says by when the earlier must be done
        way = (1, 0, 1, -1)[self._turn % 4]
        waiting = sorted(waiting, key=lambda v: way * self._rank.get(v, 0))
        if self._dice.random() < 0.75:
            waiting.sort(
                key=lambda v: -int(self._model.penalty[v]) if v not in self._links else self._first_penalty(v)
            )
        self._blink = blink
        self._hoped = set(waiting)
        left: list[int] = []
        for attempt in (0, 1):
            later: list[int] = []
            for v in waiting:
                if v not in self._links:
                    done = self._insert_free(tours, clips, gains, v, put)
                else:
                    done = self._insert_linked(tours, clips, gains, v)
                self._hoped.discard(v)
                if not done:
                    later.append(v)
            waiting = sorted(later, key=lambda v: self._rank.get(v, 0))
            if not waiting or attempt:
                break
        left = waiting
        return left + self._orphans(tours, clips, gains)

    def _first_penalty(self, v: int) -> int:
        """Penalty of the dearest visit of the job, so that what must come before a dear visit comes in time."""
        return -max([int(self._model.penalty[v]), *(int(self._model.penalty[u]) for u, *_ in self._links[v])])

    def _insert_free(self, tours: list[Tour], clips: dict[int, Clip], gains: np.ndarray, v: int, put: Put) -> bool:
        rows = self._model.options_of[v]
        if not rows:
            return False
        price = self._seen(gains[:, rows])
        flat = int(price.argmin())
        s, o = flat // len(rows), rows[flat % len(rows)]
        if price.flat[flat] >= min(IMPOSSIBLE / 4, float(self._model.penalty[v])):
            return False
        return put(tours, gains, s, o, clips, None)

    def _seen(self, price: np.ndarray) -> np.ndarray:
        """The prices, with a few shifts overlooked in rounds that are to come out differently."""
        if not self._blink:
            return price
        return price + (self._dice.random(len(price)) < self._blink)[:, None] * (IMPOSSIBLE / 4)

    def _placed(self, tours: list[Tour], visits: set[int]) -> dict[int, tuple[int, int, Clip]]:
        """Visit -> shift, option and range of starts, for those of `visits` that stand in a tour."""
        found: dict[int, tuple[int, int, Clip]] = {}
        for s, tour in enumerate(tours):
            if any(self._visit_of[o] in visits for o in tour.seq):
                for o, span in start_ranges(tour).items():
                    if self._visit_of[o] in visits:
                        found[self._visit_of[o]] = (s, o, span)
        return found

    def _reach(self, v: int, placed: dict[int, tuple[int, int, Clip]]) -> Clip | None:
        """Starts of `v` for which every placed partner still has a start of its own; None when a visit that must
        come before stands nowhere and has been tried."""
        low, high = -FAR_S, FAR_S
        for u, other_after, gap_min, gap_max in self._links[v]:
            if u not in placed:
                if not other_after and u not in self._hoped:
                    return None
                continue
            a, b = placed[u][2]
            if other_after:
                high = min(high, b - gap_min - self._duration[v])
                low = max(low, a - gap_max - self._duration[v])
            else:
                low = max(low, a + self._duration[u] + gap_min)
                high = min(high, b + self._duration[u] + gap_max)
        return (low, high)

    def _insert_linked(self, tours: list[Tour], clips: dict[int, Clip], gains: np.ndarray, v: int) -> bool:
        partners = {u for u, *_ in self._links[v]}
        placed = self._placed(tours, partners)
        reach = self._reach(v, placed)
        if reach is None or reach[0] > reach[1]:
            return False
        best = self._cheapest(tours, gains, v, reach)
        if best is None:
            return False
        _, s, o, at = best
        old_tours, old_clips = list(tours), dict(clips)
        longer = self._with_clip(tours[s], s, o, at, clips, v, reach)
        if longer is not None:
            tours[s] = longer
            if self._bind(v, tours, clips):
                for shift_no, tour in enumerate(tours):
                    if tour is not old_tours[shift_no]:
                        gains[shift_no] = tour.gain
                return True
        tours[:] = old_tours
        clips.clear()
        clips.update(old_clips)
        return False

    def _cheapest(
        self, tours: list[Tour], gains: np.ndarray, v: int, reach: Clip
    ) -> tuple[float, int, int, int] | None:
        """Cheapest insertion with starts cut to `reach`: cost, shift, option, position. Uncut costs are lower
        bounds, so that only few need be priced again."""
        rows = self._model.options_of[v]
        if not rows:
            return None
        price = self._seen(gains[:, rows])
        best: tuple[float, int, int, int] | None = None
        most = min(IMPOSSIBLE / 4, float(self._model.penalty[v]))
        for flat in np.argsort(price, axis=None, kind="stable").tolist():
            s, o = flat // len(rows), rows[flat % len(rows)]
            if price[s, flat % len(rows)] >= most:
                break
            gain, at = self._book.clipped_gain(tours[s], o, reach)
            if gain < most:
                most, best = gain, (gain, s, o, at)
        return best

    def _with_clip(
        self, tour: Tour, s: int, o: int, at: int, clips: dict[int, Clip], v: int, reach: Clip
    ) -> Tour | None:
        clips[v] = reach
        return self._book.tour(s, (*tour.seq[:at], o, *tour.seq[at:]), clips)

    def _bind(self, v: int, tours: list[Tour], clips: dict[int, Clip]) -> bool:
        """Choose boxes for `v` and its placed partners, and run their tours again; False when one breaks."""
        partners = {u for u, *_ in self._links[v]}
        placed = self._placed(tours, partners | {v})
        reach = self._reach(v, {u: p for u, p in placed.items() if u != v})
        if v not in placed or reach is None:
            return False
        first, last = placed[v][2]
        first, last = max(first, reach[0]), min(last, reach[1])
        if first > last:
            return False
        start = last if self._turn % 5 == 0 else first
        low, high = start, last
        for u, other_after, gap_min, gap_max in self._links[v]:
            if u not in placed:
                continue
            a, b = placed[u][2]
            if other_after:
                a, b = max(a, start + self._duration[v] + gap_min), min(b, start + self._duration[v] + gap_max)
                high = min(high, a - gap_min - self._duration[v])
            else:
                a = max(a, start - gap_max - self._duration[u])
                b = min(b, start - gap_min - self._duration[u])
                high = min(high, a + self._duration[u] + gap_max)
            if a > b:
                return False
            clips[u] = (a, b)
        if high < low:
            return False
        # alone, the visit keeps all its windows: a box would only hinder visits put beside it later
        clips[v] = (low, high) if len(placed) > 1 else (-FAR_S, FAR_S)
        for s in {placed[u][0] for u in placed}:
            again = self._book.tour(s, tours[s].seq, clips)
            if again is None:
                return False
            tours[s] = again
        return True

    def _drop(self, tours: list[Tour], clips: dict[int, Clip], s: int, o: int) -> bool:
        clips.pop(self._visit_of[o], None)
        shorter = self._book.tour(s, tuple(x for x in tours[s].seq if x != o), clips)
        if shorter is None:
            return False
        tours[s] = shorter
        return True

    def _orphans(self, tours: list[Tour], clips: dict[int, Clip], gains: np.ndarray | None) -> list[int]:
        """Take out visits whose earlier visit stands nowhere, until none is left."""
        out: list[int] = []
        again = True
        while again:
            again = False
            present = {self._visit_of[o] for tour in tours for o in tour.seq}
            for s, tour in enumerate(tours):
                for o in tour.seq:
                    v = self._visit_of[o]
                    if any(not after and u not in present for u, after, _, _ in self._links.get(v, ())):
                        if not self._drop(tours, clips, s, o):
                            empty = self._book.tour(s, ())
                            assert empty is not None
                            out += [self._visit_of[x] for x in tours[s].seq if x != o]
                            tours[s] = empty
                        out.append(v)
                        self.release([v], tours, clips, set())
                        if gains is not None:
                            for k, t in enumerate(tours):
                                gains[k] = t.gain
                        again = True
                        break
                if again:
                    break
        return list(dict.fromkeys(out))

    def settle(self, tours: list[Tour], clips: dict[int, Clip]) -> list[int]:
        """Give boxes to linked visits of tours made without regard to order; visits that break it are taken out."""
        out: list[int] = []
        for v in sorted(self._links, key=lambda v: self._rank[v]):
            partners = {u for u, *_ in self._links[v]}
            placed = self._placed(tours, partners | {v})
            if v not in placed:
                continue
            befores = {u for u, after, _, _ in self._links[v] if not after}
            later = {u for u, after, _, _ in self._links[v] if after}
            keep = dict(clips)
            if befores <= placed.keys() and self._settle_one(v, tours, clips, placed, later):
                continue
            clips.clear()
            clips.update(keep)
            s, o, _ = placed[v]
            if self._drop(tours, clips, s, o):
                out.append(v)
        return out + self._orphans(tours, clips, None)

    def _settle_one(
        self,
        v: int,
        tours: list[Tour],
        clips: dict[int, Clip],
        placed: dict[int, tuple[int, int, Clip]],
        later: set[int],
    ) -> bool:
        """Bind `v` to its earlier visits only; the later ones are bound in their own turn."""
        before = list(tours)
        links = self._links[v]
        self._links[v] = [link for link in links if link[0] not in later]
        done = not self._links[v] or self._bind(v, tours, clips)
        self._links[v] = links
        if not done:
            tours[:] = before
        return done
