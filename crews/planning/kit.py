"""Which kit is where on a shift, and whether it serves a visit: calibration, service, frequencies, yard. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from .problem import Kit, KitNeed, Problem, Shift


@dataclass(frozen=True, slots=True)
class KitAtShift:
    """Items on the truck of a shift, and items that a call at the crew's yard could add."""

    truck: tuple[Kit, ...]
    yard: tuple[Kit, ...]


def is_fit(item: Kit, shift: Shift) -> bool:
    """Whether the item may be used throughout the shift: in service, not due before the shift's last instant, and
    the day none of its unfit ones."""
    due = item.fit_until_s is not None and item.fit_until_s < shift.last_s
    return not (item.out_of_service or due or shift.day in item.unfit_days)


def kit_at_shifts(problem: Problem) -> list[KitAtShift]:
    """What is on the truck and what lies at the crew's yard on each shift, unfit items left out."""
    yard_of = {crew.id: crew.yard_id for crew in problem.crews}
    working: dict[int, set[str]] = defaultdict(set)
    for shift in problem.shifts:
        working[shift.day].add(shift.crew_id)
    return [_kit_at(problem.kit, shift, yard_of, working[shift.day]) for shift in problem.shifts]


def kit_at_shift(problem: Problem, shift: Shift) -> KitAtShift:
    """As `kit_at_shifts`, of one shift alone."""
    yard_of = {crew.id: crew.yard_id for crew in problem.crews}
    working = {other.crew_id for other in problem.shifts if other.day == shift.day}
    return _kit_at(problem.kit, shift, yard_of, working)


def _kit_at(
    kit: Iterable[Kit], shift: Shift, yard_of: Mapping[str, str | None], working: Collection[str]
) -> KitAtShift:
    """An item of a crew that does not work that day lies at that crew's yard, where it may be moved."""
    home_yard = yard_of.get(shift.crew_id)
    truck, yard = [], []
    for item in kit:
        if not is_fit(item, shift):
            continue
        if item.crew_id == shift.crew_id:
            truck.append(item)
        elif (item.yard_id is not None and item.yard_id == home_yard) or (
            item.crew_id is not None
            and item.movable
            and item.crew_id not in working
            and yard_of.get(item.crew_id) == home_yard
        ):
            yard.append(item)
    return KitAtShift(tuple(truck), tuple(yard))


def choose_items(needs: Sequence[KitNeed], items: Iterable[Kit]) -> tuple[Kit, ...] | None:
    """One distinct item for each need, frequencies agreeing, earlier items preferred; None when there is none."""
    pool = tuple(items)
    chosen: dict[int, Kit] = {}

    def agrees(position: int) -> bool:
        need, item = needs[position], chosen[position]
        if need.frequency_hz is not None and need.frequency_hz not in item.frequencies_hz:
            return False
        for other, partner in chosen.items():
            if other == position:
                continue
            pair = need.common_frequency_with == needs[other].kind or needs[other].common_frequency_with == need.kind
            if pair and not item.frequencies_hz & partner.frequencies_hz:
                return False
        return True

    def fill(position: int) -> bool:
        if position == len(needs):
            return True
        for item in pool:
            if item.kind != needs[position].kind or item in chosen.values():
                continue
            chosen[position] = item
            if agrees(position) and fill(position + 1):
                return True
            del chosen[position]
        return False

    return tuple(chosen[k] for k in range(len(needs))) if fill(0) else None


def overlaps(first: Shift, second: Shift) -> bool:
    """Whether two shifts run at the same time, so that one item cannot serve both."""
    return first.start_s < second.last_s and second.start_s < first.last_s
