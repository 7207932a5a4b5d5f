"""What a trench takes, against 29 CFR 1926 Subpart P and worked examples.

Slopes: Appendix B, Table B-1 (ratios from reprints): angles 53.1301, 45, 33.6901, 63.4349 degrees; set-back at
8 ft: 6, 8, 12 and 4 ft. Worked slope: a trench 6 ft deep, 2 ft wide below and 20 ft above is sloped 1 1/2 to 1
(ieeeglobalspec.com/road-machinery/how-do-you-calculate-slope-of-excavation.html). Worked haul: 1,000 bank
cubic yards of dense clay at 30 % swell in 7 cubic yard trucks are 186 loads (an estimating text, example 9-2,
issuhub.com/view/index?id=4050&pageIndex=80).
"""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from locates.ground.lengths import CUBIC_YARD_M3, FOOT_M, INCH_M
from locates.ground.refusal import GroundError
from locates.ground.trench import (
    Hauling,
    Protection,
    Soil,
    TrenchAsk,
    ladder_count,
    pile_width_m,
    plan_trench,
    truck_loads,
)


def _ask(depth_ft: float, soil: Soil = Soil.B, **more: object) -> TrenchAsk:
    given_fields: dict[str, object] = {"disturbed": False} | more
    return TrenchAsk(depth_ft * FOOT_M, 2 * FOOT_M, 40 * FOOT_M, soil, **given_fields)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("soil", "more", "angle", "set_back_ft"),
    [
        (Soil.A, {}, 53.1301, 6.0),
        (Soil.A, {"open_hours": 24.0}, 63.4349, 4.0),
        (Soil.B, {}, 45.0, 8.0),
        (Soil.C, {}, 33.6901, 12.0),
        (Soil.UNKNOWN, {}, 33.6901, 12.0),
        (Soil.ROCK, {}, 90.0, 0.0),
    ],
)
def test_slope_table_at_8_feet(soil: Soil, more: dict[str, object], angle: float, set_back_ft: float) -> None:
    plan = plan_trench(_ask(8.0, soil, **more))
    assert plan.angle_deg == pytest.approx(angle, abs=1e-4)
    assert plan.set_back_each_side_m == pytest.approx(set_back_ft * FOOT_M)
    assert plan.top_width_m == pytest.approx((2 + 2 * set_back_ft) * FOOT_M)


def test_published_slope_of_a_6_foot_trench() -> None:
    plan = plan_trench(_ask(6.0, Soil.C))
    assert plan.top_width_m == pytest.approx(20 * FOOT_M)
    assert plan.slope == 1.5


def test_published_haul() -> None:
    assert truck_loads(1000 * CUBIC_YARD_M3, 0.30, 7 * CUBIC_YARD_M3) == 186


@pytest.mark.parametrize(
    ("depth_ft", "hours", "slope"),
    [(12.0, 24.0, 0.5), (12.01, 24.0, 0.75), (12.0, 24.5, 0.75), (12.0, None, 0.75), (20.0, None, 0.75)],
)
def test_short_term_type_a_is_bounded(depth_ft: float, hours: float | None, slope: float) -> None:
    assert plan_trench(_ask(depth_ft, Soil.A, open_hours=hours)).slope == slope


@pytest.mark.parametrize(
    ("depth_ft", "more", "expected"),
    [
        (4.99, {"no_cave_in_sign": True}, Protection.NOT_REQUIRED),
        (4.99, {"no_cave_in_sign": None}, Protection.DECIDE),
        (4.99, {"no_cave_in_sign": False}, Protection.REQUIRED),
        (3.0, {"no_cave_in_sign": True, "water_or_seepage": True}, Protection.REQUIRED),
        (5.0, {"no_cave_in_sign": True}, Protection.REQUIRED),
        (20.0, {}, Protection.REQUIRED),
        (20.01, {}, Protection.ENGINEER),
    ],
)
def test_protective_system(depth_ft: float, more: dict[str, object], expected: Protection) -> None:
    plan = plan_trench(_ask(depth_ft, **more))
    assert plan.protection is expected
    assert any("1926.652" in r for r in plan.reasons)
    assert any("competent person" in c for c in plan.cautions)


def test_five_feet_typed_in_inches_is_five_feet() -> None:
    ask = TrenchAsk(60 * INCH_M, 0.6, 10.0, Soil.B, no_cave_in_sign=True)
    assert plan_trench(ask).protection is Protection.REQUIRED


