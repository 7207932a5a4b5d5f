"""The loader: every file of the law loads; every fault is refused by file, key and remedy."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from locates.law.days import FEDERAL, holiday_table
from locates.law.load import UnknownJurisdiction, codes, jurisdiction, load
from locates.law.reader import RuleFileError
from locates.law.rule import Tier
from locates.law.workdays import zone_days

BROKEN = Path(__file__).parents[3] / "fixtures" / "law" / "broken"
FAULTS = sorted(p.name for p in BROKEN.iterdir() if p.is_dir() and p.name != "_whole")
NAMED = (
    "AK AL AR AZ CA CO CT DC DE FL GA HI IA ID IL IN KS KY LA MA MD ME MI MN MO MS MT NC ND NE NH NJ NM NV NY OH "
    "OK OR PA RI SC SD TN TX UT VA VT WA WI WV WY"
)
STATES = NAMED.split()


def test_the_fifty_states_and_the_district_are_on_file():
    assert list(codes()) == STATES
    assert len(STATES) == 51


@pytest.mark.parametrize("code", STATES)
def test_a_jurisdiction_loads_and_rests_on_dated_sources(code):
    law = jurisdiction(code)
    for zone in law.time_zones:
        zone_days(zone)
    assert all(source.read_on <= date(2026, 11, 25) or source.read_on.year > 2026 for source in law.sources)
    assert any(source.tier.rank <= law.evidence.rank for source in law.sources)
    latest = law.versions[-1]
    assert latest.evidence is law.evidence
    assert 18 <= latest.zone.inches_each_side <= 48
    # What a tier claims, a cited source of that tier or better must bear.
    for ground in grounds(latest):
        if ground.tier is not Tier.MEMORY:
            assert min(s.tier.rank for s in ground.cites) <= ground.tier.rank, (code, ground)


def grounds(version):
    parts = [
        version.wait, version.receipt, version.max_advance, version.validity, version.begin_work, version.lapse,
        version.renewal, version.answers, version.second_notice, version.zone, version.holidays,
        *version.special_notices, *version.duties.values(),
    ]  # fmt: skip
    return [part.ground for part in parts if part is not None]


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_named_with_file_key_and_remedy(fault):
    with pytest.raises(RuleFileError) as refusal:
        load(BROKEN / fault / "zz.toml")
    assert (BROKEN / fault / "says.txt").read_text().strip() in refusal.value.message
    assert refusal.value.message.startswith("zz.toml: ")
    assert refusal.value.remedy


def test_the_same_file_without_a_fault_loads():
    law = load(BROKEN / "_whole" / "zz.toml")
    assert law.versions[0].id == "ZZ@2020-01-01"
    assert len(law.digest) == 64


@pytest.mark.parametrize("code", ["ZZ", "", "VIRGINIA", "../us/va", "v1"])
def test_an_unknown_state_is_refused(code):
    with pytest.raises(UnknownJurisdiction, match="not a jurisdiction with a data file"):
        jurisdiction(code)


def test_every_federal_day_is_in_the_shared_table():
    assert set(FEDERAL) <= set(holiday_table().holidays)
