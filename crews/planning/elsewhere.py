"""Why a visit stands where it stands: what it would cost on every other shift, in words. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from .limits import Limits
from .model import Model
from .plan import Plan, PlannedTour, StopKind
from .problem import Problem, Shift
from .sharing import pieces_used, truck_days
from .state import EVERY_CALL, tour_of
from .travel import Travel
from .ways import WayBook


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """What it would cost to have a visit on a shift: `extra_cost` against where it is; None where it cannot be."""

    shift_id: str
    extra_cost: int | None
    words: str


def why_here(problem: Problem, travel: Travel, plan: Plan, visit_id: str) -> tuple[Elsewhere, ...]:
    """For each shift, cheapest first, what planning the visit there would cost, everything else left as it is."""
    model = Model(problem, travel)
    model = Model(problem, travel, _pieces_left(model, plan, visit_id), model)
    book = WayBook(model, EVERY_CALL)
    v = model.visit_no[visit_id]
    sequences = _sequences(model, plan, without=visit_id)
    home = next((t.shift_id for t in plan.tours if visit_id in t.visit_ids), None)
    gains = {s: _gain(model, book, s, tuple(seq), v) for s, seq in enumerate(sequences)}
    base = (gains[model.shift_no[home]] or 0) if home is not None else 0
    out = [_elsewhere(model, v, shift, gains[s], base, shift.id == home) for s, shift in enumerate(model.shifts)]
    return tuple(sorted(out, key=lambda e: (e.extra_cost is None, e.extra_cost or 0, e.shift_id)))


def _pieces_left(model: Model, plan: Plan, without: str) -> Limits:
    """What the other pieces of a day leave each shift of the truck's parts."""
    days = truck_days(model)
    tours = {model.shift_no[tour.shift_id]: tour for tour in plan.tours} if days else {}
    used = {s: pieces_used(model, s, _stops(model, tours.get(s), without)) for shifts in days for s in shifts}
    left: dict[tuple[int, int], int] = {}
    for shifts in days:
        for s in shifts:
            rest = model.day_stock[s] - sum(used[other] for other in shifts if other != s)
            left |= {(s, kind): max(0, int(count)) for kind, count in enumerate(rest)}
    return Limits(pieces=left)


def _stops(model: Model, tour: PlannedTour | None, without: str) -> Iterable[int | None]:
    for stop in () if tour is None else tour.stops:
        if stop.kind is StopKind.YARD_CALL:
            yield None
        elif stop.visit_id is not None and stop.visit_id != without:
            yield model.visit_no[stop.visit_id]


def _gain(model: Model, book: WayBook, s: int, seq: tuple[int, ...], v: int) -> int | None:
    """Least cost of putting visit `v` into a tour; None when the tour cannot take it. Places are tried by what they
    cost at least, without breaks and a call at the yard, until no other can be cheaper."""
    shift = model.shifts[s]
    rows = [
        o
        for o in model.options_of[v]
        if model.options[o].earliest_s <= shift.last_s and model.options[o].latest_s >= shift.start_s
    ]
    if not model.allowed[s, v] or not rows:
        return None
    plain, without = book.plain(s, seq), tour_of(model, book, s, seq)
    if plain is None or without is None:
        return None
    extra = sum(model.options[o].cost + int(model.moved[s, model.options[o].visit]) for o in seq)
    best: int | None = None
    for least, o, k in sorted(
        (cost + extra + model.options[o].cost + int(model.moved[s, v]), o, k)
        for o in rows
        for k in range(len(seq) + 1)
        if (cost := book.with_stop(s, plain, k, o)) is not None
    ):
        if best is not None and least >= best:
            break
        tour = tour_of(model, book, s, (*seq[:k], o, *seq[k:]))
        if tour is not None and (best is None or tour.cost < best):
            best = tour.cost
    return None if best is None else best - without.cost


def _elsewhere(model: Model, v: int, shift: Shift, gain: int | None, base: int, home: bool) -> Elsewhere:
    s, visit = model.shift_no[shift.id], model.visits[v]
    if home:
        return Elsewhere(shift.id, 0, "It stands here.")
    if gain is not None:
        extra = gain - base
        words = "costs the same" if extra == 0 else f"costs {abs(extra)} {'more' if extra > 0 else 'less'}"
        return Elsewhere(shift.id, extra, f"Possible; {words}, order between visits not counted.")
    if not visit.skills <= model.crew[shift.crew_id].skills:
        lacking = ", ".join(sorted(visit.skills - model.crew[shift.crew_id].skills))
        return Elsewhere(shift.id, None, f"The crew lacks {lacking}.")
    if not model.allowed[s, v]:
        return Elsewhere(
            shift.id, None, "Its kit is neither on the truck nor at the yard, or it is pinned elsewhere."
        )
    spans = [model.options[o] for o in model.options_of[v]]
    if not any(o.earliest_s <= shift.last_s and o.latest_s >= shift.start_s for o in spans):
        return Elsewhere(shift.id, None, "No lawful window is open on this shift.")
    return Elsewhere(shift.id, None, "Too little time beside what is planned there.")


def _sequences(model: Model, plan: Plan, without: str) -> list[list[int]]:
    out: list[list[int]] = [[] for _ in model.shifts]
    for tour in plan.tours:
        s = model.shift_no[tour.shift_id]
        for stop in tour.stops:
            if stop.visit_id is None or stop.visit_id == without:
                continue
            fits: Sequence[int] = [
                o
                for o in model.options_of[model.visit_no[stop.visit_id]]
                if model.options[o].earliest_s <= stop.start_s <= model.options[o].latest_s
            ]
            if fits:
                out[s].append(min(fits, key=lambda o: model.options[o].cost))
    return out
