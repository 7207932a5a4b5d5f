"""What a crew carries on a day, and whether each item may go out then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef

from crews.equipment.care import DueState
from crews.equipment.fit import Piece, misfits
from crews.models import CareResult, CareState, Crew, Equipment
from crews.register.availability import Availability, availability
from crews.selectors import flag_of


@dataclass(frozen=True, slots=True)
class Check:
    """A check to be done before the day's use."""

    key: str
    title: str


@dataclass(frozen=True, slots=True)
class Held:
    """An item the crew holds. `flag` says what is wrong with it that day, empty when nothing is known to be;
    `may_go_out` is the answer, `word` on whose word it goes out in spite of its flag; `checks` are those before the
    day's use of which no result of that day is on record."""

    item: Equipment
    overdue: bool
    flag: str
    may_go_out: bool
    word: str = ""
    checks: tuple[Check, ...] = ()


def held_on(crew: Crew, on: date) -> Sequence[Held]:
    """What the crew holds, what is wrong first; three queries."""
    items = list(Equipment.objects.filter(crew=crew).select_related("kit", "own_kind").order_by("name", "id"))
    able, wrong, checks = availability(items, on), _kit_faults(items), _checks_to_do(items, on)
    held = [_held(item, on, able[item.pk], wrong.get(item.kit_id, ""), checks.get(item.pk, ())) for item in items]
    return sorted(held, key=lambda one: not one.flag)


def _held(item: Equipment, on: date, standing: Availability, misfit: str, checks: tuple[Check, ...]) -> Held:
    stop = "" if standing.available else standing.why
    flag = flag_of(item, on) or stop or misfit
    word = standing.why if standing.override is not None else ""
    return Held(item, item.is_overdue(on), word or flag, standing.available, word, checks)


def _checks_to_do(items: Sequence[Equipment], on: date) -> dict[int, tuple[Check, ...]]:
    """By item, the checks before each day's use that stop it and have no result of that day."""
    done = CareResult.objects.filter(item=OuterRef("item"), key=OuterRef("key"), done_on=on)
    open_ones = CareState.objects.filter(
        ~Exists(done), item__in=[item.pk for item in items], state=DueState.EACH_USE, stops=True
    )
    found: dict[int, tuple[Check, ...]] = {}
    for item_id, key, title in open_ones.order_by("item_id", "key").values_list("item_id", "key", "title"):
        found[item_id] = (*found.get(item_id, ()), Check(key, title))
    return found


def _kit_faults(items: Sequence[Equipment]) -> dict[int | None, str]:
    """By kit, what of it the crew holds does not fit together."""
    kits: dict[int | None, list[Piece]] = {}
    for item in items:
        if item.kit_id is not None:
            piece = Piece(item.name, item.kind, frozenset(item.frequencies_hz), item.voltage_class)
            kits.setdefault(item.kit_id, []).append(piece)
    return {kit: " ".join(misfits(pieces)) for kit, pieces in kits.items()}
