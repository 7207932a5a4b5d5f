"""Visits that due days hit, and the proposed days, from rows."""

from __future__ import annotations

import random
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from itertools import product
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from crews.models import Crew, Equipment, Override, Visit, WantedVisit
from crews.register.availability import NEEDED, availability_over
from crews.register.away import away_plan
from tests.crews.factories import CrewFactory, EquipmentFactory, PersonFactory, VisitFactory
from tests.crews.office import make_job

pytestmark = pytest.mark.django_db
TODAY = date(2026, 9, 16)


@pytest.fixture
def crew() -> Crew:
    crew = CrewFactory()
    EquipmentFactory(kind="transmitter", crew=crew, calibration_due_on=date(2027, 9, 1))
    return crew


def visit(crew: Crew, day: int, kind: str = "private_locate") -> Visit:
    return VisitFactory(job=make_job(), crew=crew, kind=kind, starts_at=datetime(2026, 9, day, 13, tzinfo=UTC))


def test_a_visit_on_the_due_day_itself_is_hit(crew: Crew) -> None:
    EquipmentFactory(crew=crew, calibration_due_on=date(2026, 9, 22))
    for day in (21, 22, 23):
        visit(crew, day)
    hits = away_plan(TODAY).hits
    assert [(hit.visit.starts_at.day, hit.kinds) for hit in hits] == [(22, ("receiver",)), (23, ("receiver",))]


def test_a_spare_at_the_yard_saves_the_visit(crew: Crew) -> None:
    EquipmentFactory(crew=crew, calibration_due_on=date(2026, 9, 22))
    EquipmentFactory(calibration_due_on=date(2027, 1, 1))
    visit(crew, 23)
    plan = away_plan(TODAY)
    assert (plan.hits, plan.lost) == ((), ())


def test_it_is_sent_between_the_visits(crew: Crew) -> None:
    item = EquipmentFactory(crew=crew, calibration_due_on=date(2026, 9, 28))
    for day in (17, 18, 24, 25):
        visit(crew, day)
    plan = away_plan(TODAY, away_days=5)
    sending = plan.sendings[0]
    # Leaving on Mon 21 Sep for five days loses the 24th and 25th, on the 28th nothing: it is back late, but
    # no visit follows. On the 28th it may not go out any more anyway.
    assert (sending.item, sending.leave_on, sending.lost) == (item, date(2026, 9, 28), ())
    visit(crew, 29)
    visit(crew, 30)
    plan = away_plan(TODAY, away_days=2)
    assert (plan.sendings[0].leave_on, plan.lost) == (date(2026, 9, 22), ())
    assert plan.proven


def test_what_is_overdue_goes_at_once_and_its_visits_are_hit(crew: Crew) -> None:
    item = EquipmentFactory(crew=crew, calibration_due_on=date(2026, 9, 10))
    first, late = visit(crew, 18), visit(crew, 24)
    plan = away_plan(TODAY, away_days=5)
    assert [(hit.visit, hit.kinds) for hit in plan.hits] == [(first, ("receiver",)), (late, ("receiver",))]
    # Thursday the 17th is the first working day; it is back by the 22nd, so that the 24th is saved.
    assert [(one.item, one.leave_on, one.lost) for one in plan.sendings] == [(item, date(2026, 9, 17), (first,))]
    assert plan.lost == (first,)


def test_the_owners_word_keeps_a_visit_and_the_item_until_it_ends(crew: Crew) -> None:
    item = EquipmentFactory(crew=crew, calibration_due_on=date(2026, 9, 21))
    kept, after = visit(crew, 23), visit(crew, 25)
    Override.objects.create(
        item=item,
        from_on=date(2026, 9, 21),
        to_on=date(2026, 9, 23),
        reason="Bench is full",
        by=PersonFactory(owner=True),
        at=datetime(2026, 9, 16, 14, tzinfo=UTC),
    )
    plan = away_plan(TODAY, away_days=1)
    assert [hit.visit for hit in plan.hits] == [after]
    assert (plan.sendings[0].leave_on, plan.lost) == (date(2026, 9, 24), ())
    assert kept not in plan.sendings[0].lost


def test_the_kit_that_was_asked_for_governs(crew: Crew) -> None:
    EquipmentFactory(kind="sonde", crew=crew, calibration_due_on=None, out_of_service_reason="Cracked")
    one = visit(crew, 23, "dig")
    asked = {"asked_by": PersonFactory(), "asked_at": datetime(2026, 9, 16, 14, tzinfo=UTC)}
    WantedVisit.objects.create(job=one.job, kind="dig", minutes=60, kit=["sonde"], visit=one, **asked)
    assert [(hit.visit, hit.kind_words) for hit in away_plan(TODAY).hits] == [(one, ("sonde",))]


