"""Facts of the log in words."""

from __future__ import annotations

from tests.factories import square
from tickets.pages.payload import Fact, facts_of_payload
from tickets.pages.words import kind_words, local_words, sentence, swatch_of, texture_of, tier_words
from tickets.states import State

ZONE = "America/New_York"


def test_a_payload_becomes_lines() -> None:
    payload = {
        "ticket": "N1",
        "received_at": "2026-09-08T14:00:00.000000+00:00",
        "planned_depth_m": 1.2192,
        "may_dig": False,
        "outcome": "no_facilities",
        "result_words": "Cable to the shed.\nDrain to the kerb.",
        "area": square(),
        "site": {"state": "VA", "county": ""},
        "operators": [{"name": "Ridge Power", "utility": "power"}, {"name": "Fernbank Gas", "utility": "gas"}],
        "reasons": [{"kind": "wait", "words": "The wait runs.", "citation": "Example Code 1-2", "blocks": True}],
        "notes": [{"words": "Lines located, 2 findings:", "citation": "", "items": ["Cable.", "Drain."]}],
        "tickets": ["N1", "N2"],
        "would_change": ["Call it.", "The end of the wait."],
        "verdict_digest": "ab" * 32,
        "reason": "",
        "holds_until": None,
    }
    assert facts_of_payload(payload, ZONE) == [
        Fact("ticket", "N1"),
        Fact("received at", "Tue 8 Sep, 10:00 AM EDT"),
        Fact("planned depth", "4 ft"),
        Fact("may dig", "no"),
        Fact("outcome", "no facilities"),
        Fact("result words", "2", ("Cable to the shed.", "Drain to the kerb.")),
        Fact("area", "an area of 5 points, from 37.400000, -77.620000"),
        Fact("site, state", "VA"),
        Fact("operators", "2", ("Ridge Power, power", "Fernbank Gas, gas")),
        Fact("reasons", "1", ("The wait runs. (Example Code 1-2)",)),
        Fact("notes", "3", ("Lines located, 2 findings:", "Cable.", "Drain.")),
        Fact("tickets", "N1; N2"),
        Fact("would change", "Call it. The end of the wait."),
        Fact("verdict digest", "abababababab…"),
    ]


def test_what_is_no_payload_has_no_facts() -> None:
    assert facts_of_payload(["x"], ZONE) == []


def test_every_state_has_a_texture_and_only_clear_ones_are_solid() -> None:
    textures = {state: texture_of(state) for state in State}
    assert {state for state, texture in textures.items() if texture in {"open", "closing"}} == {
        State.CLEAR,
        State.CLOSING,
    }
    assert texture_of("no such state") == "unknown"


def test_words() -> None:
    assert kind_words("answer_recorded") == "Answer recorded"
    assert swatch_of("gas") == "gas"
    assert swatch_of("<script>") == "unknown"
    assert tier_words("memory") == "from memory, no text read"
    assert tier_words("") == "evidence not known"
    assert sentence("fill this in") == "Fill this in."
    said = local_words("2026-09-16T14:00:00+00:00 lies before now (2026-09-16T15:00:00.5Z).", ZONE)
    assert said == "Wed 16 Sep, 10:00 AM EDT lies before now (Wed 16 Sep, 11:00 AM EDT)."
