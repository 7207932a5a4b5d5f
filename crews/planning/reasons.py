"""Why a visit is left out, and why a re-plan moves one, in words a person understands. Pure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .kit import choose_items, is_fit
from .model import Model, lawful_starts, renewed_starts
from .plan import Plan, Unplanned
from .problem import KitNeed, Planned, Problem, Visit
from .serving import BoolArray
from .state import State
from .ways import WayBook


def unplanned_reasons(model: Model, state: State) -> tuple[Unplanned, ...]:
    """One reason for each visit left out, in the order of the problem's visits."""
    if not state.left:
        return ()
    left, book = set(state.left), WayBook(model, 3)
    return tuple(_reason(model, v, left, state, book) for v in range(len(model.visits)) if v in left)


def _reason(model: Model, v: int, left: set[int], state: State, book: WayBook) -> Unplanned:
    visit = model.visits[v]
    for test in (_no_shift, _no_skill, _no_kit, _no_window, _no_order):
        found = test(model, v, left)
        if found is not None:
            return Unplanned(visit.id, *found)
    return Unplanned(visit.id, *_no_room(model, v, state, book))


def _no_shift(model: Model, v: int, left: set[int]) -> tuple[str, str] | None:
    pin = model.visits[v].pin
    if not model.shifts:
        return "no_shift", "No crew works in the days planned."
    if pin is not None and pin.start_s is not None:
        visit = model.visits[v]
        if not lawful_starts(visit, model.horizon) and not renewed_starts(visit, model.horizon):
            return (
                "pin_unlawful",
                "It is pinned to a start at which the law does not allow the work; take the pin off.",
            )
    return None


def _able(model: Model, visit: Visit) -> list[int]:
    return [s for s, shift in enumerate(model.shifts) if visit.skills <= model.crew[shift.crew_id].skills]


def _no_skill(model: Model, v: int, left: set[int]) -> tuple[str, str] | None:
    visit = model.visits[v]
    if _able(model, visit):
        return None
    have = frozenset().union(*(model.crew[shift.crew_id].skills for shift in model.shifts))
    missing = sorted(visit.skills - have)
    if missing:
        return "no_skill", f"No crew on shift has the skill {', '.join(missing)}."
    return "no_skill", f"No one crew on shift has all of: {', '.join(sorted(visit.skills))}."


def _no_kit(model: Model, v: int, left: set[int]) -> tuple[str, str] | None:
    if model.options_of[v]:
        return None
    visit, skilled = model.visits[v], model.skilled[:, v]
    if visit.pin is not None and not skilled.any():
        return "pin_without_skill", f"It is pinned to shift {visit.pin.shift_id}, whose crew lacks a skill it needs."
    none_allowed = not model.allowed[:, v].any()
    able = skilled if none_allowed else skilled & _open_on(model, visit)
    for kind, count in visit.parts.items():
        k = model.part_kinds.index(kind) if kind in model.part_kinds else -1
        if k >= 0 and able.any() and not ((model.stock[:, k] >= count) | model.stocked[:, k])[able].any():
            return "no_parts", _parts_words(model, kind, count, np.flatnonzero(able).tolist())
    return ("no_kit", _kit_words(model, visit)) if none_allowed else None


def _open_on(model: Model, visit: Visit) -> BoolArray:
    """The shifts on which the law, or a renewal, lets the visit start."""
    windows = (*lawful_starts(visit, model.horizon), *renewed_starts(visit, model.horizon))
    spans = [(shift.start_s, shift.last_s) for shift in model.shifts]
    return np.array([any(w.earliest_s <= last and w.latest_s >= start for w in windows) for start, last in spans])


def _parts_words(model: Model, kind: str, count: int, able: list[int]) -> str:
    needs = f"It needs {count} piece{'' if count == 1 else 's'} of {kind}"
    if any(model.crew[model.shifts[s].crew_id].parts.get(kind, 0) >= count for s in able):
        return f"{needs}; what is on the trucks is used up by other visits of the day, and no yard keeps it."
    return f"{needs}; no truck has so many and no yard keeps them."


def _kit_words(model: Model, visit: Visit) -> str:
    for need in visit.kit:
        name = _need_words(need)
        items = [item for item in model.problem.kit if choose_items((_alone(need),), (item,)) is not None]
        if not items:
            return f"No crew and no yard has a {name}."
        if all(item.out_of_service for item in items):
            return f"Every {name} is out of service."
        if not any(is_fit(item, shift) for item in items for shift in model.shifts):
            return f"Every {name} in service is due for calibration, or not to go out, on the days planned."
    return (
        f"Its kit ({', '.join(_need_words(need) for need in visit.kit)}) is not together on one truck or at its "
        "yard on any shift: it is elsewhere, due for calibration, taken by another crew, or shares no frequency."
    )


