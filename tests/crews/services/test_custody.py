"""Custody in the database: one place at a time, whatever is asked, and no way past the guards."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from crews import services
from crews.equipment.custody import CustodyError, Event, Place, Step, Where, place_at, replay
from crews.models import Crew, CustodyEvent, Equipment, Person
from tests.crews.factories import CrewFactory, PersonFactory
from tickets.services.refusals import BadInput, Conflict, Forbidden

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 9, 16, 14, tzinfo=UTC)


@pytest.fixture
def owner() -> Person:
    return PersonFactory(owner=True)


@pytest.fixture
def crew() -> Crew:
    return CrewFactory()


@pytest.fixture
def item(owner: Person) -> Equipment:
    return services.add_equipment(kind="receiver", name="Receiver A", serial="S-1", actor=owner, now=NOW)


def replayed(item: Equipment) -> list[Place]:
    events = [
        Event(row.at, Step(row.step), row.crew_id if row.step == "issued" else None, row.person_id, row.spot)
        for row in item.custody.order_by("sequence")
    ]
    return [stay.place for stay in replay(events)]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.sampled_from(list(Step)), st.sampled_from(["a", "b", "p", ""])), max_size=12))
def test_whatever_is_asked_the_row_is_what_the_events_replay_to(owner: Person, asked: list[tuple[Step, str]]) -> None:
    with transaction.atomic():
        crews = {name: CrewFactory() for name in "ab"}
        item = services.add_equipment(kind="sonde", name="S", serial="H-1", actor=owner, now=NOW)
        for number, (step, whom) in enumerate(asked, start=1):
            at = NOW + timedelta(minutes=number)
            try:
                item = services.move_item(
                    item=item,
                    step=step,
                    crew=crews.get(whom),
                    person=owner if whom == "p" else None,
                    actor=owner,
                    now=at,
                )
            except CustodyError:
                continue
            rows = list(item.custody.order_by("sequence"))
            assert [row.until for row in rows] == [*(row.at for row in rows[1:]), None]
            held = Equipment.objects.get(pk=item.pk)
            assert replayed(held)[-1] == Place(Where(held.place), held.crew_id, held.person_id, held.spot)
            stays = replay(
                Event(r.at, Step(r.step), r.crew_id if r.step == "issued" else None, r.person_id) for r in rows
            )
            assert place_at(stays, at) == stays[-1].place
        transaction.set_rollback(True)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(st.integers(0, 2), st.sampled_from(sorted(set(Step) - {Step.ENTERED})), st.sampled_from("abp")),
        max_size=14,
    ),
    st.randoms(use_true_random=False),
)
def test_whatever_order_the_items_events_come_in_the_database_ends_alike(
    owner: Person, asked: list[tuple[int, Step, str]], draw: random.Random
) -> None:
    """The same steps of three items, interleaved in two ways with each item's own order kept."""
    ends = []
    queues = [[step for step in asked if step[0] == number] for number in range(3)]
    shuffled = [step[0] for step in asked]
    draw.shuffle(shuffled)
    other = [queues[number].pop(0) for number in shuffled]
    for order in (asked, other):
        with transaction.atomic():
            crews = {name: CrewFactory(name=f"Crew {name}") for name in "ab"}
            items = [
                services.add_equipment(kind="sonde", name="S", serial=f"H-{n}", actor=owner, now=NOW)
                for n in range(3)
            ]
            for number, (which, step, whom) in enumerate(order, start=1):
                issue = step is Step.ISSUED
                holder = {"crew": crews.get(whom), "person": owner if whom == "p" else None} if issue else {}
                try:
                    services.move_item(
                        item=items[which], step=step, **holder, actor=owner, now=NOW + timedelta(minutes=number)
                    )
                except CustodyError:
                    continue
            held = [Equipment.objects.select_related("crew").get(pk=item.pk) for item in items]
            ends.append([(one.place, one.crew and one.crew.name, one.person_id) for one in held])
            open_stays = CustodyEvent.objects.filter(item__in=items, until=None)
            assert sorted(open_stays.values_list("item_id", flat=True)) == sorted(item.pk for item in items)
            transaction.set_rollback(True)
    assert ends[0] == ends[1]


