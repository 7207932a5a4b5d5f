"""How long an emergency has waited, in the hours that crews work."""

from __future__ import annotations

from crews.gather_plan.shifts import Team
from crews.gather_plan.visits import sooner_marks
from tests.crews.planning.small import DAY, HOUR, shift


def test_an_emergency_waits_by_the_hour_on_two_days_and_then_by_the_day() -> None:
    shifts = [shift(day=4, end_h=10), shift(day=0, end_h=9), shift("blue", day=0, start_h=8, end_h=11), shift(day=3)]
    team = Team({}, (), (*shifts, shift(day=5)), (), {})
    assert sooner_marks(team) == (
        *(hour * HOUR for hour in (8, 9, 10)),
        *(3 * DAY + hour * HOUR for hour in range(8, 16)),
        4 * DAY + 7 * HOUR,
        5 * DAY + 7 * HOUR,
    )


def test_without_shifts_nothing_is_counted() -> None:
    assert sooner_marks(Team({}, (), (), (), {})) == ()
