"""Method and frequency: order of choice, what the crew's own set can make, and 47 CFR 15.213.

The order (direct, clamp, induction, passive; lowest usable frequency) is common practice, no source. The
section's limits: 9 to 490 kHz, 10 W peak below 45 kHz, 1 W from 45 kHz (read).
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from locates.ground.method import COMMON_PRACTICE, TABLE, Access, Target, advise, allowed_output_w
from locates.ground.quality import Method
from locates.ground.refusal import GroundError


def _methods(target: Target, *access: Access, **more: object) -> list[Method]:
    return [a.method for a in advise(target, access, **more)]  # type: ignore[arg-type]


def test_direct_before_clamp_before_induction_before_passive() -> None:
    found = _methods(Target.METAL_PIPE, Access.TERMINAL)
    order = [Method.DIRECT, Method.CLAMP, Method.INDUCTION, Method.PASSIVE_POWER]
    assert [found.index(m) for m in order] == sorted(found.index(m) for m in order)
    assert found[0] is Method.DIRECT


def test_never_connect_to_a_power_cable() -> None:
    assert Method.DIRECT not in _methods(Target.POWER_CABLE, Access.TERMINAL, Access.CABLE)
    clamp = next(a for a in advise(Target.POWER_CABLE, [Access.CABLE]) if a.method is Method.CLAMP)
    assert any("qualified person" in c for c in clamp.cautions)


def test_plastic_pipe_takes_what_is_pushed_in() -> None:
    """A pushed cable traces the whole run at once; a sonde takes a mark every 10 ft (common practice)."""
    found = advise(Target.PLAIN_PIPE, [Access.OPEN_END])
    assert [a.method for a in found[:2]] == [Method.DIRECT, Method.SONDE]
    assert any(b.low_hz == 512 for b in found[1].bands)
    closed = _methods(Target.PLAIN_PIPE, Access.NONE)
    assert Method.SONDE not in closed
    assert Method.INDUCTION not in closed
    assert closed[-1] is Method.EXPOSED


def test_crowded_ground_puts_low_bands_first_and_induction_last() -> None:
    found = advise(Target.METAL_PIPE, [Access.TERMINAL], crowded=True)
    assert found[-1].method is Method.INDUCTION
    for advice in found:
        lows = [b.low_hz for b in advice.bands]
        assert lows == sorted(lows)


def test_only_frequencies_that_the_crew_can_make() -> None:
    found = advise(Target.METAL_PIPE, [Access.TERMINAL], available_hz=[8192.0, 32768.0])
    direct = next(a for a in found if a.method is Method.DIRECT)
    assert [b.low_hz for b in direct.bands] == [8000.0]
    none = advise(Target.METAL_PIPE, [Access.TERMINAL], available_hz=[100.0])
    assert {a.method for a in none} == {Method.PASSIVE_POWER, Method.PASSIVE_RADIO}


@given(st.sampled_from(list(Target)), st.sets(st.sampled_from(list(Access)), min_size=1), st.booleans())
def test_there_is_always_something_to_try_and_silence_is_never_proof(
    target: Target, access: set[Access], crowded: bool
) -> None:
    found = advise(target, access, crowded)
    assert [a.rank for a in found] == list(range(1, len(found) + 1))
    assert all(a.source == COMMON_PRACTICE and a.what.endswith(".") and a.why.endswith(".") for a in found)
    assert any("never clear to dig" in c for a in found for c in a.cautions)


@pytest.mark.parametrize(
    ("frequency", "watts"), [(9_000, 10.0), (32_768, 10.0), (44_999, 10.0), (45_000, 1.0), (490_000, 1.0)]
)
def test_output_allowed(frequency: float, watts: float) -> None:
    assert allowed_output_w(frequency) == watts


@pytest.mark.parametrize("frequency", [512.0, 8_999.0, 490_001.0])
def test_frequencies_outside_the_section(frequency: float) -> None:
    with pytest.raises(GroundError) as refusal:
        allowed_output_w(frequency)
    assert refusal.value.code == "frequency_outside_rule"


def test_highest_band_is_held_to_one_watt() -> None:
    last = [a for a in advise(Target.METAL_PIPE, [Access.NONE]) if a.method is Method.INDUCTION][-1]
    assert last.allowed_w == 1.0


def test_nothing_reached_must_be_said() -> None:
    with pytest.raises(GroundError) as refusal:
        advise(Target.METAL_PIPE, [])
    assert refusal.value.code == "access_missing"


def test_every_row_of_the_table_can_be_reached() -> None:
    seen = {(a.method, a.what) for t in Target for x in Access for a in advise(t, [x])}
    assert {(r.method, r.what) for r in TABLE} == seen