def test_issue_confirm_return(item: Equipment, owner: Person, crew: Crew) -> None:
    member, stranger = PersonFactory(crew=crew), PersonFactory(crew=CrewFactory())
    item = services.move_item(item=item, step="issued", crew=crew, actor=owner, now=NOW)
    assert (item.crew, item.unconfirmed) == (crew, True)
    with pytest.raises(Forbidden):
        services.confirm_hand_over(item=item, actor=stranger, now=NOW)
    item = services.confirm_hand_over(item=item, actor=member, now=NOW)
    assert not item.unconfirmed
    assert CustodyEvent.objects.get(item=item, until=None).confirmed_by == member
    with pytest.raises(Conflict):
        services.confirm_hand_over(item=item, actor=member, now=NOW)
    item = services.move_item(item=item, step="returned", actor=member, now=NOW)
    assert item.place == Where.YARD


def test_a_return_of_what_was_never_issued_is_refused_plainly(item: Equipment, owner: Person) -> None:
    with pytest.raises(CustodyError, match="it was not issued"):
        services.move_item(item=item, step="returned", actor=owner, now=NOW)
    with pytest.raises(BadInput, match="is not a step"):
        services.move_item(item=item, step="eaten", actor=owner, now=NOW)


def test_a_crew_takes_from_the_yard_and_gives_back_and_no_more(item: Equipment, owner: Person, crew: Crew) -> None:
    member = PersonFactory(crew=crew)
    with pytest.raises(Forbidden):
        services.move_item(item=item, step="issued", crew=CrewFactory(), actor=member, now=NOW)
    with pytest.raises(Forbidden):
        services.move_item(item=item, step="retired", actor=member, now=NOW)
    item = services.move_item(item=item, step="issued", crew=crew, actor=member, now=NOW)
    assert not item.unconfirmed  # who takes it has it in the hand
    other = PersonFactory(crew=CrewFactory())
    with pytest.raises(Forbidden):
        services.move_item(item=item, step="returned", actor=other, now=NOW)


def test_the_database_refuses_two_places(item: Equipment, owner: Person, crew: Crew) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Equipment.objects.filter(pk=item.pk).update(crew=crew)  # at the yard and with a crew
    with pytest.raises(IntegrityError), transaction.atomic():
        Equipment.objects.filter(pk=item.pk).update(place="crew")
    with pytest.raises(IntegrityError), transaction.atomic():  # a second open stay
        CustodyEvent.objects.create(item=item, sequence=2, step="lost", at=NOW, place="lost", by=owner)


def test_the_database_holds_stays_end_to_end_and_unwritten_over(item: Equipment, owner: Person, crew: Crew) -> None:
    services.move_item(item=item, step="issued", crew=crew, actor=owner, now=NOW + timedelta(hours=1))
    rows = CustodyEvent.objects.filter(item=item)
    with pytest.raises(IntegrityError, match="rewritten"), transaction.atomic():
        rows.filter(sequence=1).update(at=NOW - timedelta(hours=1))
    with pytest.raises(IntegrityError, match="rewritten"), transaction.atomic():
        rows.filter(sequence=1).update(until=None)
    rows.filter(sequence=2).update(until=NOW + timedelta(hours=2))
    with pytest.raises(IntegrityError, match="begin where"), transaction.atomic():
        CustodyEvent.objects.create(
            item=item, sequence=3, step="lost", at=NOW + timedelta(hours=3), place="lost", by=owner
        )


def test_nothing_is_entered_before_the_last_event(item: Equipment, owner: Person, crew: Crew) -> None:
    with pytest.raises(Conflict, match="later is entered"):
        services.move_item(item=item, step="issued", crew=crew, actor=owner, now=NOW - timedelta(days=1))