def _alone(need: KitNeed) -> KitNeed:
    return KitNeed(need.kind, need.frequency_hz)


def _need_words(need: KitNeed) -> str:
    name = need.kind.replace("_", " ")
    return name if need.frequency_hz is None else f"{name} with {need.frequency_hz} Hz"


def _no_window(model: Model, v: int, left: set[int]) -> tuple[str, str] | None:
    if model.options_of[v]:
        return None
    visit = model.visits[v]
    if visit.expires_s is not None and visit.expires_s - visit.duration_s < model.horizon.earliest_s:
        return "expired", "Its ticket ends before the work could be done; renew the ticket."
    starts = lawful_starts(visit, model.horizon)
    if not starts:
        if visit.lawful and min(w.earliest_s for w in visit.lawful) > model.horizon.latest_s:
            return "not_open_yet", "Its lawful window opens after the last shift planned."
        return (
            "window_closed",
            "Its lawful window closes before any shift, or before the work would be done; renew the ticket.",
        )
    return "window_off_shift", "No crew that could do it works while its lawful window is open."


def _no_order(model: Model, v: int, left: set[int]) -> tuple[str, str] | None:
    for u, other_after, _, _ in model.links_of.get(v, ()):
        if not other_after and u in left:
            return "earlier_left_out", f"Visit {model.visits[u].id}, which must come before it, is left out."
    return None


def _no_room(model: Model, v: int, state: State, book: WayBook) -> tuple[str, str]:
    """On an empty shift it would fit, or not even there; or it is not time that it lacks: the parts are used up."""
    alone = [
        s
        for s in np.flatnonzero(model.allowed[:, v]).tolist()
        if any(book.ways(s, (o,)) for o in model.options_of[v])
    ]
    if not alone:
        return "too_far", "Too little time: with the drive there and back it fits no shift while its window is open."
    kind = next((k for k in range(len(model.part_kinds)) if all(_lacks(model, state, s, v, k) for s in alone)), None)
    if kind is not None:
        name = model.part_kinds[kind]
        return "no_parts", _parts_words(model, name, model.visits[v].parts[name], alone)
    return "no_room", "Too little time: every crew that could do it is full while its window is open."


def _lacks(model: Model, state: State, s: int, v: int, kind: int) -> bool:
    """Whether the shift's tour leaves too few pieces on its truck, and the yard keeps none."""
    needed = int(model.parts[v, kind])
    used = sum(int(model.parts[model.options[o].visit, kind]) for o in state.tours[s].seq)
    return needed > 0 and not model.stocked[s, kind] and used + needed > int(model.stock[s, kind])


@dataclass(frozen=True, slots=True)
class Moved:
    """A visit that a re-plan moved or dropped: where it stood, where it stands now (None: nowhere), and why."""

    visit_id: str
    was: Planned
    now: Planned | None
    words: str


def moved_visits(problem: Problem, plan: Plan) -> tuple[Moved, ...]:
    """What a plan moves against the plan in force, and why; a new start on the same shift counts as moved."""
    visits = {visit.id: visit for visit in problem.visits}
    now = {
        stop.visit_id: Planned(tour.shift_id, stop.start_s)
        for tour in plan.tours
        for stop in tour.stops
        if stop.visit_id is not None
    }
    left = {gone.visit_id: gone.words for gone in plan.unplanned}
    out = []
    for visit_id, was in problem.previous.items():
        visit, here = visits.get(visit_id), now.get(visit_id)
        if visit is not None and here != was:
            out.append(Moved(visit_id, was, here, left.get(visit_id) or _why_moved(problem, visit, was, here)))
    return tuple(out)


def _why_moved(problem: Problem, visit: Visit, was: Planned, here: Planned | None) -> str:
    shift = next((shift for shift in problem.shifts if shift.id == was.shift_id), None)
    if shift is None:
        return "The shift it stood on is no longer worked."
    crew = next(crew for crew in problem.crews if crew.id == shift.crew_id)
    if not visit.skills <= crew.skills:
        return "The crew it stood with lacks a skill it needs now."
    late = visit.expires_s is not None and was.start_s + visit.duration_s > visit.expires_s
    open_then = not visit.lawful or any(w.earliest_s <= was.start_s <= w.latest_s for w in visit.lawful)
    if late or not open_then:
        return "Its lawful window no longer allows the old start."
    if here is not None and here.shift_id == was.shift_id:
        return "It stays on its shift at another time, since the tour around it changed."
    return "It makes room for other work, or the kit it needs is elsewhere now."
