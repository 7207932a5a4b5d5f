"""Results, rules, failures and what follows from them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from crews import services
from crews.equipment.refusal import EquipmentError
from crews.models import Crew, Equipment, Person
from crews.register.availability import availability
from crews.register.doubt import locates_in_doubt
from crews.services import Laboratory
from tests.crews.factories import CrewFactory, PersonFactory
from tests.crews.office import make_job
from tickets.models import Job, PrivateLocate
from tickets.services import waive_private_locate
from tickets.services.refusals import BadInput, Conflict, Forbidden

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 9, 16, 14, tzinfo=UTC)
TODAY = date(2026, 9, 16)


@pytest.fixture
def owner() -> Person:
    return PersonFactory(owner=True)


@pytest.fixture
def crew() -> Crew:
    return CrewFactory()


def add(owner: Person, kind: str = "receiver", serial: str = "S-1", **more: Any) -> Equipment:
    at = more.pop("now", NOW - timedelta(days=60))
    return services.add_equipment(kind=kind, name=f"{kind} A", serial=serial, actor=owner, now=at, **more)


def locate(by: Person, made_at: datetime, job: Job | None = None) -> PrivateLocate:
    return PrivateLocate.objects.create(
        job=job or make_job(private_lines_likely=True), kind="located", made_at=made_at, by=by, result_words="Cable"
    )


def result(item: Equipment, owner: Person, **more: Any) -> Any:
    given: dict[str, Any] = {"key": "calibration", "done_on": TODAY, "passed": True, "actor": owner, "now": NOW}
    return services.record_result(item=item, **{**given, **more})


def test_a_good_result_sets_the_due_day_from_its_own_day(owner: Person) -> None:
    item = add(owner, calibration_due_on=date(2026, 9, 1))
    assert (item.due_on, item.is_overdue(TODAY)) == (date(2026, 9, 1), True)
    result(item, owner, done_on=date(2026, 8, 31), laboratory=Laboratory("Tarn Bench", cost=Decimal("240.00")))
    item.refresh_from_db()
    assert (item.due_on, item.calibration_due_on, item.stated_due_on) == (date(2027, 8, 31), date(2027, 8, 31), None)
    assert item.care_states.get(key="calibration").last_cost == Decimal("240.00")


def test_a_certificate_dated_tomorrow_is_refused(owner: Person) -> None:
    item = add(owner)
    with pytest.raises(BadInput, match="has not come yet") as refused:
        result(item, owner, done_on=TODAY + timedelta(days=1))
    assert list(refused.value.fields) == ["done_on"]
    assert not item.care_results.exists()


def test_the_outcome_is_computed_and_a_failure_stops_the_item(owner: Person) -> None:
    item = add(owner, calibration_due_on=date(2027, 1, 1))
    made = result(item, owner, key="known_line", passed=None, known_value=1.0, readings=[1.0, 1.3])
    assert not made.result.passed
    item.refresh_from_db()
    assert "Check on a known line failed Wed 16 Sep 2026" in item.out_of_service_reason
    assert not availability([item], TODAY)[item.pk].available
    with pytest.raises(Conflict, match="has not passed since"):
        services.return_to_service(item=item, actor=owner)
    result(item, owner, key="known_line", passed=None, known_value=1.0, readings=[1.02])
    assert services.return_to_service(item=item, actor=owner).out_of_service_reason == ""


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"key": "polish"}, "key"),
        ({"passed": None}, "passed"),
        ({"known_value": 1.0, "readings": [1.0]}, "readings"),  # a bench calibration has no tolerance on file
        ({"key": "known_line", "readings": [1.0]}, "known_value"),
        ({"laboratory": Laboratory(stated_due_on=TODAY)}, "stated_due_on"),
    ],
)
def test_bad_results_are_refused_by_field(owner: Person, wrong: dict[str, Any], field: str) -> None:
    item = add(owner)
    with pytest.raises(BadInput) as refused:
        result(item, owner, **wrong)
    assert list(refused.value.fields) == [field]


def test_a_failure_doubts_the_locates_since_the_last_good_check(owner: Person, crew: Crew) -> None:
    item, member = add(owner, crew=crew), PersonFactory(crew=crew)
    result(item, owner, done_on=date(2026, 9, 1))
    made = {day: locate(member, datetime(2026, *day, 15, tzinfo=UTC)) for day in ((8, 30), (9, 1), (9, 10))}
    other = locate(PersonFactory(crew=CrewFactory()), NOW)
    written = locate(other.by, datetime(2026, 9, 12, tzinfo=UTC))
    services.link_instruments(locate=written, items=[item], actor=owner, now=NOW)
    found = result(item, owner, passed=False)
    assert {one.pk for one in found.in_doubt} == {made[9, 1].pk, made[9, 10].pk, written.pk}
    job = made[9, 10].job
    job.refresh_from_db()
    assert "verdict" in [entry.kind.split("_")[0] for entry in job.evidence.all()]
    assert job.evidence.filter(kind="instrument_in_doubt").count() == 1
    assert made[9, 10].job.private_locates.get().doubted_at == NOW


def test_an_instrument_written_down_clears_the_others(owner: Person, crew: Crew) -> None:
    item, spare = add(owner, crew=crew), add(owner, serial="S-2", crew=crew)
    made = locate(PersonFactory(crew=crew), NOW)
    assert list(locates_in_doubt(item, TODAY)) == [made]
    services.link_instruments(locate=made, items=[spare], actor=owner, now=NOW)
    assert list(locates_in_doubt(item, TODAY)) == []


@pytest.mark.parametrize(("day", "doubted"), [(9, False), (10, False), (11, True)])
def test_a_locate_made_with_what_was_past_its_day_is_in_doubt_at_once(
    owner: Person, crew: Crew, day: int, doubted: bool
) -> None:
    item = add(owner, crew=crew, calibration_due_on=date(2026, 9, 10))
    made = locate(PersonFactory(crew=crew), datetime(2026, 9, day, 15, tzinfo=UTC))
    assert services.link_instruments(locate=made, items=[item], actor=owner, now=NOW) == doubted
    made.refresh_from_db()
    assert (made.doubted_at == NOW) is doubted
    assert made.job.evidence.filter(kind="instrument_in_doubt").exists() is doubted
    if doubted:
        assert made.doubt_words == "receiver A (S-1): Bench calibration was due Thu 10 Sep 2026."


def test_the_owners_word_keeps_a_locate_out_of_doubt(owner: Person, crew: Crew) -> None:
    item = add(owner, crew=crew, calibration_due_on=date(2026, 9, 10))
    services.allow_despite_due(
        item=item, from_on=date(2026, 9, 12), to_on=TODAY, reason="Bench is full", actor=owner, now=NOW
    )
    for day, doubted in ((12, False), (11, True)):
        made = locate(PersonFactory(crew=crew), datetime(2026, 9, day, 15, tzinfo=UTC))
        assert services.add_instrument(locate=made, item=item, actor=owner, now=NOW) is doubted


def test_what_is_stopped_or_has_no_date_is_not_trusted(owner: Person, crew: Crew) -> None:
    unknown, stopped = add(owner, crew=crew), add(owner, serial="S-2", calibration_due_on=date(2027, 1, 1))
    services.take_out_of_service(item=stopped, reason="Dropped", actor=owner)
    made = locate(PersonFactory(crew=crew), NOW)
    assert services.link_instruments(locate=made, items=[unknown, stopped], actor=owner, now=NOW) == 2
    stranger = PersonFactory(crew=CrewFactory())
    with pytest.raises(Forbidden):
        services.add_instrument(locate=made, item=unknown, actor=stranger, now=NOW)
    waived = PrivateLocate.objects.create(job=made.job, kind="waived", made_at=NOW, by=owner, reason="Field")
    with pytest.raises(BadInput, match="No private locate was made"):
        services.add_instrument(locate=waived, item=unknown, actor=owner, now=NOW)


def test_a_failed_ladder_doubts_nothing(owner: Person, crew: Crew) -> None:
    item = add(owner, kind="ladder", crew=crew)
    locate(PersonFactory(crew=crew), NOW)
    assert result(item, owner, key="inspection_daily", passed=False).in_doubt == ()


def test_only_the_owner_waives_after_a_doubt(owner: Person, crew: Crew) -> None:
    item, job = add(owner, crew=crew), make_job(private_lines_likely=True)
    locate(PersonFactory(crew=crew), NOW - timedelta(hours=2), job)
    result(item, owner, passed=False)
    given = {"job": job, "reason": "Traced by hand and exposed", "now": NOW + timedelta(minutes=1)}
    with pytest.raises(Forbidden, match="owner"):
        waive_private_locate(actor=PersonFactory(dispatcher=True), **given)
    waive_private_locate(actor=owner, **given)


def test_gloves_by_test_and_first_issue(owner: Person, crew: Crew) -> None:
    gloves = add(owner, kind="insulated_gloves", voltage_class="0")
    assert gloves.care_unknown == "Electrical test"
    assert not availability([gloves], TODAY)[gloves.pk].available
    result(gloves, owner, key="electrical_test", done_on=date(2026, 3, 1))
    gloves.refresh_from_db()
    assert gloves.due_on == date(2027, 3, 1)
    services.move_item(item=gloves, step="issued", crew=crew, actor=owner, now=NOW)
    gloves.refresh_from_db()
    assert (gloves.first_issued_on, gloves.due_on) == (TODAY, date(2027, 3, 1))


def test_an_item_rule_in_place_of_the_kinds(owner: Person) -> None:
    item = add(owner, put_in_service_on=date(2026, 1, 31))

    def rule(source: str, actor: Person = owner, **every: Any) -> None:
        given = services.RuleGiven("calibration", "calibration", "Bench", source, **every)
        services.set_item_rule(item=item, given=given, actor=actor, now=NOW)

    with pytest.raises(BadInput, match="cannot be an interval"):
        rule("Ours", every_months=0)
    with pytest.raises(BadInput, match="give an interval"):
        rule("Ours")
    rule("Contract of the Tarn works", every_months=1)
    item.refresh_from_db()
    assert (item.due_on, item.due_title) == (date(2026, 2, 28), "Bench")
    rule("Spare for training only", not_needed=True)
    item.refresh_from_db()
    assert item.due_on is None
    with pytest.raises(Forbidden):
        rule("x", PersonFactory(dispatcher=True), every_months=1)


def test_intervals_in_uses_count_days_once(owner: Person) -> None:
    item = add(owner, kind="other", put_in_service_on=date(2026, 9, 1), now=NOW)
    given = services.RuleGiven("wear", "inspection", "Wear", "Ours", every_uses=2)
    services.set_item_rule(item=item, given=given, actor=owner, now=NOW)
    for day in (14, 14, 15):
        services.note_use_day(item=item, on=date(2026, 9, day), actor=owner, now=NOW)
    item.refresh_from_db()
    assert item.due_on == date(2026, 9, 15)
    with pytest.raises(BadInput):
        services.note_use_day(item=item, on=TODAY + timedelta(days=1), actor=owner, now=NOW)


def test_the_owners_word_lets_a_due_item_go_and_never_a_failed_one(owner: Person) -> None:
    item = add(owner, calibration_due_on=TODAY)
    assert "due on the day itself" in availability([item], TODAY)[item.pk].why
    word = {"item": item, "from_on": TODAY, "to_on": TODAY, "now": NOW}
    with pytest.raises(Forbidden):
        services.allow_despite_due(**word, reason="x", actor=PersonFactory(dispatcher=True))
    with pytest.raises(BadInput):
        services.allow_despite_due(**word, reason=" ", actor=owner)
    override = services.allow_despite_due(**word, reason="Checked twice on the yard's line", actor=owner)
    held = availability([item], TODAY)[item.pk]
    assert (held.available, str(owner) in held.why, "Checked twice" in held.why) == (True, True, True)
    services.end_override(override=override, actor=owner, now=NOW)
    assert not availability([item], TODAY)[item.pk].available
    result(item, owner, passed=False)
    with pytest.raises(Conflict, match="out of service"):
        services.allow_despite_due(**word, reason="All the same", actor=owner)


def test_a_crew_enters_daily_checks_of_its_own_and_no_calibration(owner: Person, crew: Crew) -> None:
    item, member = add(owner, crew=crew), PersonFactory(crew=crew)
    result(item, member, key="known_line", passed=None, known_value=1.0, readings=[1.0])
    assert item.use_days.get().on == TODAY
    with pytest.raises(Forbidden):
        result(item, member)
    with pytest.raises(Forbidden):
        result(item, PersonFactory(crew=CrewFactory()), key="known_line")


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"bought_on": TODAY + timedelta(days=1)}, "bought_on"),
        ({"price": Decimal(0)}, "price"),
        ({"price": Decimal(10), "salvage": Decimal(20)}, "salvage"),
        ({"life_years": 0}, "life_years"),
        ({"working_load_kg": -1.0}, "working_load_kg"),
        ({"voltage_class": "9"}, "voltage_class"),
        ({"frequencies_hz": [0]}, "frequencies_hz"),
    ],
)
def test_bad_facts_are_refused_by_field(owner: Person, wrong: dict[str, Any], field: str) -> None:
    with pytest.raises((BadInput, EquipmentError)) as refused:
        add(owner, now=NOW, **wrong)
    assert list(refused.value.fields) == [field]
    assert not Equipment.objects.exists()
