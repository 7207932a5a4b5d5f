"""Does a crew have what a visit needs, on each of its days, of the items that may go out then?

A crew reaches what it or its people hold, what lies at the yard, and what the trucks of its own yard hold that
have no visit that day (common practice, no source). A spare serves one crew a day.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q
from django.utils import timezone

from crews.equipment.away import Holding, Need, lost_visits
from crews.equipment.custody import Where
from crews.equipment.fit import HEARD_BY_RECEIVER, Piece, misfits
from crews.models import Crew, Equipment, EquipmentKind, Visit
from crews.register.availability import NEEDED, Availability, availability_over, days_of
from crews.words import day_words

NAMED = 3  # items named in a refusal
THIS = 0  # stands for the visit asked about; no row has this key
PRESENT = (str(Where.YARD), str(Where.CREW), str(Where.PERSON))
AWAY = (str(Where.REPAIR), str(Where.LOST), str(Where.STOLEN))
KIND_WORDS = {str(kind): words.lower() for kind, words in EquipmentKind.choices}


@dataclass(frozen=True, slots=True)
class Lack:
    """A kind of which the crew has none for a day, and why each item that comes to mind does not serve."""

    kind: str
    day: date
    words: str


@dataclass(frozen=True, slots=True)
class _Reach:
    """Items within reach of anybody who has a visit on the days, and whose each of them is."""

    items: Sequence[Equipment]
    able: Mapping[int, Mapping[date, Availability]]
    lent: frozenset[int]  # crews whose trucks stand at the asking crew's yard and have no visit

    def crew_of(self, item: Equipment) -> int | None:
        """Whose it is for a day; None: a spare."""
        holder = item.person.crew_id if item.person is not None else item.crew_id
        return None if holder in self.lent else holder

    def holdings(self, on: date) -> list[Holding]:
        """What may go out that day."""
        good = [item for item in self.items if self.able[item.pk][on].available]
        return [Holding(item.kind, self.crew_of(item)) for item in good]


def kinds_needed(visit: Visit) -> tuple[str, ...]:
    """What was asked for with the visit, else the usual of its kind. Load `wanted` with the visit."""
    wanted = getattr(visit, "wanted", None)
    return tuple(wanted.kit) if wanted is not None and wanted.kit else NEEDED.get(visit.kind, ())


def lacks_of(visit: Visit, kinds: Sequence[str], *, leaving_out: Collection[int] = ()) -> tuple[Lack, ...]:
    """What the visit would lack, or take from another visit of the same day. A kind of which the register
    holds nothing at all is not judged: nobody keeps it there. `leaving_out` are visits that move away."""
    if not kinds:
        return ()
    days = days_of(visit.starts_at, visit.ends_at, visit.crew.time_zone)
    others = _others(visit, days, leaving_out)
    reach = _reach(visit.crew, kinds, others, days)
    found = []
    for on in days:
        needs = [Need(v.pk, 0, v.crew_id, kinds_needed(v)) for v in others if on in _days(v)]
        for kind in dict.fromkeys(kinds):
            mine = Need(THIS, 0, visit.crew_id, tuple(k for k in kinds if k == kind))
            holdings = reach.holdings(on)
            before = lost_visits((), {}, needs, holdings)
            if lost_visits((), {}, [*needs, mine], holdings) - before and _is_kept(kind):
                found.append(Lack(kind, on, _why(visit.crew, kind, on, reach)))
    return tuple(found)


def kit_of_day(crew: Crew, on: date, visits: Iterable[Visit]) -> dict[int, tuple[str, ...]]:
    """By visit of the crew's day, what to mind about what it needs: a lack, what to take along from the yard,
    what does not fit together. Nothing for a visit that needs nothing; as many queries however many visits."""
    wanted = {visit.pk: kinds_needed(visit) for visit in visits}
    kinds = sorted({kind for needed in wanted.values() for kind in needed})
    if not kinds:
        return {}
    asked = Visit(crew=crew)
    others = [other for other in _others(asked, [on], ()) if kinds_needed(other)]
    reach = _reach(crew, kinds, others, [on])
    needs = [Need(v.pk, 0, v.crew_id, kinds_needed(v)) for v in others]
    lost = {kind: lost_visits((), {}, _of_kind(needs, kind), reach.holdings(on)) for kind in kinds}
    kept = {kind for kind in kinds if any(i.kind == kind for i in reach.items) or _is_kept(kind)}
    said = {kind: _day_words(crew, kind, on, reach, kind in kept) for kind in kinds}
    found = {}
    for pk, needed in wanted.items():
        words = [said[kind][pk in lost[kind]] for kind in dict.fromkeys(needed)]
        found[pk] = tuple(one for one in (*words, *_misfits(crew, needed, on, reach)) if one)
    return found


def _of_kind(needs: Iterable[Need], kind: str) -> list[Need]:
    return [Need(n.visit_id, n.day, n.crew_id, tuple(k for k in n.kinds if k == kind)) for n in needs]


def _day_words(crew: Crew, kind: str, on: date, reach: _Reach, is_kept: bool) -> tuple[str, str]:
    """What to say of a kind when the crew has one for the day, and when it has none."""
    name = KIND_WORDS.get(kind, kind)
    if not is_kept:
        unknown = f"No {name} is in the register: nobody knows whether the one you take may be trusted."
        return unknown, unknown
    good = [i for i in reach.items if i.kind == kind and reach.able[i.pk][on].available]
    own = any(reach.crew_of(item) == crew.pk for item in good)
    spares = [f"{item}, {_where(item)}" for item in good if reach.crew_of(item) is None]
    take = "" if own or not spares else f"Take along a {name}: {' or '.join(spares[:NAMED])}."
    return take, _why(crew, kind, on, reach)


def _where(item: Equipment) -> str:
    if item.place == Where.YARD:
        return f"at the yard, {item.spot}" if item.spot else "at the yard"
    return f"with {item.place_words}"


def _misfits(crew: Crew, needed: Sequence[str], on: date, reach: _Reach) -> tuple[str, ...]:
    """Of what the crew itself may take out, whether a receiver hears the rest."""
    good = [i for i in reach.items if reach.able[i.pk][on].available and reach.crew_of(i) == crew.pk]
    pieces = [Piece(i.name, i.kind, frozenset(i.frequencies_hz), i.voltage_class) for i in good if i.kind in needed]
    if not any(piece.kind == "receiver" for piece in pieces):
        return ()
    heard = [p for p in pieces if p.kind in HEARD_BY_RECEIVER]
    wrong = {piece: misfits([piece, *(p for p in pieces if p.kind == "receiver")]) for piece in heard}
    fits = {piece.kind for piece, words in wrong.items() if not words}
    return tuple(word for piece, words in wrong.items() if piece.kind not in fits for word in words)


def _days(visit: Visit) -> list[date]:
    return days_of(visit.starts_at, visit.ends_at, visit.crew.time_zone)


def _others(visit: Visit, days: Sequence[date], leaving_out: Collection[int]) -> list[Visit]:
    """Visits that touch the days, whatever their crew's zone."""
    zone, slack = timezone.get_default_timezone(), timedelta(days=1)
    start = datetime.combine(days[0], time.min, zone) - slack
    end = datetime.combine(days[-1], time.min, zone) + 2 * slack
    found = Visit.objects.filter(cancelled_at=None, starts_at__lt=end, ends_at__gt=start)
    rows = found.exclude(pk=visit.pk).exclude(pk__in=leaving_out).select_related("crew", "wanted").order_by("id")
    return [other for other in rows if set(_days(other)) & set(days)]


