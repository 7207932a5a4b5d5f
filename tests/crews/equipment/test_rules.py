"""The care rules' file: what is on file, and each way in which a file is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from crews.equipment.care import Care
from crews.equipment.rules import RuleFileError, load_rules, parse_rules
from crews.models import EquipmentKind

FILE = Path(__file__).resolve().parents[3] / "fixtures" / "equipment" / "care.toml"
GOOD: dict[str, Any] = {
    "key": "calibration",
    "kinds": ["receiver"],
    "care": "calibration",
    "title": "Bench",
    "every_months": 12,
    "source": "Common practice, no source",
}


def test_every_rule_on_file_is_of_a_known_kind_and_names_its_source() -> None:
    rules = load_rules(FILE)
    assert set(rules) <= set(EquipmentKind.values)
    for kind, found in rules.items():
        for rule in found:
            # A citation names the standard by number; anything else must own up.
            assert not rule.cited or any(mark in rule.source for mark in ("CFR", "SHIB")), (kind, rule.key)
    assert any(rule.cited for found in rules.values() for rule in found)
    assert not all(rule.cited for found in rules.values() for rule in found)


def test_gloves_slings_and_monitors_hold_what_the_regulations_set() -> None:
    rules = load_rules(FILE)
    gloves = next(r for r in rules["insulated_gloves"] if r.care is Care.ELECTRICAL_TEST)
    # 29 CFR 1910.137(c)(2)(viii), Table I-5 and footnote 1.
    assert (gloves.interval.months, gloves.shelf_months, gloves.before_first_use) == (6, 12, True)
    # 29 CFR 1926.251(a)(6): slings each day before use.
    assert any(r.interval.each_day_of_use and r.stops for r in rules["sling"])
    assert any(r.care is Care.BUMP_TEST and r.interval.each_day_of_use for r in rules["gas_monitor"])


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"key": ""}, "key is missing"),
        ({"source": ""}, "source is missing"),
        ({"care": "polish"}, "care 'polish' is not known"),
        ({"every_months": 0}, "cannot be an interval"),
        ({"every_months": "12"}, "rule 1"),
        ({"colour": "red"}, "colour is not known"),
        ({"tolerance": {"absolute": 1}}, "a tolerance holds"),
        ({"kinds": ["receiver", "receiver"]}, "has a rule calibration already"),
    ],
)
def test_each_fault_names_file_rule_and_remedy(wrong: dict[str, Any], words: str) -> None:
    with pytest.raises(RuleFileError, match=r"care\.toml, rule 1") as refused:
        parse_rules({"rule": [GOOD | wrong]}, "care.toml")
    assert words in refused.value.message


def test_an_empty_or_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RuleFileError, match="no \\[\\[rule\\]\\]"):
        parse_rules({}, "care.toml")
    with pytest.raises(RuleFileError, match="cannot be read"):
        load_rules(tmp_path / "none.toml")
