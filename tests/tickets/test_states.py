"""What may follow what: one table, its refusals in words, and the same words in choices and the database."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, models, transaction

from tests.factories import JobFactory
from tickets import states
from tickets.models import Answer, DigArea, FollowUp, Job, SiteSighting, Ticket, TicketOperator
from tickets.states import WORDS, Act, Life, TransitionRefused, after, choices, diagram

ENUMS = (
    states.PlaceSource,
    states.DigMethod,
    states.TicketKind,
    states.Utility,
    states.Outcome,
    states.SightingKind,
    states.LocateKind,
    states.FollowUpKind,
    states.State,
)


def test_every_word_is_shown_in_words() -> None:
    for enum in ENUMS:
        for word in enum:
            assert WORDS[word]
    assert choices(states.TicketKind)[0] == ("normal", "Normal")


@pytest.mark.parametrize("table", [states.JOB, states.TICKET, states.EMERGENCY, states.FOLLOW_UP])
def test_a_step_in_the_table_is_taken_and_any_other_is_refused(table: object) -> None:
    standings = {life for life, _ in table}
    for life in Life:
        for act in Act:
            if (life, act) in table:
                assert after(table, life, act, what="It") is table[life, act]
            elif life in standings:
                with pytest.raises(TransitionRefused, match="possible now"):
                    after(table, life, act, what="It")
            else:
                with pytest.raises(TransitionRefused, match="nothing more can be done"):
                    after(table, life, act, what="It")


def test_a_refusal_names_what_stands_what_was_wanted_and_what_is_possible() -> None:
    with pytest.raises(TransitionRefused) as refused:
        after(states.JOB, Life.CLOSED, Act.ENTER_TICKET, what="Job 26-0001")
    assert refused.value.message == (
        "Job 26-0001 is closed, so it is not possible to enter a ticket; possible now: reopen."
    )


def test_the_diagram_is_the_table() -> None:
    assert "open --cancel--> cancelled" in diagram(states.TICKET)
    assert len(diagram(states.JOB).splitlines()) == len(states.JOB)


@pytest.mark.parametrize(
    ("model", "field", "enum"),
    [
        (Ticket, "kind", states.TicketKind),
        (TicketOperator, "utility", states.Utility),
        (Answer, "outcome", states.Outcome),
        (SiteSighting, "kind", states.SightingKind),
        (DigArea, "method", states.DigMethod),
        (FollowUp, "kind", states.FollowUpKind),
        (Job, "verdict_state", states.State),
    ],
)
def test_choices_and_the_databases_check_come_from_the_same_enum(
    model: type[models.Model], field: str, enum: object
) -> None:
    assert model._meta.get_field(field).choices == choices(enum)
    checks = [c for c in model._meta.constraints if isinstance(c, models.CheckConstraint)]
    wanted = models.Q(**{f"{field}__in": [str(word) for word in enum]})
    assert any(check.condition == wanted for check in checks)


@pytest.mark.django_db
def test_the_database_refuses_a_word_of_its_own() -> None:
    job = JobFactory()
    with pytest.raises(IntegrityError), transaction.atomic():
        Job.objects.filter(pk=job.pk).update(verdict_state="green")


@pytest.mark.parametrize(
    ("row", "life"),
    [
        (FollowUp(), Life.OPEN),
        (FollowUp(claimed_at=1), Life.CLAIMED),
        (FollowUp(claimed_at=1, done_at=1), Life.DONE),
        (FollowUp(superseded_at=1), Life.SUPERSEDED),
        (Ticket(), Life.OPEN),
        (Ticket(cancelled_at=1), Life.CANCELLED),
        (Job(), Life.OPEN),
        (Job(work_begun_at=1), Life.UNDER_WAY),
        (Job(work_begun_at=1, closed_at=1), Life.CLOSED),
    ],
)
def test_the_life_is_read_off_the_instants(row: object, life: Life) -> None:
    assert row.life is life
