"""Doubts along a run and at a sonde: steps, rises, reversals, steady losses, jumps; each with its stretch."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from locates.ground.doubt import Grade
from locates.ground.refusal import GroundError
from locates.ground.run_doubt import RunPoint, run_doubts, sonde_doubts
from locates.ground.sonde import fix_from_marks


def _run(currents: list[float], step_m: float = 3.0) -> list[RunPoint]:
    return [RunPoint(i * step_m, current_a=c) for i, c in enumerate(currents)]


def _codes(points: list[RunPoint]) -> list[str]:
    return [d.doubt.code for d in run_doubts(points)]


def test_smooth_loss_is_no_doubt() -> None:
    assert _codes(_run([0.100, 0.098, 0.096, 0.094, 0.092])) == []


def test_step_is_named_where_it_is() -> None:
    found = run_doubts(_run([0.100, 0.098, 0.050, 0.049]))
    assert [(d.doubt.code, d.from_m, d.to_m) for d in found] == [("current_step", 3.0, 6.0)]
    assert found[0].doubt.figure == pytest.approx(5.845, abs=0.001)  # 20 log10(98/50)


def test_rise_is_strong() -> None:
    found = run_doubts(_run([0.100, 0.098, 0.150]))
    assert [(d.doubt.code, d.doubt.grade) for d in found] == [("current_rises", Grade.STRONG)]


def test_steady_fast_loss_is_told_from_a_step() -> None:
    assert _codes(_run([0.100 * 0.9**i for i in range(8)])) == ["current_falls_fast"]


def test_reversal() -> None:
    points = [RunPoint(0.0, current_a=0.1), RunPoint(3.0, current_a=0.1, reversed_current=True)]
    assert _codes(points) == ["current_reversed"]


def test_depth_jump_and_an_honest_ramp() -> None:
    jump = [RunPoint(0.0, 1.0), RunPoint(3.0, 1.05), RunPoint(6.0, 1.9)]
    ramp = [RunPoint(3.0 * i, 1.0 + 0.2 * i) for i in range(6)]
    assert [(d.doubt.code, d.from_m) for d in run_doubts(jump)] == [("depth_jump", 3.0)]
    assert _codes(ramp) == []


def test_points_without_a_reading_are_passed_over() -> None:
    points = [RunPoint(0.0, 1.0, current_a=0.1), RunPoint(3.0), RunPoint(6.0, 2.0, current_a=0.04)]
    assert [(d.doubt.code, d.from_m, d.to_m) for d in run_doubts(points)] == [
        ("current_step", 0.0, 6.0),
        ("depth_jump", 0.0, 6.0),
    ]


def test_points_out_of_order_are_refused() -> None:
    with pytest.raises(GroundError) as refusal:
        run_doubts([RunPoint(3.0), RunPoint(0.0)])
    assert refusal.value.code == "not_in_order"


@given(st.lists(st.floats(0.0, 0.02), min_size=2, max_size=12), st.floats(0.01, 1.0))
def test_small_losses_never_raise_a_step_or_a_rise(losses: list[float], start: float) -> None:
    currents = [start]
    for loss in losses:
        currents.append(currents[-1] * (1.0 - loss))
    assert not {"current_step", "current_rises"} & set(_codes(_run(currents)))


FIX = fix_from_marks((-0.7071, 0.0), (0.7071, 0.0), (0.0, 0.0))


def test_clean_sonde_has_no_doubt() -> None:
    assert sonde_doubts(FIX, two_antenna_m=1.02) == ()


def test_signal_that_rises_across_the_pipe_is_no_sonde() -> None:
    """Turned across for a line, in line for a sonde (common practice): the rise tells which of the two it is."""
    assert [(d.code, d.grade) for d in sonde_doubts(FIX, side_turned=1.3)] == [("rises_when_turned", Grade.STRONG)]
    assert sonde_doubts(FIX, side_turned=0.1) == ()


def test_sonde_read_with_the_line_formula_is_caught() -> None:
    """At 1 m the line formula reads 0.229 m on a sonde."""
    found = sonde_doubts(FIX, two_antenna_m=0.229357798)
    assert [(d.code, d.grade) for d in found] == [("depths_disagree", Grade.STRONG)]
    assert "SONDE" in found[0].remedy


def test_peak_beside_the_nulls_and_sonde_at_the_foot() -> None:
    beside = fix_from_marks((-0.7071, 0.0), (0.7071, 0.0), (0.0, 0.25))
    assert [d.code for d in sonde_doubts(beside)] == ["peak_beside_nulls"]
    foot = fix_from_marks((-0.1, 0.0), (0.1, 0.0), (0.0, 0.0), mark_sigma_m=0.005)
    assert "sonde_at_the_foot" in [d.code for d in sonde_doubts(foot, antenna_height_m=0.05)]


def test_steep_sonde_is_noted() -> None:
    from locates.ground.sonde import null_offsets, peak_offset

    rear, front = null_offsets(28.0)
    fix = fix_from_marks((rear, 0.0), (front, 0.0), (peak_offset(28.0), 0.0), mark_sigma_m=0.005)
    assert [(d.code, d.grade) for d in sonde_doubts(fix)] == [("sonde_steep", Grade.NOTE)]
