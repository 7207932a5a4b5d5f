"""Positions resolve to the right state and clock.

The towns' coordinates are from memory of the Census Bureau's gazetteer files, given to a few hundred
metres; which state and zone each town lies in is common knowledge that the coordinates only illustrate.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from locates.place import Place, PositionError, resolve
from locates.place.resolve import STATES
from locates.place.zone import is_zone, same_clock

TOWNS_ON_A_STATE_LINE = [
    ("Bristol", "VA", 36.6110, -82.1700),
    ("Bristol", "TN", 36.5688, -82.1873),
    ("Texarkana", "TX", 33.4417, -94.0700),
    ("Texarkana", "AR", 33.4361, -93.9960),
    ("Kansas City", "KS", 39.1134, -94.7460),
    ("Kansas City", "MO", 39.1239, -94.5541),
    ("West Wendover", "NV", 40.7407, -114.0781),
    ("Wendover", "UT", 40.7365, -114.0270),
    ("South Lake Tahoe", "CA", 38.9393, -119.9828),
    ("Port Jervis", "NY", 41.3783, -74.6906),
    ("Matamoras", "PA", 41.3666, -74.7063),
    ("Wahpeton", "ND", 46.2688, -96.6087),
    ("Breckenridge", "MN", 46.2630, -96.5830),
    ("East Liverpool", "OH", 40.6326, -80.5693),
    ("Chester", "WV", 40.6127, -80.5615),
    ("Superior", "WI", 46.7208, -92.1041),
    ("Duluth", "MN", 46.7867, -92.1105),
    ("South Sioux City", "NE", 42.4650, -96.4142),
    ("Pineville", "NC", 35.0832, -80.8923),
    ("Fort Mill", "SC", 35.0074, -80.9451),
    ("Columbus", "GA", 32.4700, -84.9750),
    ("Phenix City", "AL", 32.4710, -85.0008),
    ("Washington", "DC", 38.9047, -77.0163),
    ("Arlington", "VA", 38.8783, -77.1007),
]
# Standard offset and daylight offset: zones of states that keep two, 49 CFR 71.5 to 71.9 (from memory).
TOWNS_IN_TWO_ZONE_STATES = [
    ("Pensacola FL", 30.4213, -87.2169, "America/Chicago"),
    ("Tallahassee FL", 30.4383, -84.2807, "America/New_York"),
    ("Nashville TN", 36.1627, -86.7816, "America/Chicago"),
    ("Knoxville TN", 35.9606, -83.9207, "America/New_York"),
    ("Paducah KY", 37.0834, -88.6000, "America/Chicago"),
    ("Lexington KY", 38.0406, -84.5037, "America/New_York"),
    ("Gary IN", 41.5934, -87.3464, "America/Chicago"),
    ("Fort Wayne IN", 41.0793, -85.1394, "America/New_York"),
    ("El Paso TX", 31.7619, -106.4850, "America/Denver"),
    ("Dallas TX", 32.7767, -96.7970, "America/Chicago"),
    ("Scottsbluff NE", 41.8666, -103.6672, "America/Denver"),
    ("Omaha NE", 41.2565, -95.9345, "America/Chicago"),
    ("Dickinson ND", 46.8792, -102.7896, "America/Denver"),
    ("Rapid City SD", 44.0805, -103.2310, "America/Denver"),
    ("Ontario OR", 44.0266, -116.9629, "America/Denver"),
    ("Coeur d'Alene ID", 47.6777, -116.7805, "America/Los_Angeles"),
    ("Phoenix AZ", 33.4484, -112.0740, "America/Phoenix"),
    ("Honolulu HI", 21.3069, -157.8583, "Pacific/Honolulu"),
    ("Anchorage AK", 61.2181, -149.9003, "America/Anchorage"),
]


@pytest.mark.parametrize(("town", "state_code", "lat", "lon"), TOWNS_ON_A_STATE_LINE)
def test_towns_on_a_state_line_get_their_own_state(town: str, state_code: str, lat: float, lon: float) -> None:
    assert resolve(lat, lon).state_code == state_code, town


@pytest.mark.parametrize(("town", "lat", "lon", "time_zone"), TOWNS_IN_TWO_ZONE_STATES)
def test_towns_get_the_clock_they_live_by(town: str, lat: float, lon: float, time_zone: str) -> None:
    found = resolve(lat, lon)
    assert same_clock(found.time_zone, time_zone), (town, found.time_zone)
    assert found.zone_doubt is None


def test_within_a_kilometre_of_a_state_line_a_person_is_asked() -> None:
    phenix_city = resolve(32.4710, -85.0008)
    assert phenix_city.near_state_line
    assert phenix_city.nearby_states == ("GA",)
    assert not resolve(32.3668, -86.3000).near_state_line  # Montgomery, far inside


def test_a_person_chooses_the_state_and_is_not_asked_again() -> None:
    chosen = resolve(32.4710, -85.0008, state_code="ga")
    assert (chosen.state_code, chosen.near_state_line) == ("GA", False)
    assert chosen.nearby_states == ("AL",)


def test_a_state_far_away_cannot_be_chosen() -> None:
    with pytest.raises(PositionError, match="lies in AL") as refusal:
        resolve(32.4710, -85.0008, state_code="TX")
    assert "state_code" in refusal.value.fields


def test_where_custom_and_law_differ_the_legal_zone_is_given_with_a_doubt() -> None:
    phenix_city = resolve(32.4710, -85.0008)
    assert phenix_city.time_zone == "America/Chicago"
    assert phenix_city.zone_doubt is not None
    assert "49 CFR 71.5" in phenix_city.zone_doubt
    assert "America/New_York" in phenix_city.zone_doubt


def test_a_chosen_zone_wins_and_ends_the_doubt() -> None:
    chosen = resolve(32.4710, -85.0008, time_zone="America/New_York")
    assert (chosen.time_zone, chosen.zone_doubt) == ("America/New_York", None)


def test_next_to_a_zone_line_the_zone_is_doubted() -> None:
    # The east end of the Apalachicola River's bridge at Chattahoochee, Florida; the zone line is the river.
    found = resolve(30.7060, -84.8550)
    assert found.zone_doubt is not None
    assert "Confirm the time zone" in found.zone_doubt


@pytest.mark.parametrize("name", ["Mars/Olympus", "", "../etc/passwd"])
def test_an_unknown_zone_is_refused_with_the_remedy(name: str) -> None:
    with pytest.raises(PositionError, match="America/Chicago"):
        resolve(32.4710, -85.0008, time_zone=name)


@pytest.mark.parametrize(
    ("lat", "lon", "words"),
    [
        (48.85, 2.35, "outside the United States"),
        (39.1, 94.5, "check the sign of the longitude"),
        (-94.5, 39.1, "between -90 and 90"),
        (39.1, 181.0, "between -180 and 180"),
        (float("nan"), -94.5, "between -90 and 90"),
        (18.40, -66.10, "Puerto Rico"),
        (13.45, 144.78, "Guam"),
        (43.6532, -79.3832, "outside the United States"),  # Toronto
        (32.5149, -117.0382, "outside the United States"),  # Tijuana
    ],
)
def test_a_position_elsewhere_is_refused_by_name(lat: float, lon: float, words: str) -> None:
    with pytest.raises(PositionError, match=words):
        resolve(lat, lon)


@given(st.floats(24.0, 50.0), st.floats(-125.0, -66.0))
def test_every_position_gives_a_known_state_and_zone_or_a_refusal(lat: float, lon: float) -> None:
    try:
        found = resolve(lat, lon)
    except PositionError as refused:
        if not refused.fields:
            pytest.fail("a refusal names no field")
        return
    assert isinstance(found, Place)
    assert found.state_code in STATES
    assert is_zone(found.time_zone)
    assert found.near_state_line or not found.nearby_states
