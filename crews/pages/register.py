"""The equipment register as the office reads it: what needs a look first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Case, Count, F, IntegerField, Q, QuerySet, Value, When

from crews.models import CALIBRATED, Equipment, Person
from crews.selectors import equipment_visible_to, flag_of

DUE_SOON_DAYS = 30
AT_THE_YARD = "yard"

OVERDUE, NO_DATE, DUE_SOON, OUT_OF_SERVICE, IN_ORDER = range(5)
# In the order of the register. A reader knows the words from here alone.
STANDINGS: tuple[tuple[int, str, str], ...] = (
    (OVERDUE, "overdue", "Overdue"),
    (NO_DATE, "no_date", "No date"),
    (DUE_SOON, "due_soon", f"Due within {DUE_SOON_DAYS} days"),
    (OUT_OF_SERVICE, "out_of_service", "Out of service"),
    (IN_ORDER, "in_order", "In order"),
)
STANDING = "standing"
_RANK_OF = {word: rank for rank, word, _ in STANDINGS}


@dataclass(frozen=True, slots=True)
class Tally:
    """How many items stand so."""

    word: str
    words: str
    count: int


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the register. `flag` says what is wrong, empty when nothing is known to be."""

    item: Equipment
    standing: str
    flag: str


def register(person: Person, on: date) -> QuerySet[Equipment]:
    """The items the person may see, each with its `standing` on that day; overdue first, then without a
    date though its kind is calibrated, then due soon, then the rest by due date."""
    soon = on + timedelta(days=DUE_SOON_DAYS)
    standing = Case(
        When(~Q(out_of_service_reason=""), then=Value(OUT_OF_SERVICE)),
        When(due_on__lt=on, then=Value(OVERDUE)),
        When(~Q(care_unknown="") | Q(calibration_due_on=None, kind__in=CALIBRATED), then=Value(NO_DATE)),
        When(due_on__lte=soon, then=Value(DUE_SOON)),
        default=Value(IN_ORDER),
        output_field=IntegerField(),
    )
    due = F("due_on").asc(nulls_last=True)
    return equipment_visible_to(person).annotate(**{STANDING: standing}).order_by(STANDING, due, "name", "id")


def narrowed(
    items: QuerySet[Equipment], *, text: str = "", kind: str = "", holder: str = "", standing: str = ""
) -> QuerySet[Equipment]:
    """Each filter that is not empty narrows; `holder` is a crew's key or AT_THE_YARD."""
    for word in text.split():
        items = items.filter(Q(name__icontains=word) | Q(serial__icontains=word) | Q(maker_words__icontains=word))
    if kind:
        items = items.filter(kind=kind)
    if holder == AT_THE_YARD:
        items = items.filter(place="yard")
    elif holder:
        items = items.filter(crew_id=int(holder))
    if standing:
        items = items.filter(**{STANDING: _RANK_OF[standing]})
    return items


def counts(items: QuerySet[Equipment]) -> tuple[Tally, ...]:
    """How many items stand how, every standing named; one query."""
    found = dict(items.order_by().values_list(STANDING).annotate(count=Count("id")))
    return tuple(Tally(word, words, found.get(rank, 0)) for rank, word, words in STANDINGS)


def row(item: Equipment, on: date) -> Row:
    """The line of an item that `register` has annotated."""
    rank: int = item.standing  # type: ignore[attr-defined]
    _, word, words = STANDINGS[rank]
    soon = f"{words}: {_in_days(item, on)}" if rank == DUE_SOON else ""
    return Row(item, word, flag_of(item, on) or soon)


def _in_days(item: Equipment, on: date) -> str:
    assert item.due_on is not None
    days = (item.due_on - on).days
    return "today is the last day" if days == 0 else f"{days} day{'' if days == 1 else 's'} left"
