"""The widths are those of the texts that the law's data files cite beside them."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from crews.site_zone import site_zone

AT = datetime(2026, 9, 16, 14, tzinfo=UTC)


@pytest.mark.parametrize(
    ("state", "zone", "inches"),
    [
        ("VA", "America/New_York", 24),  # Va. Code 56-265.24 A: two feet on either side
        ("CO", "America/Denver", 18),  # the notification centre's page, as the data file cites it
    ],
)
def test_the_width_is_the_laws(state: str, zone: str, inches: int) -> None:
    found = site_zone(state, zone, AT)
    assert found is not None
    assert found.inches_each_side == inches
    assert found.words
    assert found.citation
    assert not found.unverified


def test_a_width_from_weak_evidence_says_so() -> None:
    found = site_zone("WA", "America/Los_Angeles", AT)  # the data file says: from memory, no text read
    assert found is not None
    assert found.unverified
    assert not found.citation


def test_a_place_or_time_without_a_rule_has_no_zone_rather_than_a_guess() -> None:
    assert site_zone("PR", "America/Puerto_Rico", AT) is None
    assert site_zone("VA", "America/New_York", datetime(1970, 1, 1, tzinfo=UTC)) is None
