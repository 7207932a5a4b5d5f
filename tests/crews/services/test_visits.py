"""Visits inside the lawful window and nowhere else. The window of the Virginia ticket in these tests,
Fri 11 Sep, 7 AM to Fri 2 Oct 2026, 7 AM, is the legal clock's and is asserted here first."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from crews import services
from crews.models import Crew, Person, Visit, VisitKind
from tests.crews.factories import CrewFactory, PersonFactory
from tests.crews.office import NOW, at, clear_job, give_notice, make_job
from tickets import services as office
from tickets.models import EvidenceEntry, FollowUp, Job
from tickets.services.refusals import BadInput, Conflict, Forbidden, WindowRefused

pytestmark = pytest.mark.django_db
OPENS, CLOSES = at(11, 7), datetime(2026, 10, 2, 11, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture
def dispatcher() -> Person:
    return PersonFactory(dispatcher=True)


@pytest.fixture
def crew() -> Crew:
    return CrewFactory(name="Alder crew")


def place(job: Job, crew: Crew, actor: Person, **given: Any) -> Visit:
    fields: dict[str, Any] = {
        "kind": VisitKind.DIG,
        "starts_at": at(17, 8),
        "ends_at": at(17, 12),
        "now": NOW,
    }
    return services.schedule_visit(job=job, crew=crew, actor=actor, **{**fields, **given})


def test_the_window_of_these_tests() -> None:
    ticket = clear_job().tickets.get()
    assert (ticket.opens_at, ticket.closes_at) == (OPENS, CLOSES)


def test_a_dig_inside_its_window_is_placed(dispatcher: Person, crew: Crew) -> None:
    job = clear_job()
    visit = place(job, crew, dispatcher, note=" Shed cable. ", ticket=job.tickets.get(), pinned=True)
    kept = Visit.objects.get()
    assert kept == visit
    assert (kept.note, kept.pinned, kept.created_by, kept.created_at) == ("Shed cable.", True, dispatcher, NOW)


@pytest.mark.parametrize("edge_s", [0, 1])
def test_the_windows_edges_are_sharp(dispatcher: Person, crew: Crew, edge_s: int) -> None:
    job, edge = make_job(), timedelta(seconds=edge_s)
    give_notice(job, outcomes=("marked", ""))  # were all answers in, Virginia would let work begin early
    early = {"starts_at": OPENS - edge, "ends_at": OPENS + timedelta(hours=2), "now": at(10, 9)}
    late = {"starts_at": CLOSES - timedelta(hours=2), "ends_at": CLOSES + edge}
    for given in (early, late):
        if edge_s == 0:
            place(job, crew, dispatcher, **given)
        else:
            with pytest.raises(WindowRefused):
                place(job, crew, dispatcher, **given)
    assert Visit.objects.count() == (2 if edge_s == 0 else 0)


def test_too_early_is_refused_with_the_first_lawful_instant(dispatcher: Person, crew: Crew) -> None:
    job = make_job()
    give_notice(job, received_at=at(15, 10), outcomes=("", ""))  # opens Fri 18 Sep, 7 AM
    with pytest.raises(WindowRefused) as refused:
        place(job, crew, dispatcher)
    assert refused.value.first_lawful_at == at(18, 7)
    assert "Fri 18 Sep, 7:00 AM EDT" in refused.value.message
    assert not Visit.objects.exists()
    assert place(job, crew, dispatcher, starts_at=at(18, 7), ends_at=at(18, 9)).pk


def test_across_the_closing_is_refused_and_an_earlier_start_offered(dispatcher: Person, crew: Crew) -> None:
    with pytest.raises(WindowRefused, match="ends Fri 2 Oct, 7:00 AM EDT") as refused:
        place(clear_job(), crew, dispatcher, starts_at=CLOSES - HOUR, ends_at=CLOSES + HOUR)
    assert refused.value.first_lawful_at == NOW


def test_without_a_ticket_no_earth_is_moved_but_any_other_visit_is_placed(dispatcher: Person, crew: Crew) -> None:
    job = make_job()
    for kind in (VisitKind.DIG, VisitKind.RESTORE):
        with pytest.raises(WindowRefused) as refused:
            place(job, crew, dispatcher, kind=kind)
        assert refused.value.first_lawful_at is None
    for day, kind in enumerate((k for k in VisitKind if k is not VisitKind.DIG), start=17):
        surface_only = kind is VisitKind.RESTORE
        place(job, crew, dispatcher, kind=kind, starts_at=at(day, 8), ends_at=at(day, 9), surface_only=surface_only)
    assert Visit.objects.count() == len(VisitKind) - 1


def test_a_restoration_that_moves_earth_is_held_to_the_window(dispatcher: Person, crew: Crew) -> None:
    job = clear_job()
    with pytest.raises(WindowRefused, match="ends Fri 2 Oct"):
        place(job, crew, dispatcher, kind="restore", starts_at=CLOSES - HOUR, ends_at=CLOSES + HOUR)
    visit = place(job, crew, dispatcher, kind="restore", starts_at=at(17, 13), ends_at=at(17, 15))
    with pytest.raises(WindowRefused):
        services.move_visit(visit=visit, actor=dispatcher, now=NOW, starts_at=CLOSES + HOUR)
    assert Job.objects.get(pk=job.pk).next_dig_at == at(17, 13)
    with pytest.raises(BadInput, match="Only a restoration"):
        place(job, crew, dispatcher, starts_at=at(18, 8), ends_at=at(18, 9), surface_only=True)


def test_under_an_open_emergency_a_dig_may_be_placed(dispatcher: Person, crew: Crew) -> None:
    job = make_job()
    office.declare_emergency(job=job, actor=dispatcher, now=NOW, reason="Main burst")
    assert place(job, crew, dispatcher).pk


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"starts_at": at(16, 9), "ends_at": at(16, 12)}, "starts_at", "Wed 16 Sep, 9:00 AM EDT is past"),
        ({"ends_at": at(17, 8)}, "ends_at", "after the start"),
        ({"ends_at": at(17, 7)}, "ends_at", "after the start"),
        ({"ends_at": at(18, 9)}, "ends_at", "Longer than a day"),
        (
            {"starts_at": datetime(2027, 9, 20, tzinfo=UTC), "ends_at": datetime(2027, 9, 20, 1, tzinfo=UTC)},
            "starts_at",
            "check the year",
        ),
        ({"kind": "picnic"}, "kind", "not a kind"),
        ({"starts_at": datetime(2026, 9, 17, 8)}, "starts_at", "no offset"),
    ],
)
def test_bad_input_is_refused(dispatcher: Person, crew: Crew, given: dict[str, Any], field: str, words: str) -> None:
    with pytest.raises(BadInput) as refused:
        place(clear_job(), crew, dispatcher, **given)
    assert words in refused.value.fields[field]
    assert not Visit.objects.exists()


def test_another_jobs_ticket_is_refused(dispatcher: Person, crew: Crew) -> None:
    with pytest.raises(BadInput, match="another job"):
        place(clear_job(), crew, dispatcher, ticket=clear_job().tickets.get())


def test_a_crew_is_in_one_place_at_a_time(dispatcher: Person, crew: Crew) -> None:
    job, other = clear_job(), clear_job()
    place(job, crew, dispatcher)
    for start, end in ((7, 9), (9, 10), (11, 13), (7, 13)):
        with pytest.raises(Conflict, match=f"already on job {job.number} from Thu 17 Sep, 8:00 AM EDT"):
            place(other, crew, dispatcher, starts_at=at(17, start), ends_at=at(17, end))
    place(other, crew, dispatcher, starts_at=at(17, 7), ends_at=at(17, 8))
    place(other, crew, dispatcher, starts_at=at(17, 12), ends_at=at(17, 13))
    place(other, CrewFactory(), dispatcher, starts_at=at(17, 8), ends_at=at(17, 12))
    assert Visit.objects.count() == 4


def test_a_resting_crew_and_a_closed_job_take_no_visit(dispatcher: Person, crew: Crew) -> None:
    with pytest.raises(Conflict, match="not active"):
        place(clear_job(), CrewFactory(active=False), dispatcher)
    job = clear_job()
    office.close_job(job=job, actor=dispatcher, now=NOW)
    with pytest.raises(Conflict, match="closed"):
        place(job, crew, dispatcher)


def test_moving_checks_all_over_again(dispatcher: Person, crew: Crew) -> None:
    visit = place(clear_job(), crew, dispatcher)
    with pytest.raises(WindowRefused):
        services.move_visit(visit=visit, actor=dispatcher, now=NOW, starts_at=CLOSES - HOUR)
    visit.refresh_from_db()
    assert visit.starts_at == at(17, 8)
    moved = services.move_visit(visit=visit, actor=dispatcher, now=NOW, starts_at=at(18, 13))
    assert (moved.starts_at, moved.ends_at) == (at(18, 13), at(18, 17))
    other = CrewFactory()
    assert services.move_visit(visit=visit, actor=dispatcher, now=NOW, crew=other).crew == other
    kept = Visit.objects.get()
    assert (kept.starts_at, kept.crew) == (at(18, 13), other)


def test_moving_into_another_visit_is_refused(dispatcher: Person, crew: Crew) -> None:
    place(clear_job(), crew, dispatcher, starts_at=at(18, 8), ends_at=at(18, 12))
    visit = place(clear_job(), crew, dispatcher)
    with pytest.raises(Conflict):
        services.move_visit(visit=visit, actor=dispatcher, now=NOW, starts_at=at(18, 11))


def test_a_running_visit_may_end_later_but_not_in_the_past(dispatcher: Person, crew: Crew) -> None:
    visit = place(clear_job(), crew, dispatcher)
    during = at(17, 11)
    longer = services.move_visit(visit=visit, actor=dispatcher, now=during, ends_at=at(17, 14))
    assert longer.ends_at == at(17, 14)
    with pytest.raises(BadInput, match="past"):
        services.move_visit(visit=visit, actor=dispatcher, now=during, ends_at=at(17, 10))
    with pytest.raises(BadInput, match="past"):
        services.move_visit(visit=visit, actor=dispatcher, now=during, starts_at=at(17, 9))


def test_a_cancelled_visit_stays_and_frees_the_hour(dispatcher: Person, crew: Crew) -> None:
    visit = place(clear_job(), crew, dispatcher)
    with pytest.raises(BadInput):
        services.cancel_visit(visit=visit, reason=" ", actor=dispatcher, now=NOW)
    services.cancel_visit(visit=visit, reason="Rain", actor=dispatcher, now=NOW)
    visit.refresh_from_db()
    assert (visit.cancelled_at, visit.cancel_reason) == (NOW, "Rain")
    assert place(clear_job(), crew, dispatcher).pk
    with pytest.raises(Conflict, match="was cancelled"):
        services.move_visit(visit=visit, actor=dispatcher, now=NOW, starts_at=at(18, 8))
    with pytest.raises(Conflict, match="was cancelled"):
        services.cancel_visit(visit=visit, reason="Again", actor=dispatcher, now=NOW)


def test_what_is_over_stays_as_it_was(dispatcher: Person, crew: Crew) -> None:
    visit = place(clear_job(), crew, dispatcher)
    after = visit.ends_at
    with pytest.raises(Conflict, match="over"):
        services.cancel_visit(visit=visit, reason="Late", actor=dispatcher, now=after)
    with pytest.raises(Conflict, match="over"):
        services.move_visit(visit=visit, actor=dispatcher, now=after, starts_at=at(18, 8))


def test_a_note_and_a_pin_change_nothing_else(dispatcher: Person, crew: Crew) -> None:
    visit = place(clear_job(), crew, dispatcher)
    services.change_visit_note(visit=visit, actor=dispatcher, note="Bring the box", pinned=True)
    services.change_visit_note(visit=visit, actor=dispatcher, pinned=False)
    kept = Visit.objects.get()
    assert (kept.note, kept.pinned, kept.starts_at) == ("Bring the box", False, at(17, 8))


def test_the_office_knows_the_next_dig(dispatcher: Person, crew: Crew) -> None:
    job = clear_job()

    def next_dig() -> datetime | None:
        return Job.objects.get(pk=job.pk).next_dig_at

    later = place(job, crew, dispatcher, starts_at=at(18, 8), ends_at=at(18, 9))
    assert next_dig() == at(18, 8)
    sooner = place(job, crew, dispatcher)
    assert next_dig() == at(17, 8)
    place(job, crew, dispatcher, kind="restore", starts_at=at(16, 11), ends_at=at(16, 12), surface_only=True)
    assert next_dig() == at(17, 8)
    recheck = FollowUp.objects.get(job=job, kind="recheck_before_dig", superseded_at=None)
    assert recheck.due_at < at(17, 8)
    services.cancel_visit(visit=sooner, reason="Rain", actor=dispatcher, now=NOW)
    assert next_dig() == at(18, 8)
    services.move_visit(visit=later, actor=dispatcher, now=NOW, starts_at=at(21, 8))
    assert next_dig() == at(21, 8)
    assert EvidenceEntry.objects.filter(job=job, kind="dig_planned").count() == 4


def test_a_crew_member_places_moves_and_cancels_nothing(dispatcher: Person, crew: Crew) -> None:
    job = clear_job()
    visit = place(job, crew, dispatcher)
    member = PersonFactory(crew=crew)
    writes: list[Any] = [
        lambda: place(job, crew, member, starts_at=at(18, 8), ends_at=at(18, 9)),
        lambda: services.move_visit(visit=visit, actor=member, now=NOW, starts_at=at(18, 8)),
        lambda: services.cancel_visit(visit=visit, reason="x", actor=member, now=NOW),
        lambda: services.change_visit_note(visit=visit, actor=member, note="x"),
    ]
    for write in writes:
        with pytest.raises(Forbidden):
            write()


def test_a_crew_with_visits_ahead_stays_active(crew: Crew, dispatcher: Person) -> None:
    owner = PersonFactory(owner=True)
    visit = place(clear_job(), crew, dispatcher)
    with pytest.raises(Conflict, match="1 visit ahead"):
        services.change_crew(crew=crew, actor=owner, now=NOW, active=False)
    services.cancel_visit(visit=visit, reason="Rain", actor=dispatcher, now=NOW)
    assert not services.change_crew(crew=crew, actor=owner, now=NOW, active=False).active
