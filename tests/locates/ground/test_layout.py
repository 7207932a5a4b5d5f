"""Does the sloped trench fit the ticket's area? Areas by plane geometry done by hand."""

from __future__ import annotations

import pytest
from shapely import LineString, box

from locates.ground.layout import fit_in_area
from locates.ground.lengths import FOOT_M
from locates.ground.refusal import GroundError
from locates.ground.trench import Soil, TrenchAsk, TrenchPlan, plan_trench


def _plan(depth_ft: float) -> TrenchPlan:
    return plan_trench(TrenchAsk(depth_ft * FOOT_M, 2 * FOOT_M, 40 * FOOT_M, Soil.B))


CENTRE = LineString([(0, 0), (12, 0)])


def test_top_that_leaves_the_ticket_area_is_said_so() -> None:
    plan = _plan(8.0)  # 18 ft wide above, 5.49 m
    roomy = fit_in_area(CENTRE, plan, box(-10, -12, 22, 12))
    assert roomy.fits
    assert roomy.spoil_fits
    tight = fit_in_area(CENTRE, plan, box(-10, -2.5, 22, 2.5))
    assert not tight.fits
    assert tight.trench_outside.area == pytest.approx((12 + 16 * FOOT_M) * 2 * (9 * FOOT_M - 2.5), rel=1e-6)
    assert "notice" in tight.message


def test_sloped_ends_count_too() -> None:
    fit = fit_in_area(CENTRE, _plan(8.0), box(-1, -12, 13, 12))
    assert not fit.fits
    assert fit.trench_outside.area == pytest.approx(2 * (8 * FOOT_M - 1) * 18 * FOOT_M, rel=1e-6)


def test_spoil_goes_to_the_side_with_room() -> None:
    plan = _plan(6.0)
    left = fit_in_area(CENTRE, plan, box(-10, -3.0, 22, 20))
    right = fit_in_area(CENTRE, plan, box(-10, -20, 22, 3.0))
    assert (left.fits, left.spoil_fits, left.spoil_side) == (True, True, "left")
    assert (right.fits, right.spoil_fits, right.spoil_side) == (True, True, "right")
    none = fit_in_area(CENTRE, plan, box(-10, -3.0, 22, 3.0))
    assert (none.fits, none.spoil_fits) == (True, False)
    assert "haul it off" in none.message


def test_past_20_feet_there_is_nothing_to_lay_out() -> None:
    with pytest.raises(GroundError) as refusal:
        fit_in_area(CENTRE, _plan(21.0), box(-50, -50, 50, 50))
    assert refusal.value.code == "engineer_needed"
