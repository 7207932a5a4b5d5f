"""Do two traces tell of the same line? Against plain geometry."""

from __future__ import annotations

import pytest

from locates.ground.agreement import WIDEST_M, agreement
from locates.ground.refusal import GroundError
from locates.ground.trace import Trace, TracePoint, fit_trace


def straight(y_m: float, x_from: float = 0.0, tilt: float = 0.0, sigma_m: float = 0.05) -> Trace:
    """Eleven marks 2 m apart running east."""
    return fit_trace([TracePoint(x_from + 2.0 * i, y_m + tilt * i, 1.0, sigma_m) for i in range(11)])


def test_parallel_lines_are_as_far_apart_as_they_are() -> None:
    found = agreement(straight(0.0), straight(0.05))
    assert found.widest_m == pytest.approx(0.05, abs=1e-6)
    assert found.shared_m == pytest.approx(20.0, abs=0.6)
    assert found.agrees


def test_a_yard_apart_is_another_line() -> None:
    assert not agreement(straight(0.0), straight(0.9)).agrees


def test_poor_positions_agree_with_nothing_far_away() -> None:
    """Bands of many metres would cover anything: the limit is half a metre."""
    found = agreement(straight(0.0, sigma_m=3.0), straight(0.8, sigma_m=3.0))
    assert (found.allowed_m, found.agrees) == (WIDEST_M, False)


def test_only_the_stretch_beside_each_other_counts() -> None:
    found = agreement(straight(0.0), straight(0.02, x_from=10.0))
    assert found.shared_m == pytest.approx(10.0, abs=0.6)


def test_lines_that_cross_or_lie_elsewhere_are_not_compared() -> None:
    north = fit_trace([TracePoint(10.0, -10.0 + 2.0 * i, 1.0, 0.05) for i in range(11)])
    for other in (straight(0.0, x_from=100.0), straight(50.0)):
        with pytest.raises(GroundError) as caught:
            agreement(straight(0.0), other)
        assert caught.value.code == "runs_do_not_meet"
    crossing = agreement(straight(0.0), north)
    assert not crossing.agrees
