"""The cases of the verdict, one by one: what it says, why, and when it changes by itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.tickets.verdict.sample_facts import (
    DAY,
    DIG,
    HOUR,
    NOW,
    answer,
    blocking,
    facts,
    operator,
    rule,
    square,
    ticket,
    with_ticket,
    words,
)
from tickets.states import LocateKind, State, TicketKind
from tickets.verdict import (
    UNVERIFIED,
    EmergencyFacts,
    Facts,
    Kind,
    LocalRuleFacts,
    LocateFacts,
    verdict,
)

SECOND = timedelta(seconds=1)


def test_the_sound_job_is_clear_with_grounds_and_citations() -> None:
    found = verdict(facts(), NOW)
    assert (found.state, found.may_dig) == (State.CLEAR, True)
    assert found.sentence == "Digging is lawful now under ticket T1 until Mon 28 Sep, 10:00 AM EDT."
    assert blocking(found) == set()
    cited = {reason.kind: reason.citation for reason in found.reasons}
    assert (cited[Kind.WAIT], cited[Kind.EXPIRY]) == ("Code § 1", "Code § 3")
    assert (found.opens_at, found.closes_at, found.tickets) == (NOW - HOUR, NOW + 12 * DAY, ("T1",))
    assert any("Code § 6" in caution for caution in found.cautions)  # the tolerance zone
    assert found.next_change_at == NOW + 7 * DAY  # two days before the last call to renew


def test_nothing_known_is_no() -> None:
    found = verdict(Facts(time_zone="America/New_York"), NOW)
    assert found.state is State.UNKNOWN
    assert blocking(found) == {Kind.AREA, Kind.PRIVATE_LINES, Kind.TICKET}
    assert found.next_change_at is None


def test_no_ticket() -> None:
    found = verdict(facts(tickets=()), NOW)
    assert (found.state, blocking(found)) == (State.UNKNOWN, {Kind.TICKET})
    assert found.would_change == ("Give notice to the notification centre.",)


def test_no_dig_area() -> None:
    found = verdict(facts(dig_areas=()), NOW)
    assert (found.state, found.may_dig) == (State.UNKNOWN, False)
    assert Kind.AREA in blocking(found)


def test_the_wait_runs_and_ends_at_its_instant() -> None:
    waiting = with_ticket(opens_at=NOW + HOUR)
    found = verdict(waiting, NOW)
    assert (found.state, blocking(found)) == (State.WAITING, {Kind.WAIT})
    assert found.reasons[0].citation == "Code § 1"
    assert found.sentence == "Do not dig: the wait of ticket T1 runs until Wed 16 Sep, 11:00 AM EDT."
    assert found.next_change_at == NOW + HOUR
    assert verdict(waiting, NOW + HOUR - SECOND).state is State.WAITING
    assert verdict(waiting, NOW + HOUR).state is State.CLEAR


def test_a_second_ticket_covers_the_area() -> None:
    other = ticket(number="T0", area=square(500, 0, 20))
    found = verdict(facts(tickets=(other, ticket())), NOW)
    assert (found.state, found.tickets) == (State.CLEAR, ("T1",))


def test_a_second_sound_ticket_takes_over_when_the_first_ends() -> None:
    both = facts(tickets=(ticket(), ticket(number="T2", closes_at=NOW + 20 * DAY, renew_by=NOW + 18 * DAY)))
    assert verdict(both, NOW).tickets == ("T2",)


def test_two_tickets_cover_the_ground_only_together() -> None:
    west, east = square(0, 0, 10), square(10, 0, 10)
    dig = square(6, 2, 7)
    pair = (ticket(number="W", area=west), ticket(number="E", area=east, closes_at=NOW + 5 * DAY, renew_by=None))
    found = verdict(facts(dig_areas=(dig,), tickets=pair), NOW)
    assert (found.state, found.closes_at) == (State.CLEAR, NOW + 5 * DAY)
    assert set(found.tickets) == {"W", "E"}
    alone = verdict(facts(dig_areas=(dig,), tickets=pair[:1]), NOW)
    assert (alone.state, blocking(alone)) == (State.STOP, {Kind.AREA})


def test_a_ticket_for_another_area() -> None:
    found = verdict(with_ticket(area=square(500, 0, 20)), NOW)
    assert (found.state, blocking(found)) == (State.STOP, {Kind.AREA})


def test_the_dig_area_sticks_out_and_the_metres_are_named() -> None:
    found = verdict(facts(dig_areas=(square(15, 5, 8),)), NOW)
    assert (found.state, blocking(found)) == (State.STOP, {Kind.AREA})
    assert "reaches 9 ft 11 in outside the area of ticket T1" in found.sentence


def test_a_dig_area_within_the_drawn_lines_thickness_is_covered() -> None:
    assert verdict(facts(dig_areas=(square(12.2, 5, 8),)), NOW).may_dig  # 0.2 m over
    assert not verdict(facts(dig_areas=(square(12.5, 5, 8),)), NOW).may_dig  # 0.5 m over


def test_one_of_two_dig_areas_sticks_out() -> None:
    assert verdict(facts(dig_areas=(DIG, square(100, 0, 5))), NOW).state is State.STOP


def test_a_ticket_without_a_drawn_area_covers_nothing_known() -> None:
    found = verdict(with_ticket(area=None), NOW)
    assert (found.state, blocking(found)) == (State.UNKNOWN, {Kind.AREA})


def test_a_broken_area_is_not_an_area() -> None:
    bow = {
        "type": "Polygon",
        "coordinates": [[[-77.4, 37.5], [-77.3999, 37.5001], [-77.3999, 37.5], [-77.4, 37.5001], [-77.4, 37.5]]],
    }
    assert verdict(with_ticket(area=bow), NOW).state is State.UNKNOWN
    assert verdict(facts(dig_areas=(bow,)), NOW).state is State.UNKNOWN


def test_an_expired_ticket() -> None:
    found = verdict(with_ticket(closes_at=NOW, renew_by=NOW - 3 * DAY), NOW)
    assert (found.state, blocking(found)) == (State.EXPIRED, {Kind.EXPIRY})
    assert found.reasons[0].citation == "Code § 3"
    assert found.next_change_at is None


def test_an_expired_ticket_under_renewal_waits_for_the_renewal() -> None:
    old = ticket(closes_at=NOW - HOUR, renew_by=NOW - 3 * DAY)
    new = ticket(number="T2", kind=TicketKind.RENEWAL, renews="T1", received_at=NOW - DAY, opens_at=NOW + DAY)
    new = replace(new, operators=(operator("Fernbank Gas", answer(at=NOW - HOUR)),))
    found = verdict(facts(tickets=(old, new)), NOW)
    assert (found.state, found.tickets) == (State.WAITING, ("T2",))
    assert "Ticket T1 ended" in words(found)
    assert found.next_change_at == NOW + DAY
    assert verdict(facts(tickets=(old, new)), NOW + DAY).state is State.CLEAR


def test_a_renewal_still_waits_while_the_old_ticket_lives() -> None:
    old = ticket(closes_at=NOW + DAY, renew_by=NOW - DAY)
    new = ticket(number="T2", kind=TicketKind.RENEWAL, renews="T1", received_at=NOW - DAY, opens_at=NOW + DAY)
    both = facts(tickets=(old, new))
    found = verdict(both, NOW)
    assert (found.state, found.tickets) == (State.CLEAR, ("T1",))  # not closing: the renewal takes over in time
    late = facts(tickets=(old, replace(new, opens_at=NOW + 2 * DAY)))
    assert verdict(late, NOW).state is State.CLOSING
    assert verdict(late, NOW + DAY).state is State.WAITING


def test_closing_soon_says_renew_and_by_when() -> None:
    soon = with_ticket(closes_at=NOW + 2 * DAY, renew_by=NOW + DAY)
    found = verdict(soon, NOW)
    assert (found.state, found.may_dig) == (State.CLOSING, True)
    assert found.would_change == ("Renew with the notification centre by Thu 17 Sep, 10:00 AM EDT.",)
    assert found.next_change_at == NOW + DAY
    late = verdict(soon, NOW + DAY)
    assert late.state is State.CLOSING
    assert "now means a stop" in late.would_change[0]


def test_work_had_to_begin_by_then() -> None:
    late = with_ticket(start_by=NOW - HOUR, closes_at=NOW - HOUR)
    found = verdict(late, NOW)
    assert (found.state, found.reasons[0].citation) == (State.EXPIRED, "Code § 4")
    begun = with_ticket(start_by=NOW - HOUR, work_begun_at=NOW - HOUR / 2 * 3)
    assert verdict(begun, NOW - 0 * HOUR).state is State.CLEAR


def test_the_ticket_lapses_when_work_stands_still() -> None:
    still = with_ticket(work_begun_at=NOW - 20 * DAY, lapses_at=NOW + 3 * DAY)
    found = verdict(still, NOW)
    assert (found.state, found.closes_at) == (State.CLEAR, NOW + 3 * DAY)
    gone = verdict(still, NOW + 3 * DAY)
    assert (gone.state, gone.reasons[0].citation) == (State.EXPIRED, "Code § 5")


def test_a_cancelled_ticket() -> None:
    found = verdict(with_ticket(cancelled_at=NOW - HOUR), NOW)
    assert (found.state, blocking(found)) == (State.STOP, {Kind.TICKET})
    ahead = with_ticket(cancelled_at=NOW + HOUR)
    assert verdict(ahead, NOW).next_change_at == NOW + HOUR


def test_received_in_the_future() -> None:
    found = verdict(with_ticket(received_at=NOW + HOUR), NOW)
    assert found.state is State.UNKNOWN
    assert "in the future" in words(found)


def test_no_operators_named() -> None:
    found = verdict(with_ticket(operators=()), NOW)
    assert (found.state, blocking(found)) == (State.UNKNOWN, {Kind.ANSWER})
    lenient = with_ticket(operators=(), rule=rule(all_must_answer=False))
    assert verdict(lenient, NOW).state is State.UNKNOWN


def test_the_centres_other_words_are_passed_on_to_ask_about() -> None:
    told = with_ticket(warnings=("The start printed differs from the computed one: ask the notification centre.",))
    found = verdict(told, NOW)
    assert found.state is State.CLEAR
    assert [r.kind for r in found.reasons if "printed differs" in r.words] == [Kind.ASK_CENTRE]


def test_an_expiry_that_is_not_known_where_the_law_sets_one() -> None:
    assert verdict(with_ticket(closes_at=None), NOW).state is State.UNKNOWN
    endless = with_ticket(closes_at=None, renew_by=None, renew_from=None, rule=rule(fixed_life=False))
    found = verdict(endless, NOW)
    assert (found.state, found.closes_at, found.next_change_at) == (State.CLEAR, None, None)


def test_a_window_that_could_not_be_computed() -> None:
    for changes in ({"opens_at": None}, {"rule": None}):
        assert verdict(with_ticket(**changes), NOW).state is State.UNKNOWN


def test_weak_evidence_is_flagged_wherever_the_result_is_shown() -> None:
    found = verdict(with_ticket(rule=rule(verified=False)), NOW)
    assert (found.state, found.unverified) == (State.CLEAR, True)
    assert any(caution.lower().startswith(UNVERIFIED) for caution in found.cautions)
    assert not verdict(facts(), NOW).unverified


def test_a_local_rule_must_be_confirmed() -> None:
    permit = LocalRuleFacts("Street opening permit", "A permit is in hand.", "Town code 12-3")
    found = verdict(facts(local_rules=(permit,)), NOW)
    assert (found.state, blocking(found)) == (State.UNKNOWN, {Kind.LOCAL_RULE})
    assert found.reasons[0].citation == "Town code 12-3"
    assert verdict(facts(local_rules=(replace(permit, confirmed_at=NOW),)), NOW).state is State.CLEAR


def test_private_lines_without_locate_or_waiver() -> None:
    found = verdict(facts(locates=()), NOW)
    assert (found.state, blocking(found)) == (State.UNKNOWN, {Kind.PRIVATE_LINES})
    waived = (LocateFacts(LocateKind.WAIVED, NOW, "Robin Example", "Open field, owner confirms none"),)
    assert verdict(facts(locates=waived), NOW).state is State.CLEAR
    assert verdict(facts(locates=(), private_lines_likely=False), NOW).state is State.CLEAR
    assert verdict(facts(locates=(), private_lines_likely=None), NOW).state is State.UNKNOWN


def test_a_closed_job() -> None:
    assert verdict(facts(closed_at=NOW), NOW).state is State.STOP


EMERGENCY = EmergencyFacts("Sewage rising into a cellar", "Robin Example", NOW - HOUR)


def test_an_emergency_has_its_own_state_with_reason_name_and_duties() -> None:
    found = verdict(facts(tickets=(), emergencies=(EMERGENCY,)), NOW)
    assert (found.state, found.may_dig) == (State.EMERGENCY, False)
    assert "declared by Robin Example" in found.sentence
    assert "Sewage rising into a cellar" in words(found)
    assert [duty for duty in found.would_change if "notification centre" in duty]
    assert [duty for duty in found.would_change if "operators" in duty]
    assert "911" in " ".join(found.cautions)
    assert "hand or vacuum" in " ".join(found.cautions)


def test_duties_done_are_told_and_the_rest_remain() -> None:
    told = replace(EMERGENCY, centre_told_at=NOW - HOUR / 2)
    found = verdict(facts(emergencies=(told,)), NOW)
    assert not [duty for duty in found.would_change if "notification centre" in duty]
    assert "Told the notification centre" in words(found)
    assert "Tell the centre as soon as practicable." in words(found)  # the law's own duty, with its citation


def test_an_emergency_without_a_reason_or_a_name_is_none() -> None:
    for broken in (replace(EMERGENCY, reason=" "), replace(EMERGENCY, declared_by="")):
        assert verdict(facts(tickets=(), emergencies=(broken,)), NOW).state is State.UNKNOWN


def test_a_closed_emergency_leaves_the_ordinary_verdict() -> None:
    over = replace(EMERGENCY, closed_at=NOW)
    assert verdict(facts(emergencies=(over,)), NOW - SECOND).state is State.EMERGENCY
    assert verdict(facts(emergencies=(over,)), NOW).state is State.CLEAR


def test_an_emergency_ticket_alone_clears_nothing() -> None:
    found = verdict(with_ticket(kind=TicketKind.EMERGENCY), NOW)
    assert found.state is State.UNKNOWN
    assert "emergency ticket only" in found.sentence


def test_a_naive_instant_is_refused() -> None:
    with pytest.raises(ValueError, match="aware"):
        verdict(facts(), NOW.replace(tzinfo=None))


def test_the_json_holds_plain_values() -> None:
    told = verdict(facts(), NOW).as_json()
    assert told["state"] == "clear"
    assert told["closes_at"] == "2026-09-28T14:00:00+00:00"