def test_stable_rock_needs_none_at_any_depth() -> None:
    plan = plan_trench(_ask(25.0, Soil.ROCK))
    assert plan.protection is Protection.NOT_REQUIRED
    assert plan.set_back_each_side_m == 0.0


@pytest.mark.parametrize(
    ("soil", "more", "used"),
    [
        (Soil.A, {"disturbed": True}, Soil.B),
        (Soil.A, {"disturbed": False}, Soil.A),
        (Soil.A, {"disturbed": False, "water_or_seepage": True}, Soil.C),
        (Soil.B, {"water_or_seepage": True}, Soil.C),
        (Soil.B, {"disturbed": True}, Soil.B),
        (Soil.UNKNOWN, {}, Soil.UNKNOWN),
    ],
)
def test_soil_over_an_old_trench_is_never_type_a(soil: Soil, more: dict[str, object], used: Soil) -> None:
    assert plan_trench(_ask(6.0, soil, **more)).soil_used is used


def test_disturbed_unless_said_otherwise() -> None:
    assert plan_trench(TrenchAsk(1.8, 0.6, 10.0, Soil.A)).soil_used is Soil.B


def test_past_20_feet_there_is_no_slope_of_ours() -> None:
    plan = plan_trench(_ask(21.0))
    assert plan.slope is None
    assert plan.top_width_m is None
    assert plan.truck_loads is None


def test_quantities_by_hand() -> None:
    """8 ft deep, 2 ft below, type B, 40 ft long: 8 x (2 + 8) = 80 sq ft, 3,200 cu ft, 118.52 cu yd."""
    plan = plan_trench(_ask(8.0), Hauling(10 * CUBIC_YARD_M3, 0.25))
    assert plan.section_m2 == pytest.approx(80 * FOOT_M**2)
    assert plan.bank_m3 == pytest.approx(3200 / 27 * CUBIC_YARD_M3)
    assert plan.loose_m3 == pytest.approx(1.25 * 3200 / 27 * CUBIC_YARD_M3)
    assert plan.truck_loads == 15  # 148.15 cu yd in tens
    assert plan.shielded_bank_m3 == pytest.approx(640 / 27 * CUBIC_YARD_M3)
    assert plan.shielded_truck_loads == 3
    assert plan.spoil_set_back_m == pytest.approx(2 * FOOT_M)


@pytest.mark.parametrize(
    ("depth_ft", "length_ft", "count"), [(3.9, 40, 0), (4.0, 40, 1), (8.0, 50, 1), (8.0, 51, 2), (8.0, 160, 4)]
)
def test_ladders_within_25_feet(depth_ft: float, length_ft: float, count: int) -> None:
    assert ladder_count(depth_ft * FOOT_M, length_ft * FOOT_M) == count


def test_pile_holds_the_spoil() -> None:
    width = pile_width_m(3.0)
    height = 0.5 * width * 0.66691  # tan 33.7 degrees
    assert 0.5 * width * height == pytest.approx(3.0, rel=1e-3)


@given(
    st.floats(0.3, 6.0),
    st.floats(0.3, 3.0),
    st.floats(1.0, 100.0),
    st.sampled_from(list(Soil)),
    st.booleans(),
    st.booleans(),
)
def test_worse_ground_never_asks_for_less(
    depth: float, width: float, length: float, soil: Soil, disturbed: bool, wet: bool
) -> None:
    assume(soil is not Soil.ROCK)
    plan = plan_trench(TrenchAsk(depth, width, length, soil, None, disturbed, True, wet))
    worse = plan_trench(TrenchAsk(depth, width, length, Soil.C, None, True, False, True))
    assert plan.top_width_m is not None
    assert worse.top_width_m is not None
    assert width < plan.top_width_m <= worse.top_width_m
    order = list(Protection)
    assert order.index(plan.protection) <= order.index(worse.protection)
    if depth >= 5 * FOOT_M:
        assert plan.protection in (Protection.REQUIRED, Protection.ENGINEER)


@pytest.mark.parametrize("field", ["depth_m", "bottom_width_m", "length_m"])
def test_sizes_must_be_above_zero(field: str) -> None:
    sizes = {"depth_m": 1.0, "bottom_width_m": 0.6, "length_m": 10.0} | {field: 0.0}
    with pytest.raises(GroundError, match=field):
        TrenchAsk(**sizes)
