"""Quality level by method and evidence: what an unsealed private locate may claim, and what each level takes.

Levels: ASCE/UESI/CI 38-22 (D and C from a reprint of the definitions, B and A from a practitioner's page on
the committee draft); PAS 128 from surveyors' pages. Figures of A: 0.1 ft vertical, 0.2 ft horizontal.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from locates.ground.doubt import Grade
from locates.ground.quality import (
    GEOPHYSICS,
    Evidence,
    Method,
    PasLevel,
    QualityLevel,
    decide,
    segments,
)
from locates.ground.refusal import GroundError

RECORDS = Evidence(frozenset({Method.RECORDS}))
FEATURES = Evidence(frozenset({Method.RECORDS}), features_surveyed=True)
FOUND = Evidence(frozenset({Method.DIRECT}), surveyed=True, interpreted=True, depth_read=True)
HOLE = Evidence(
    frozenset({Method.EXPOSED, Method.DIRECT}),
    surveyed=True,
    interpreted=True,
    target_verified=True,
    exposed_vertical_m=0.02,
    exposed_horizontal_m=0.05,
)


@pytest.mark.parametrize(
    ("evidence", "supports"),
    [
        (RECORDS, QualityLevel.D),
        (Evidence(frozenset({Method.PAINT})), QualityLevel.D),
        (Evidence(frozenset({Method.SAID}), features_surveyed=True), QualityLevel.D),
        (FEATURES, QualityLevel.C),
        (FOUND, QualityLevel.B),
        (replace(FOUND, surveyed=False), QualityLevel.D),
        (replace(FOUND, interpreted=False), QualityLevel.D),
        (replace(FOUND, worst_doubt=Grade.DOUBT), QualityLevel.D),
        (replace(FOUND, worst_doubt=Grade.NOTE), QualityLevel.B),
        (replace(FOUND, interpreted=False, methods=FOUND.methods | {Method.RECORDS}, features_surveyed=True), "C"),
        (HOLE, QualityLevel.A),
        (replace(HOLE, exposed_vertical_m=0.031), QualityLevel.B),
        (replace(HOLE, exposed_horizontal_m=0.062), QualityLevel.B),
        (replace(HOLE, exposed_vertical_m=0.03048, exposed_horizontal_m=0.06096), QualityLevel.A),
        (replace(HOLE, exposed_vertical_m=None), QualityLevel.B),
        (replace(HOLE, target_verified=False), QualityLevel.B),
        (replace(HOLE, surveyed=False), QualityLevel.D),
    ],
)
def test_level_that_the_evidence_bears(evidence: Evidence, supports: QualityLevel | str) -> None:
    assert decide(evidence).supports == supports


@given(
    st.frozensets(st.sampled_from(list(Method)), min_size=1),
    *[st.booleans()] * 6,
    st.sampled_from(["", "   "]),
)
def test_unsealed_is_level_d_whatever_it_rests_on(
    methods: frozenset[Method], a: bool, b: bool, c: bool, d: bool, e: bool, f: bool, seal: str
) -> None:
    found = decide(
        Evidence(methods, a, b, c, seal, d, 0.01 if e else None, 0.01 if e else None, f, methods_agree=True)
    )
    assert found.claim is QualityLevel.D
    assert found.tolerance is None
    assert "not a quality-level statement" in found.must_say[0]
    assert any("seals" in m for m in found.missing)


@given(st.frozensets(st.sampled_from(sorted(GEOPHYSICS)), min_size=1), *[st.booleans()] * 4)
def test_readings_alone_never_make_level_a(methods: frozenset[Method], a: bool, b: bool, c: bool, d: bool) -> None:
    """However good, sealed and agreed: without exposure there is no A."""
    found = decide(Evidence(methods, a, b, c, "P. E. Example", True, 0.01, 0.01, d, methods_agree=True))
    assert found.claim is not QualityLevel.A
    assert found.tolerance is None


def test_sealed_level_is_the_one_the_evidence_bears() -> None:
    sealed = decide(replace(FOUND, sealed_by="P. E. Example"))
    assert sealed.claim is QualityLevel.B
    assert sealed.tolerance is None  # ASCE 38 gives B no tolerance
    assert any("expose" in m for m in sealed.missing)
    exposed = decide(replace(HOLE, sealed_by="P. E. Example"))
    assert exposed.claim is QualityLevel.A
    assert exposed.tolerance is not None
    assert not exposed.missing


def test_what_must_be_said() -> None:
    said = " ".join(decide(replace(FOUND, methods=FOUND.methods | {Method.PASSIVE_POWER})).must_say)
    for words in (
        "does not make level A",
        "identify no owner",
        "never permits machine digging",
        "never clear to dig",
    ):
        assert words in said


@pytest.mark.parametrize(
    ("evidence", "level"),
    [
        (RECORDS, PasLevel.D),
        (FEATURES, PasLevel.C),
        (replace(FOUND, depth_read=False), PasLevel.B3),
        (FOUND, PasLevel.B2),
        (replace(FOUND, methods=frozenset({Method.DIRECT, Method.RADAR}), methods_agree=True), PasLevel.B1),
        (replace(FOUND, methods=frozenset({Method.DIRECT, Method.RADAR})), PasLevel.B2),
        (replace(FOUND, methods=frozenset({Method.PASSIVE_POWER})), PasLevel.B3),
        (replace(FOUND, worst_doubt=Grade.STRONG), PasLevel.B3),
        (HOLE, PasLevel.A),
    ],
)
def test_second_scale(evidence: Evidence, level: PasLevel) -> None:
    assert decide(evidence).pas is level


def test_hole_proves_its_own_length_only() -> None:
    found = segments((0.0, 10.0, 20.0), (HOLE, FOUND, HOLE), hole_half_length_m=0.5)
    assert [(s.from_m, s.to_m, s.quality.supports) for s in found] == [
        (0.0, 0.5, QualityLevel.A),
        (0.5, 19.5, QualityLevel.B),
        (19.5, 20.0, QualityLevel.A),
    ]


def test_between_two_points_the_lesser_counts_and_a_gap_is_level_d() -> None:
    found = segments((0.0, 3.0, 6.0, 30.0), (FOUND, FOUND, RECORDS, FOUND), gaps=((6.0, 30.0),))
    assert [(s.from_m, s.to_m, s.quality.supports) for s in found] == [
        (0.0, 3.0, QualityLevel.B),
        (3.0, 30.0, QualityLevel.D),
    ]
    gap_only = segments((0.0, 30.0), (FOUND, FOUND), gaps=((0.0, 30.0),))
    assert gap_only[0].quality.supports is QualityLevel.D


@pytest.mark.parametrize(
    ("chainages", "evidence", "code"),
    [
        ((0.0, 1.0), (FOUND,), "evidence_missing"),
        ((0.0,), (FOUND,), "evidence_missing"),
        ((1.0, 0.0), (FOUND, FOUND), "not_in_order"),
    ],
)
def test_lines_that_cannot_be_judged(chainages: tuple[float, ...], evidence: tuple[Evidence, ...], code: str) -> None:
    with pytest.raises(GroundError) as refusal:
        segments(chainages, evidence)
    assert refusal.value.code == code


def test_no_method_no_level() -> None:
    with pytest.raises(GroundError) as refusal:
        decide(Evidence(frozenset()))
    assert refusal.value.code == "method_missing"