def _reach(crew: Crew, kinds: Sequence[str], others: Iterable[Visit], days: Sequence[date]) -> _Reach:
    busy = {other.crew_id for other in others}
    same_yard = Crew.objects.filter(
        active=True, yard_latitude=crew.yard_latitude, yard_longitude=crew.yard_longitude
    ).exclude(pk__in={*busy, crew.pk})
    lent = frozenset(same_yard.values_list("pk", flat=True))
    near = {*busy, *lent, crew.pk}
    held = Q(place=Where.YARD) | Q(crew__in=near) | Q(person__crew__in=near)
    rows = Equipment.objects.filter(held, kind__in=set(kinds), place__in=PRESENT).select_related("person")
    items = list(rows.select_related("crew").order_by("name", "id"))
    return _Reach(items, availability_over(items, days), lent)


def _is_kept(kind: str) -> bool:
    return Equipment.objects.filter(kind=kind).exclude(place=Where.RETIRED).exists()


def _why(crew: Crew, kind: str, on: date, reach: _Reach) -> str:
    """In sentences: the crew's own first, then the yard's, then what is away."""
    name = KIND_WORDS.get(kind, kind)
    near = [item for item in reach.items if item.kind == kind and reach.crew_of(item) in {crew.pk, None}]
    near.sort(key=lambda item: reach.crew_of(item) is None)
    unfit = [item for item in near if not reach.able[item.pk][on].available]
    said = [f"{item}: {reach.able[item.pk][on].why}" for item in unfit[:NAMED]]
    if len(unfit) > NAMED:
        said.append(f"And {len(unfit) - NAMED} more.")
    if len(unfit) < len(near):
        said.append("What is good at the yard goes out with another crew that day.")
    elif not near:
        said.append(f"It holds none and none lies at the yard. {_elsewhere(kind)}".strip())
    return f"{crew.name} has no {name} that may go out on {day_words(on)}. {' '.join(said)}"


def _elsewhere(kind: str) -> str:
    away = Equipment.objects.filter(kind=kind, place__in=AWAY).order_by("name", "id")[:NAMED]
    if away:
        return " ".join(f"{item}: {item.place_words}." for item in away)
    held = Equipment.objects.filter(kind=kind, place__in=PRESENT).select_related("crew", "person").order_by("name")
    return " ".join(f"{item} is with {item.place_words}." for item in held[:NAMED])
