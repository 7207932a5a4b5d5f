from __future__ import annotations

from locates import cautions


def test_general_cautions_come_first_and_every_code_once() -> None:
    found = cautions.for_site("24 in each side of a mark.")
    assert found[:2] == cautions.EVERY_PAGE
    codes = [caution.code for caution in found]
    assert len(codes) == len(set(codes))
    assert "24 in each side of a mark." in [c.words for c in found]


def test_an_unknown_zone_makes_the_whole_area_the_zone() -> None:
    words = {c.code: c.words for c in cautions.for_site()}
    assert "whole dig area" in words["tolerance_zone"]


def test_the_words_that_must_never_be_missing() -> None:
    everything = " ".join(c.words for c in cautions.for_site())
    for wanted in (
        "computed aid",
        "notification centre",
        "prevail",
        "Local codes",
        "hand",
        "never clear",
        "leave the area",
        "911",
    ):
        assert wanted in everything
