"""Which items a plan may count on, day by day: where they are, when they are due, what the owner said."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from crews import services
from crews.gather_plan import gather
from crews.models import Crew, Equipment, Person, Plan
from crews.planning.kit import is_fit
from crews.planning.problem import Weights
from crews.services.wanted import want_visit
from tests.crews.factories import CrewFactory, EquipmentFactory, PersonFactory
from tests.crews.office import NOW, at, clear_job
from tests.crews.plans.conftest import stop_for
from tickets.models import Job

Computed = Callable[..., Plan]
GOOD = date(2027, 9, 1)


@pytest.fixture
def likely(db: None, frozen_now: object) -> Job:
    """Wants a private locate before its dig."""
    return clear_job(private_lines_likely=True)


@pytest.fixture
def receiver(crew: Crew) -> Equipment:
    EquipmentFactory(kind="transmitter", name="Sender", crew=crew, calibration_due_on=GOOD)
    return EquipmentFactory(name="Finder", crew=crew, calibration_due_on=GOOD)


def days_fit(item: Equipment) -> set[int]:
    """The days of September on which the plan counts on the item, of Wed 16 to Tue 22."""
    problem = gather(NOW, 5, Weights()).problem
    kit = {one.id: one for one in problem.kit}.get(f"{item.name} ({item.serial})")
    return set() if kit is None else {16 + shift.day for shift in problem.shifts if is_fit(kit, shift)}


ALL = {16, 17, 18, 21, 22}


def test_the_days_of_the_plan(likely: Job, receiver: Equipment) -> None:
    assert days_fit(receiver) == ALL


@pytest.mark.parametrize(("due", "fit"), [(17, {16}), (18, {16, 17}), (16, set()), (9, set()), (23, ALL)])
def test_an_item_is_not_there_on_its_due_day_nor_after(
    likely: Job, receiver: Equipment, due: int, fit: set[int]
) -> None:
    Equipment.objects.filter(pk=receiver.pk).update(
        due_on=date(2026, 9, due), calibration_due_on=date(2026, 9, due), stated_due_on=date(2026, 9, due)
    )
    assert days_fit(receiver) == fit


def test_the_owners_word_holds_for_its_days_alone(likely: Job, receiver: Equipment, owner: Person) -> None:
    due = date(2026, 9, 10)
    Equipment.objects.filter(pk=receiver.pk).update(due_on=due, calibration_due_on=due, stated_due_on=due)
    services.allow_despite_due(
        item=receiver,
        from_on=date(2026, 9, 18),
        to_on=date(2026, 9, 21),
        reason="Checked against the known line this morning",
        actor=owner,
        now=NOW,
    )
    assert days_fit(receiver) == {18, 21}


def test_the_plan_waits_for_the_day_that_the_owner_named(
    likely: Job, receiver: Equipment, owner: Person, computed: Computed
) -> None:
    due = date(2026, 9, 10)
    Equipment.objects.filter(pk=receiver.pk).update(due_on=due, calibration_due_on=due, stated_due_on=due)
    services.allow_despite_due(
        item=receiver, from_on=date(2026, 9, 21), to_on=date(2026, 9, 21), reason="Checked", actor=owner, now=NOW
    )
    stop = stop_for(computed(), likely, "private_locate")
    assert at(21, 7) <= stop.starts_at < at(22, 0)


def test_a_calibrated_item_without_a_date_is_unknown_and_not_there(
    likely: Job, receiver: Equipment, computed: Computed
) -> None:
    Equipment.objects.filter(pk=receiver.pk).update(due_on=None, calibration_due_on=None, stated_due_on=None)
    assert days_fit(receiver) == set()
    (gone,) = (g for g in computed().unplanned if "private locate" in g["key"])
    assert gone["reason"] == "no_kit"
    assert "due for calibration, or not to go out" in gone["words"]


@pytest.mark.parametrize("step", ["sent_away", "lost", "stolen"])
def test_what_is_away_is_not_there(likely: Job, receiver: Equipment, owner: Person, step: str) -> None:
    services.move_item(item=receiver, step=step, actor=owner, now=NOW, note="Left on a wall")
    assert days_fit(receiver) == set()


def test_out_of_service_is_not_there_whatever_was_said(likely: Job, receiver: Equipment, owner: Person) -> None:
    services.take_out_of_service(item=receiver, reason="Display cracked", actor=owner)
    assert days_fit(receiver) == set()


def test_a_persons_item_rides_with_the_persons_crew(likely: Job, receiver: Equipment, owner: Person) -> None:
    other = CrewFactory(name="Basalt crew")
    services.move_item(item=receiver, step="returned", actor=owner, now=NOW)
    services.move_item(item=receiver, step="issued", person=PersonFactory(crew=other), actor=owner, now=NOW)
    (kit,) = (k for k in gather(NOW, 5, Weights()).problem.kit if k.kind == "receiver")
    assert (kit.crew_id, kit.yard_id) == ("Basalt crew", None)


def test_kit_at_the_yard_is_fetched_on_a_call_with_its_time(
    likely: Job, crew: Crew, computed: Computed, owner: Person
) -> None:
    """Both instruments lie at the yard; the crew starts there, so the call costs its time and no detour."""
    for kind in ("receiver", "transmitter"):
        EquipmentFactory(kind=kind, name=kind.title(), calibration_due_on=GOOD)
    plan = computed()
    locate = stop_for(plan, likely, "private_locate")
    (call,) = plan.stops.filter(stop="yard_call")
    assert call.shift == locate.shift
    assert call.ends_at - call.starts_at == timedelta(minutes=15)
    assert call.ends_at <= locate.starts_at
    assert "Receiver" in call.fetches
    assert "Transmitter" in call.fetches


@pytest.mark.parametrize(("sonde_hz", "planned"), [(512, True), (640, False)])
def test_a_receiver_must_hear_the_sonde(
    clear: Job, crew: Crew, dispatcher: Person, computed: Computed, sonde_hz: int, planned: bool
) -> None:
    EquipmentFactory(crew=crew, calibration_due_on=GOOD, frequencies_hz=[512, 33_000])
    EquipmentFactory(kind="sonde", crew=crew, frequencies_hz=[sonde_hz])
    want_visit(job=clear, kind="dig", minutes=60, kit=["sonde", "receiver"], actor=dispatcher, now=NOW)
    plan = computed()
    assert plan.stops.filter(stop="visit").exists() is planned
    if not planned:
        assert "shares no frequency" in plan.unplanned[0]["words"]


def test_a_transmitter_and_a_receiver_need_a_frequency_in_common(likely: Job, crew: Crew, computed: Computed) -> None:
    """The yard's transmitter fits the receiver, the truck's does not, so it is fetched."""
    EquipmentFactory(crew=crew, calibration_due_on=GOOD, frequencies_hz=[33_000])
    EquipmentFactory(kind="transmitter", name="Truck's", crew=crew, calibration_due_on=GOOD, frequencies_hz=[8_000])
    EquipmentFactory(kind="transmitter", name="Yard's", calibration_due_on=GOOD, frequencies_hz=[33_000, 8_000])
    plan = computed()
    assert stop_for(plan, likely, "private_locate")
    assert "Yard's" in plan.stops.get(stop="yard_call").fetches


def test_a_frequency_that_no_receiver_has_is_named(
    clear: Job, crew: Crew, dispatcher: Person, computed: Computed
) -> None:
    EquipmentFactory(crew=crew, calibration_due_on=GOOD, frequencies_hz=[33_000])
    want_visit(job=clear, kind="dig", minutes=60, kit=["receiver"], frequency_hz=512, actor=dispatcher, now=NOW)
    (gone,) = computed().unplanned
    assert "receiver with 512 Hz" in gone["words"]


def test_an_item_sent_away_since_stops_the_acceptance(
    likely: Job, receiver: Equipment, owner: Person, dispatcher: Person, computed: Computed
) -> None:
    plan = computed()
    services.move_item(item=receiver, step="sent_away", actor=owner, now=NOW)
    with pytest.raises(Exception, match="skills or kit of Alder crew changed"):
        services.accept_plan(plan=plan, actor=dispatcher, now=NOW)


def test_a_long_register_is_not_read_whole(
    likely: Job, receiver: Equipment, django_assert_max_num_queries: Callable[..., object]
) -> None:
    EquipmentFactory.create_batch(30, kind="ladder")
    with django_assert_max_num_queries(32):  # type: ignore[attr-defined]
        gathered = gather(NOW, 5, Weights())
    assert {kit.kind for kit in gathered.problem.kit} == {"receiver", "transmitter"}