@pytest.mark.parametrize(
    "given",
    [
        {"calibration_due_on": None},
        {"calibration_due_on": TODAY + timedelta(days=59)},
        {"calibration_due_on": TODAY + timedelta(days=60)},
        {"calibration_due_on": TODAY + timedelta(days=61)},
        {"calibration_due_on": date(2027, 9, 1), "care_unknown": "Inspection"},
        {"calibration_due_on": date(2027, 9, 1), "out_of_service_reason": "Dropped"},
        {"calibration_due_on": date(2027, 9, 1), "due_on": TODAY + timedelta(days=59)},
        {"kind": "camera_reel"},
        {"kind": "camera_reel", "due_on": TODAY + timedelta(days=59)},
        {"kind": "camera_reel", "care_unknown": "Inspection"},
    ],
)
@pytest.mark.parametrize("at_yard", [False, True])
def test_it_agrees_with_the_item_by_itself(crew: Crew, given: dict[str, Any], at_yard: bool) -> None:
    """Whether an item is counted with others alike or looked at by itself, the last day is judged the same."""
    item = EquipmentFactory(crew=None if at_yard else crew, **given)
    last = datetime(2026, 9, 16, 13, tzinfo=UTC) + timedelta(days=59)
    job = make_job()
    for kind in ("private_locate", "camera"):
        VisitFactory(job=job, crew=crew, kind=kind, starts_at=last)
    good = availability_over([item], [last.date()])[item.pk][last.date()].available
    lacking = {kind for hit in away_plan(TODAY).hits for kind in hit.kinds}
    assert lacking == {"receiver", "camera_reel"} - ({item.kind} if good else set())


@pytest.mark.parametrize("seed", range(8))
def test_no_other_days_cost_fewer_of_the_real_visits(seed: int) -> None:
    """Every choice of working days tried, the loss counted from the rows alone."""
    draw = random.Random(seed)
    crews = [CrewFactory(time_zone=zone) for zone in ("America/New_York", "America/Los_Angeles")]
    for number, kind in enumerate(("receiver", "transmitter", draw.choice(("receiver", "transmitter")))):
        EquipmentFactory(
            kind=kind,
            crew=draw.choice([crews[0], crews[0], crews[1], None]),
            calibration_due_on=TODAY + timedelta(days=draw.randrange(3, 12)),
            name=f"Due {number}",
        )
    for holder in (*crews, None):
        kind = draw.choice(("receiver", "transmitter"))
        EquipmentFactory(kind=kind, crew=holder, calibration_due_on=date(2027, 9, 1))
    job = make_job()
    for _ in range(12):
        at = datetime(2026, 9, 17, draw.choice((3, 13, 20)), tzinfo=UTC) + timedelta(days=draw.randrange(14))
        VisitFactory(job=job, crew=draw.choice(crews), kind="private_locate", starts_at=at)
    plan = away_plan(TODAY, away_days=4)
    items = list(Equipment.objects.order_by("pk"))
    due = [item for item in items if item.name.startswith("Due")]
    days = [TODAY + timedelta(days=n) for n in range(61)]
    able = availability_over(items, days)

    good = {pk: {day: one.available for day, one in by_day.items()} for pk, by_day in able.items()}
    visits = list(Visit.objects.select_related("crew"))

    def cost(leave: dict[int, date]) -> int:
        return len(_lost(visits, items, leave, good))

    choices = [[d for d in days if TODAY < d <= item.due_on and d.weekday() < 5] for item in due]
    fewest = min(cost({i.pk: d for i, d in zip(due, chosen, strict=True)}) for chosen in product(*choices))
    proposed = {one.item.pk: one.leave_on for one in plan.sendings}
    assert set(proposed) == {item.pk for item in due}
    assert plan.proven
    assert cost(proposed) == fewest


def _lost(
    visits: list[Visit], items: list[Equipment], leave: dict[int, date], good: dict[int, dict[date, bool]]
) -> set[int]:
    """The visits without what they need, item by item."""
    lost = set()
    by_day: dict[date, list[Visit]] = {}
    for one in visits:
        by_day.setdefault(one.starts_at.astimezone(ZoneInfo(one.crew.time_zone)).date(), []).append(one)
    for day, there in by_day.items():
        hand: Counter[tuple[str, int | None]] = Counter()
        for item in items:
            start = leave.get(item.pk)
            away = start is not None and start <= day < start + timedelta(days=4)
            back = start is not None and day >= start + timedelta(days=4)
            if back or (not away and good[item.pk][day]):
                hand[item.kind, item.crew_id] += 1
        for kind in NEEDED["private_locate"]:
            spares = hand[kind, None]
            counted = Counter(one.crew_id for one in there)
            for crew_id, _ in sorted(counted.items(), key=lambda pair: (-pair[1], pair[0])):
                if hand[kind, crew_id]:
                    continue
                if spares:
                    spares -= 1
                else:
                    lost |= {one.pk for one in there if one.crew_id == crew_id}
    return lost


def test_constant_in_queries(crew: Crew, django_assert_max_num_queries) -> None:
    for _ in range(6):
        EquipmentFactory(crew=crew, calibration_due_on=date(2026, 9, 25))
        visit(crew, 24)
    with django_assert_max_num_queries(5):
        away_plan(TODAY)
